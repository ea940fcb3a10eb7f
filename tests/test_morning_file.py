"""What is foretold of the morning, kept: whatever lies there, the keeper goes on."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from greenkeeper.clock import HandClock
from greenkeeper.model import Morning
from greenkeeper.morning_file import FILE_NAME, LOOK_EVERY_S, Newest, read, write

MORNING = Morning(1.8e9, 1.80003e9, 0.25)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / FILE_NAME


def test_what_is_kept_is_read_back(file: Path) -> None:
    write(file, MORNING)
    assert read(file) == MORNING


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[1, 2, 3]",
        "null",
        '{"made_utc_s": 1.8e9, "sunrise_utc_s": 1.8e9}',
        '{"made_utc_s": 1.8e9, "sunrise_utc_s": 1.8e9, "cloud_share": 1.5}',
        '{"made_utc_s": 1.8e9, "sunrise_utc_s": 1.8e9, "cloud_share": true}',
        '{"made_utc_s": 1.8e9, "sunrise_utc_s": Infinity, "cloud_share": 0.1}',
        '{"made_utc_s": "today", "sunrise_utc_s": 1.8e9, "cloud_share": 0.1}',
        '{"made_utc_s": 1.8e9, "sunrise_utc_s": 1.8e9, "cloud_share": 0.1, "more": 1}',
        "[" * 9000,
        '{"made_utc_s": 1' + "0" * 400 + ', "sunrise_utc_s": 1.8e9, "cloud_share": 0.1}',
    ],
)
def test_what_makes_no_sense_foretells_nothing(file: Path, text: str) -> None:
    file.write_text(text)
    assert read(file) is None


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=200))
def test_nothing_that_lies_there_is_worse_than_nothing(file: Path, raw: bytes) -> None:
    file.write_bytes(raw)
    assert read(file) is None


def test_the_keeper_sees_a_new_one_within_a_minute(file: Path) -> None:
    clock = HandClock(utc_s=1.8e9)
    newest = Newest(file, clock)
    assert newest.morning() is None
    write(file, MORNING)
    clock.advance(LOOK_EVERY_S + 1.0)
    assert newest.morning() == MORNING
