"""Every fault of the catalogue, each a case of its own, held to the same invariants."""

from pathlib import Path
from typing import Any

import pytest

from tests.faults import catalogue
from tests.faults.fault import Fault
from tests.faults.house import House
from tests.faults.invariants import Belongings, check


def cases() -> list[Any]:
    return [
        pytest.param(fault, id=fault.name)
        for faults in catalogue.GROUPS.values()
        for fault in faults
    ]


@pytest.mark.parametrize("fault", cases())
def test_fault(fault: Fault, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = Belongings.now()
    house = House(tmp_path, monkeypatch)
    fault.inject(house)
    course = house.live()
    check(fault, house, course, before)
