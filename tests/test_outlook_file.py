"""Outlooks kept for the morning: none is lost, and no damaged line costs the others."""

from pathlib import Path

import pytest

from greenkeeper.outlook_file import FILE_NAME, MOST, Said, add, read

SAID = Said(1.9e9, 1.90004e9, "bench", "evening", -4.8, -6.9, -2.7, 5.0)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / FILE_NAME


def test_what_is_added_is_read_back_oldest_first(file: Path) -> None:
    later = SAID._replace(made_utc_s=1.9001e9)
    add(file, SAID)
    add(file, later)
    assert read(file) == [SAID, later]


def test_there_is_nothing_before_the_first(file: Path) -> None:
    assert read(file) == []


def test_the_oldest_make_room(file: Path) -> None:
    line = file.with_name("one")
    add(line, SAID)
    file.write_text(line.read_text() * MOST)
    add(file, SAID._replace(zone="newest"))
    found = read(file)
    assert len(found) == MOST
    assert found[-1].zone == "newest"


@pytest.mark.parametrize(
    "damaged",
    ["", "half a li", "[1, 2]", '{"zone": 1}', "[" * 100_000, '"text"'],
)
def test_a_damaged_line_is_left_out_alone(file: Path, damaged: str) -> None:
    add(file, SAID)
    whole = file.read_text()
    file.write_text(f"{damaged}\n{whole}{damaged}\n{whole.replace('-4.8', 'NaN')}")
    assert read(file) == [SAID]
