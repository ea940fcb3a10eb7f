"""Tables for other programs, read back by the standard library."""

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from greenkeeper.journal.export import SHEETS, pieces
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.rows import (
    HygrometerMinute,
    Minute,
    Note,
    OutputMinute,
    ProbeMinute,
    Switching,
    ZoneChange,
)
from greenkeeper.journal.store import Keeping, Run, Store
from greenkeeper.journal.times import DAY_S, HOUR_S
from greenkeeper.model import Event, Phase
from tests.journal import ticks
from tests.journal.ticks import at

HOUR = int(ticks.UTC_S)
DAYS = 3
REASON = 'bench "left" 4.9 °C,\nbelow 5.0'


@pytest.fixture
def journal(file: Path) -> Iterator[Journal]:
    """Three days: a minute of a blind and a seeing probe each hour, a switching each day."""
    store = Store.open(file, Run("boot-1", "1.2.3", at(0)), Keeping("fern-corner", "UTC", 60, 60))
    minutes: list[Minute] = []
    notes: list[Note] = []
    for hour in range(24 * DAYS):
        utc_s = HOUR + hour * HOUR_S
        minutes += [
            ProbeMinute(utc_s, "bench", "", 3, 4.0, 4.0 + 1 / 3, 5.0, 0),
            ProbeMinute(utc_s, "ridge", "", 0, None, None, None, 3),
            HygrometerMinute(utc_s, "damp", "kernel bme280", 3, 80.0, 85.125, 90.0, 0),
            OutputMinute(utc_s, "heater", 1500.0, 12.5, 1),
        ]
        if hour % 24 == 0:
            notes += [
                Switching(utc_s + 0.25, 1.0, "heater", 1500.0, True, REASON),
                ZoneChange(utc_s, 1.0, "bench", "night", 5.0, None, 4.0, None, True, None),
                Event("zone-blind", Phase.RAISED, "bench", REASON, 1.0, float(utc_s)),
            ]
    store.write(minutes, notes, utc_s)
    store.stop(at(DAYS * DAY_S), clean=True)
    store.close()
    with Journal(file) as opened:
        yield opened


def exported(journal: Journal, table: str, *, as_json: bool = False) -> str:
    span = HOUR, HOUR + DAYS * DAY_S
    return "".join(piece.text for piece in pieces(journal, table, *span, as_json=as_json))


def read_csv(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_minutes_have_units_in_their_names_and_times_in_utc(journal: Journal) -> None:
    rows = read_csv(exported(journal, "minutes"))
    assert len(rows) == 2 * 24 * DAYS
    assert rows[0] == {
        "utc": "2027-01-15T08:00:00Z",
        "probe": "bench",
        "measurements": "3",
        "low_c": "4.0",
        "mean_c": "4.3333",
        "high_c": "5.0",
        "bad_ticks": "0",
    }


def test_what_was_not_measured_is_an_empty_field_and_null(journal: Journal) -> None:
    assert read_csv(exported(journal, "minutes"))[1]["low_c"] == ""
    line = exported(journal, "minutes", as_json=True).splitlines()[1]
    assert json.loads(line)["low_c"] is None


def test_lines_end_as_rfc_4180_has_it_and_text_survives_quotes_and_line_breaks(
    journal: Journal,
) -> None:
    text = exported(journal, "switchings")
    assert text.startswith("utc,output,is_on,reason,run,mono_s\r\n")
    rows = read_csv(text)
    assert [row["reason"] for row in rows] == [REASON] * DAYS
    assert rows[0]["utc"] == "2027-01-15T08:00:00.250Z"


def test_json_lines_are_one_object_a_line(journal: Journal) -> None:
    lines = exported(journal, "events", as_json=True).splitlines()
    assert [json.loads(line)["text"] for line in lines] == [REASON] * DAYS


@pytest.mark.parametrize("table", SHEETS)
def test_every_table_says_the_same_in_both_forms(journal: Journal, table: str) -> None:
    rows = read_csv(exported(journal, table))
    objects = [json.loads(line) for line in exported(journal, table, as_json=True).splitlines()]
    shown = [
        {key: "" if value is None else str(value) for key, value in each.items()}
        for each in objects
    ]
    assert rows == shown
    assert rows


@pytest.mark.parametrize("table", SHEETS)
def test_pieces_neither_repeat_nor_miss_a_row_and_tell_how_far_they_are(
    journal: Journal, table: str
) -> None:
    span = HOUR, HOUR + DAYS * DAY_S
    got = list(pieces(journal, table, *span, as_json=False))
    assert got[0].done == 0.0
    assert got[-1].done == 1.0
    assert [piece.done for piece in got] == sorted(piece.done for piece in got)
    times = [row["utc"] for row in read_csv("".join(piece.text for piece in got))]
    assert times == sorted(times)
    per_day = {
        "humidity-minutes": 24,
        "humidity-hours": 24,
        "minutes": 48,
        "hours": 48,
        "output-minutes": 24,
        "output-hours": 24,
    }
    assert len(times) == DAYS * per_day.get(table, 1)


def test_an_empty_span_is_a_header_only(journal: Journal) -> None:
    (header,) = pieces(journal, "hours", HOUR, HOUR, as_json=False)
    assert header.text.endswith("\r\n")
    assert header.text.count("\r\n") == 1
    assert list(pieces(journal, "hours", HOUR, HOUR, as_json=True)) == []
