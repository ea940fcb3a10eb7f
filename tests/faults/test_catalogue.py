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


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Yard]:
    with Yard(tmp_path_factory.mktemp("yard")) as made:
        yield made


def case(row: catalogue.Row) -> object:
    later = isinstance(row, Process) and row.heavy and not WHOLE
    mark = pytest.mark.skipif(later, reason="long in real time: `make faults` plays it")
    return pytest.param(row, id=row.name, marks=mark)


@pytest.mark.parametrize("row", [case(row) for row in ROWS])
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
