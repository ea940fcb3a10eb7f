"""Every fault of the catalogue, each a case of its own, held to the same invariants."""

from collections.abc import Callable
from itertools import chain
from pathlib import Path

import pytest

from tests.faults import catalogue
from tests.faults.play import play

ROWS = list(chain.from_iterable(catalogue.GROUPS.values()))


@pytest.mark.parametrize("row", [pytest.param(row, id=row.name) for row in ROWS])
def test_fault(
    row: catalogue.Row, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    record_property("happened", play(row, tmp_path))


def test_every_fault_has_a_name_of_its_own() -> None:
    names = [row.name for row in ROWS]
    assert sorted(set(names)) == sorted(names)
