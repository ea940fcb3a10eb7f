"""hardware-notes/safe-states.md, line by line: each names what tries it, and agrees with it.

A cell begins with how its output stands ("off", "as it was", ...). Every fault the line
names must exist, and what it asserts of that output must be just this. What the
catalogue cannot show has a test of its own, which must exist; "likewise" is the cell before.
"""

import re
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.faults import catalogue
from tests.faults.fault import Fault, Leaves

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "hardware-notes" / "safe-states.md"
OUTPUTS = {
    "heater": "heater",
    "fan": "fan",
    "isolator": "isolator",
    "fan that runs with the heat": "stirrer",
    "vent": "vent",
    "enable line": "enable",
}
FAULTS = {row.name: row for row in chain.from_iterable(catalogue.GROUPS.values())}
LOST = ("power", "board", "program", "probe", "broker", "clock")  # what the page must answer


class Line(NamedTuple):
    lost: str
    cells: dict[str, str]  # by output
    told: list[str] | None  # codes, where the table has a column for them
    tried_by: list[str]


def lines() -> Iterator[Line]:
    head: list[str] = []
    for text in PAGE.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in text.strip("|").split("|")]
        if not text.startswith("|"):
            head = []
        elif not head:
            head = cells
        elif "tried by" in head and not text.startswith(("|---", "| *its safe state*")):
            row = dict(zip(head, cells, strict=True))
            outputs = {OUTPUTS[name]: row[name] for name in head if name in OUTPUTS}
            told = re.findall(r"`([^`]+)`", row["told"]) if "told" in row else None
            yield Line(row["lost"], outputs, told, re.findall(r"`([^`]+)`", row["tried by"]))


LINES = list(lines())
SOURCES = "\n".join(path.read_text(encoding="utf-8") for path in TESTS.rglob("test_*.py"))


def test_the_tables_are_read_whole() -> None:
    assert len(LINES) >= 36
    assert set(chain.from_iterable(line.cells for line in LINES)) == set(OUTPUTS.values())
    for thing in LOST:
        for output in OUTPUTS.values():
            assert any(thing in line.lost and output in line.cells for line in LINES)


def test_each_line_of_two_heaters_names_what_its_faults_tell() -> None:
    shared = [line for line in LINES if line.told is not None]
    assert len(shared) >= 8
    tried = {name for line in shared for name in line.tried_by}
    assert {row.name for row in catalogue.GROUPS["stages"]} <= tried
    for line in shared:
        for row in [FAULTS[name] for name in line.tried_by if name in FAULTS]:
            assert isinstance(row, Fault)
            assert set(row.told) <= set(line.told or ()), f"{row.name}: {line.lost}"


@pytest.mark.parametrize("line", LINES, ids=[line.lost.replace("*", "") for line in LINES])
def test_a_line_is_what_its_faults_assert(line: Line) -> None:
    assert line.tried_by, "nothing tries it"
    by_test = False
    for name in line.tried_by:
        by_test |= name.startswith("test_")
        assert name in FAULTS or f"def {name}(" in SOURCES, f"there is no fault or test {name}"
    for output, said in _spelt_out(line.cells).items():
        asserted = {
            leaves[output]
            for name in line.tried_by
            if name in FAULTS and output in (leaves := getattr(FAULTS[name], "leaves", {}))
        }
        assert asserted <= {said}, f"{output}: {said.value!r}, but its faults: {asserted}"
        assert asserted or by_test or line.cells[output] == "likewise", f"nothing tries {output}"


def _spelt_out(cells: dict[str, str]) -> dict[str, Leaves]:
    """How each output stands; "-" says nothing about it."""
    said: dict[str, Leaves] = {}
    before: Leaves | None = None
    for output, cell in cells.items():
        if cell == "-":
            continue
        if cell != "likewise":
            before = next((s for s in Leaves if re.match(rf"{s.value}\b", cell)), None)
        assert before is not None, f"{output}: no word how it stands: {cell!r}"
        said[output] = before
    return said
