"""The last night, handed on in a file: whole or not at all, and no file can do harm."""

import json
import os
from pathlib import Path

import pytest

from greenkeeper.last_night import FILE_NAME, LOOK_EVERY_S, LastNight, newest, read, write

NIGHT = LastNight(
    evening="2031-01-14",
    to_utc_s=1.9e9,
    summary="bench: every plant stayed 0.6 K or more above its minimum.",
    outdoor_low_c=-5.1,
    lows_c={"bench": 4.6, "nursery": None},
    heated_s=17_820.0,
    kwh=5.94,
    cost=None,
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / FILE_NAME


def test_what_is_written_is_read_back(file: Path) -> None:
    write(file, NIGHT)
    assert read(file) == NIGHT


def test_a_new_night_is_seen_at_the_next_look_and_a_deleted_one_is_gone(file: Path) -> None:
    kept = newest(file)
    assert kept.at(0.0) is None
    write(file, NIGHT)
    assert kept.at(LOOK_EVERY_S - 1.0) is None, "it does not look at every tick"
    assert kept.at(LOOK_EVERY_S) == NIGHT
    later = NIGHT._replace(evening="2031-01-15")
    write(file, later)
    assert kept.at(2 * LOOK_EVERY_S) == later
    file.unlink()
    assert kept.at(3 * LOOK_EVERY_S) is None


@pytest.mark.parametrize(
    "spoilt",
    [
        "",
        "[]",
        "{}",
        '{"evening": "2031-01-14"}',
        json.dumps({**NIGHT._asdict(), "more": 1}),
        json.dumps({**NIGHT._asdict(), "kwh": "much"}),
        json.dumps({**NIGHT._asdict(), "kwh": True}),
        json.dumps({**NIGHT._asdict(), "outdoor_low_c": float("nan")}),
        json.dumps({**NIGHT._asdict(), "to_utc_s": None}),
        json.dumps({**NIGHT._asdict(), "lows_c": [4.6]}),
        json.dumps({**NIGHT._asdict(), "lows_c": {"bench": "cold"}}),
        json.dumps({**NIGHT._asdict(), "summary": 7}),
        "[" * 50_000,
        json.dumps({**NIGHT._asdict(), "summary": "x" * 200_000}),
    ],
    ids=range(14),
)
def test_what_makes_no_sense_counts_as_none(file: Path, spoilt: str) -> None:
    file.write_text(spoilt, encoding="utf-8")
    assert read(file) is None
    assert newest(file).at(0.0) is None


def test_a_file_that_cannot_be_read_counts_as_none(file: Path) -> None:
    os.mkdir(file)
    assert read(file) is None
    assert newest(file).at(0.0) is None
