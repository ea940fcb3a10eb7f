"""Read-only questions, on journals in use and at rest."""

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.journal.answers import Extreme, OnTimes, Temperatures
from greenkeeper.journal.reader import Journal, JournalError
from greenkeeper.journal.rows import Minute, OutputMinute, ProbeMinute, ZoneChange
from greenkeeper.journal.store import Keeping, Run, Store
from greenkeeper.journal.times import DAY_S, HOUR_S
from tests.journal import ticks
from tests.journal.ticks import START, at

KEEPING = Keeping("fern-corner", "Europe/Brussels", keep_days=30, minutes_days=7)
HOUR = int(ticks.UTC_S)


def opened(file: Path) -> Store:
    return Store.open(file, Run("boot-1", "1.2.3", START), KEEPING)


def minute(number: int, temp_c: float | None = 5.0, on_s: float = 0.0) -> list[Minute]:
    """A minute of one probe and one output, counted from the beginning."""
    utc_s = HOUR + 60 * number
    n = 0 if temp_c is None else 6
    return [
        ProbeMinute(utc_s, "bench", "onewire", n, temp_c, temp_c, temp_c, 6 - n),
        OutputMinute(utc_s, "heater", 1500.0, on_s, 0),
    ]


def write(store: Store, minutes: list[Minute]) -> None:
    store.write(minutes, [], minutes[-1].utc_s)


# --- opening -------------------------------------------------------------------------


def test_a_missing_journal_says_so(file: Path) -> None:
    with pytest.raises(JournalError, match="there is no journal"):
        Journal(file)
    assert not file.exists()


@pytest.mark.parametrize("closed", ["the file", "its folder"])
def test_a_journal_of_somebody_else_says_how_to_read_it(file: Path, closed: str) -> None:
    opened(file).close()
    (file if closed == "the file" else file.parent).chmod(0o000)
    with somebody(), pytest.raises(JournalError, match=r"may not be read by you: .*usermod -aG"):
        Journal(file)


@contextmanager
def somebody() -> Iterator[None]:
    """Not root, whom no permission stops."""
    before = os.geteuid()
    if before == 0:
        os.seteuid(65_534)
    try:
        yield
    finally:
        os.seteuid(before)


def test_an_empty_file_says_that_nothing_was_begun(file: Path) -> None:
    file.touch()
    with pytest.raises(JournalError, match="is an empty file"):
        Journal(file)


def test_a_text_file_is_no_journal(file: Path) -> None:
    file.write_text("site: {name: fern-corner}\n" * 50)
    with pytest.raises(JournalError, match="is damaged or no journal at all"):
        Journal(file)


def test_somebody_elses_database_is_no_journal(file: Path) -> None:
    with closing(sqlite3.connect(file)) as db:
        db.execute("CREATE TABLE recipes (name)")
    with pytest.raises(JournalError, match="not a greenkeeper journal"):
        Journal(file)


def test_a_newer_journal_is_refused(file: Path) -> None:
    opened(file).close()
    with closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA user_version = 99")
    with pytest.raises(JournalError, match="newer greenkeeper"):
        Journal(file)


def test_damage_found_while_asking_is_named(file: Path) -> None:
    store = opened(file)
    write(store, [row for number in range(3000) for row in minute(number)])
    store.close()
    size = file.stat().st_size
    with file.open("r+b") as handle:
        handle.seek(size // 2)
        handle.write(b"\xa5" * (size - size // 2))
    with Journal(file) as journal, pytest.raises(JournalError, match="is damaged"):
        journal.minutes("bench", HOUR, HOUR + 3000 * 60)


def test_a_journal_in_use_shows_what_is_in_the_log_already(file: Path) -> None:
    store = opened(file)
    write(store, minute(0))
    with Journal(file) as journal:
        assert len(journal.minutes("bench", HOUR, HOUR + 60)) == 1
        write(store, minute(1))
        assert len(journal.minutes("bench", HOUR, HOUR + 120)) == 2
    store.close()


def test_reading_a_journal_at_rest_leaves_nothing_beside_it(file: Path) -> None:
    store = opened(file)
    write(store, minute(0))
    store.close()
    with Journal(file) as journal:
        assert journal.span() == (HOUR, HOUR + 60)
    assert [each.name for each in file.parent.iterdir()] == ["journal.db"]


def test_a_reader_cannot_write(file: Path) -> None:
    store = opened(file)
    with Journal(file) as journal, pytest.raises(JournalError, match="readonly"):
        journal.query("DELETE FROM minute")
    store.close()


_STRANGER = """
import os, sys
from pathlib import Path
from greenkeeper.journal.reader import Journal
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
with Journal(Path(sys.argv[1])) as journal:
    print(journal.span())
"""


@pytest.fixture
def public_folder() -> Iterator[Path]:
    """A folder that other users may enter, unlike pytest's own."""
    with tempfile.TemporaryDirectory() as made:
        Path(made).chmod(0o755)
        yield Path(made)
        Path(made).chmod(0o755)


@pytest.mark.parametrize("state", ["in use", "at rest"])
def test_another_user_reads_it_in_a_folder_closed_to_writing(
    public_folder: Path, state: str
) -> None:
    """As root this becomes another user; as anybody else the closed folder does it."""
    file = public_folder / "journal.db"
    store = opened(file)
    write(store, minute(0))
    if state == "at rest":
        store.close()
    public_folder.chmod(0o555)
    command = [sys.executable, "-c", _STRANGER, str(file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    store.close()
    assert done.stderr == ""
    assert done.stdout == f"({HOUR}, {HOUR + 60})\n"


# --- asking --------------------------------------------------------------------------


def test_an_empty_journal_has_answers_without_numbers(file: Path) -> None:
    opened(file).close()
    with Journal(file) as journal:
        assert journal.span() is None
        assert journal.lows(0, 2e9) == {}
        assert journal.on_seconds("heater", 0, 2e9) is None
        assert journal.energy_kwh("heater", 0, 2e9) is None
        assert journal.probes() == []
        assert journal.site() == "fern-corner"


def test_minutes_and_hours_come_within_the_span_its_end_not_included(file: Path) -> None:
    store = opened(file)
    write(store, [row for n in range(121) for row in minute(n, 5.0 + n, on_s=n / 10)])
    store.close()
    with Journal(file) as journal:
        assert journal.minutes("bench", HOUR + 60, HOUR + 180) == [
            Temperatures(HOUR + 60, 6, 6.0, 6.0, 6.0, 0),
            Temperatures(HOUR + 120, 6, 7.0, 7.0, 7.0, 0),
        ]
        assert journal.output_minutes("heater", HOUR + 59.5, HOUR + 60.5) == [
            OnTimes(HOUR + 60, 0.1, 0)
        ]
        assert [each.utc_s for each in journal.hours("bench", HOUR, HOUR + 2 * HOUR_S)] == [
            HOUR,
            HOUR + HOUR_S,
        ]
        (first, _) = journal.output_hours("heater", HOUR, HOUR + 2 * HOUR_S)
        assert first.on_s == pytest.approx(sum(range(60)) / 10)
        assert journal.minutes("nobody", HOUR, HOUR + HOUR_S) == []


def test_the_lowest_is_given_with_its_minute_even_over_long_spans(file: Path) -> None:
    store = opened(file)
    temps = [-2.5 if number == 333 else 5.0 + number / 100 for number in range(60 * 12)]
    write(store, [row for number, temp_c in enumerate(temps) for row in minute(number, temp_c)])
    store.close()
    with Journal(file) as journal:
        low, high = journal.lows(HOUR, HOUR + DAY_S), journal.highs(HOUR, HOUR + DAY_S)
    assert low == {"bench": Extreme(-2.5, HOUR + 333 * 60, 60)}
    assert high == {"bench": Extreme(5.0 + 7.19, HOUR + 719 * 60, 60)}


def test_where_the_minutes_are_gone_the_hour_answers(file: Path) -> None:
    store = opened(file)
    numbers = range(0, 8 * 1440, 30)
    write(store, [row for each in numbers for row in minute(each, float(each), on_s=10.0)])
    store.upkeep(at(8 * DAY_S), KEEPING)
    store.close()
    with Journal(file) as journal:
        assert journal.minutes("bench", HOUR, HOUR + DAY_S) == []
        assert journal.lows(HOUR + 2 * HOUR_S, HOUR + DAY_S) == {
            "bench": Extreme(120.0, HOUR + 2 * HOUR_S, 3600)
        }
        assert journal.on_seconds("heater", HOUR, HOUR + 8 * DAY_S) == 8 * 48 * 10.0
        # From the middle of a day without minutes to the middle of a minute's day.
        end = HOUR + DAY_S + 5 * HOUR_S + 60
        assert journal.on_seconds("heater", HOUR + 12 * HOUR_S, end) == (12 + 5) * 20.0 + 10.0


def test_an_output_that_was_watched_and_off_was_on_for_no_time(file: Path) -> None:
    store = opened(file)
    write(store, minute(0, on_s=0.0))
    store.close()
    with Journal(file) as journal:
        assert journal.on_seconds("heater", HOUR, HOUR + 60) == 0.0
        assert journal.on_seconds("heater", HOUR + 60, HOUR + 120) is None
        assert journal.energy_kwh("heater", HOUR, HOUR + 60) == 0.0


def test_a_probe_without_any_measurement_has_no_low(file: Path) -> None:
    store = opened(file)
    write(store, minute(0, None))
    store.close()
    with Journal(file) as journal:
        assert journal.lows(HOUR, HOUR + 60) == {}
        assert journal.minutes("bench", HOUR, HOUR + 60)[0].low_c is None


def test_the_state_of_a_zone_before_the_span_is_part_of_the_answer(file: Path) -> None:
    store = opened(file)
    changes = [
        ZoneChange(float(HOUR + s), float(s), zone, "night", temp, None, 4.0, None, temp > 6, None)
        for s, zone, temp in ((0, "bench", 5.0), (0, "shelf", 9.0), (10, "bench", 6.0))
    ] + [ZoneChange(HOUR + 100.0, 100.0, "bench", "day", 7.0, None, 4.0, None, True, None)]
    store.write([], changes, HOUR)
    store.close()
    with Journal(file) as journal:
        states = journal.zone_states(HOUR + 50, HOUR + 200)
    assert [(s.zone, s.period, s.heat_setpoint_c, s.heat_wanted) for s in states] == [
        ("shelf", "night", 9.0, True),
        ("bench", "night", 6.0, False),
        ("bench", "day", 7.0, True),
    ]
    assert states[0].cool_wanted is None


def test_a_state_from_days_before_says_nothing_about_now(file: Path) -> None:
    store = opened(file)
    change = ZoneChange(float(HOUR), 0.0, "bench", "night", 5.0, None, 4.0, None, False, None)
    store.write([], [change], HOUR)
    store.close()
    with Journal(file) as journal:
        assert len(journal.zone_states(HOUR + 2 * DAY_S, HOUR + 3 * DAY_S)) == 1
        assert journal.zone_states(HOUR + 2 * DAY_S + 1, HOUR + 3 * DAY_S) == []


COURSE = st.lists(st.floats(0.0, 60.0).map(lambda s: round(s, 3)), min_size=200, max_size=400)


@settings(max_examples=15, deadline=None)
@given(on=COURSE, cuts=st.tuples(st.integers(-30, 430), st.integers(-30, 430)))
def test_seconds_on_over_any_span_are_the_sum_of_its_minutes(
    tmp_path_factory: pytest.TempPathFactory, on: list[float], cuts: tuple[int, int]
) -> None:
    """Whether they are taken from hours or from minutes, and with the running hour unsummed."""
    file = tmp_path_factory.mktemp("sums") / "journal.db"
    store = opened(file)
    write(store, [row for number, on_s in enumerate(on) for row in minute(number, on_s, on_s)])
    first, last = sorted(cuts)
    with Journal(file) as journal:
        span = HOUR + 60 * first, HOUR + 60 * last
        expected = on[max(0, first) : max(0, last)]
        told = journal.on_seconds("heater", *span)
        low = journal.lows(*span).get("bench")
    store.close()
    assert told == (pytest.approx(sum(expected)) if expected else None)
    assert (None if low is None else low.temp_c) == min(expected, default=None)
    if low is not None:
        assert on[(low.utc_s - HOUR) // 60] == low.temp_c
