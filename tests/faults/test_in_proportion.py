"""The faults that come between readings and heat, played once more with heat in proportion.

Here: those of probes and clocks, which are all that a strategy decides by. What breaks
files, wires, the broker or the process meets the same code either way; `make faults` plays
every row with any strategy (GREENKEEPER_STRATEGY).
"""

from pathlib import Path

import pytest

from tests.faults import catalogue, house
from tests.faults.catalogue import clock, probes
from tests.faults.play import play
from tests.faults.yard import Yard

ROWS = (*probes.FAULTS, *clock.FAULTS)


@pytest.mark.parametrize("row", ROWS, ids=[row.name for row in ROWS])
def test_fault_with_heat_in_proportion(
    row: catalogue.Row, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(house, "STRATEGY", "proportion")
    play(row, tmp_path, Yard(tmp_path / "yard"))
