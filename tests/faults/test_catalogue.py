"""Every fault of the catalogue, each a case of its own, held to the same invariants."""

from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path

import pytest

from tests.faults import catalogue
from tests.faults.fault import WHOLE, Process
from tests.faults.play import play
from tests.faults.yard import Yard

ROWS = list(chain.from_iterable(catalogue.GROUPS.values()))
# Faults that last minutes of real time are played by `make faults` alone.
PLAYED = [row for row in ROWS if WHOLE or not (isinstance(row, Process) and row.heavy)]


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Yard]:
    with Yard(tmp_path_factory.mktemp("yard")) as made:
        yield made


@pytest.mark.parametrize("row", PLAYED, ids=[row.name for row in PLAYED])
def test_fault(
    row: catalogue.Row,
    tmp_path: Path,
    yard: Yard,
    record_property: Callable[[str, object], None],
) -> None:
    outcome = play(row, tmp_path, yard)
    record_property("did", outcome.did)
    record_property("told", ", ".join(outcome.told))


def test_every_fault_has_a_name_of_its_own() -> None:
    names = [row.name for row in ROWS]
    assert sorted(set(names)) == sorted(names)
