"""Every probe of the settings ends up in exactly one group."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Reading
from greenkeeper.probes.build import build_groups
from greenkeeper.settings.schema import Settings
from tests.support.w1tree import W1Tree

BENCH, RIDGE = "28-0316a2795a01", "28-031600aabb12"


class PretendHouse:
    """Stands for the modelled house's group."""

    blocking = False

    def __init__(self, *names: str) -> None:
        self.names = names

    def read(self) -> Mapping[str, Reading]:
        return {name: Reading(1000.0, 12.0) for name in self.names}

    def close(self) -> None:
        """It holds nothing."""


def settings(folder: Path, probes: dict[str, dict[str, Any]]) -> Settings:
    return Settings.model_validate(
        {
            "site": {"name": "orchard-house"},
            "probes": probes,
            "onewire": {"folder": str(folder)},
            "zones": {"bench": {"probes": [next(iter(probes))]}},
        }
    )


@pytest.fixture
def tree(tmp_path: Path) -> W1Tree:
    made = W1Tree(tmp_path / "devices")
    made.add(BENCH, 5.0)
    made.add(RIDGE, 6.0)
    return made


def test_every_kind_is_read_by_its_driver(tree: W1Tree, tmp_path: Path) -> None:
    script = tmp_path / "night.csv"
    script.write_text("seconds,temp_c\n0,-2\n")
    checked = settings(
        tree.folder,
        {
            "bench": {"kind": "onewire", "rom": BENCH},
            "ridge": {"kind": "onewire", "rom": RIDGE},
            "night": {"kind": "scripted", "file": str(script)},
            "outdoors": {"kind": "modelled", "place": "outdoors"},
        },
    )
    groups = build_groups(checked, HandClock(utc_s=0.0), PretendHouse("outdoors"))
    assert [group.names for group in groups] == [("bench", "ridge"), ("night",), ("outdoors",)]
    readings = {name: one for group in groups for name, one in group.read().items()}
    assert {name: one.temp_c for name, one in readings.items()} == {
        "bench": 5.0,
        "ridge": 6.0,
        "night": -2.0,
        "outdoors": 12.0,
    }


def test_probes_that_are_not_on_their_bus_are_no_error(tmp_path: Path) -> None:
    checked = settings(tmp_path / "none", {"bench": {"kind": "onewire", "rom": BENCH}})
    (group,) = build_groups(checked, HandClock(utc_s=0.0))
    assert group.read()["bench"].temp_c is None


@pytest.mark.parametrize("house", [None, PretendHouse("ridge")])
def test_modelled_probes_that_the_house_does_not_serve_are_refused(
    tmp_path: Path, house: PretendHouse | None
) -> None:
    checked = settings(tmp_path, {"bench": {"kind": "modelled", "place": "bench"}})
    with pytest.raises(GreenkeeperError, match="bench"):
        build_groups(checked, HandClock(utc_s=0.0), house)
