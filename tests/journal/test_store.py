"""Rows into tables, on real files."""

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.journal.opening import _LOG_PAGES, _PAGE_BYTES
from greenkeeper.journal.rows import (
    ClockStep,
    HygrometerMinute,
    Minute,
    Note,
    OutputMinute,
    ProbeMinute,
    Switching,
    ZoneChange,
)
from greenkeeper.journal.store import Keeping, Run, Store, minutes_end
from greenkeeper.journal.times import DAY_S, HOUR_S
from greenkeeper.model import Event, Now, Phase
from tests.journal.ticks import START, UTC_S, after, at

KEEPING = Keeping("fern-corner", "Europe/Brussels", keep_days=30, minutes_days=7)
RUN = Run("boot-1", "1.2.3", START)
HOUR = int(UTC_S)


@pytest.fixture
def store(file: Path) -> Iterator[Store]:
    opened = Store.open(file, RUN, KEEPING)
    yield opened
    opened.close()


def rows(
    file: Path, sql: str, values: Mapping[str, object] | None = None
) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as db:
        return db.execute(sql, values or {}).fetchall()


def probe(
    utc_s: int, temps: tuple[float, ...] = (), *, bad: int = 0, name: str = "bench"
) -> Minute:
    low, high = (min(temps), max(temps)) if temps else (None, None)
    mean = sum(temps) / len(temps) if temps else None
    return ProbeMinute(utc_s, name, f"onewire {name}", len(temps), low, mean, high, bad)


def output(utc_s: int, on_s: float, switchings: int = 0, power_w: float | None = 1500.0) -> Minute:
    return OutputMinute(utc_s, "heater", power_w, on_s, switchings)


def test_a_minute_is_found_by_name_and_time(store: Store, file: Path) -> None:
    store.write([probe(HOUR + 60, (4.0, 6.0), bad=1)], [], HOUR)
    assert rows(file, "SELECT utc, probe, n, low_c, mean_c, high_c, bad FROM temperatures") == [
        ("2027-01-15 08:01:00", "bench", 2, 4.0, 5.0, 6.0, 1)
    ]


@pytest.mark.parametrize(
    ("first", "second", "merged"),
    [
        ((4.0, 6.0), (1.0,), (3, 1.0, 11.0 / 3.0, 6.0)),
        ((), (5.0,), (1, 5.0, 5.0, 5.0)),
        ((5.0,), (), (1, 5.0, 5.0, 5.0)),
        ((), (), (0, None, None, None)),
    ],
)
def test_a_minute_that_comes_twice_is_added_up_never_overwritten(
    store: Store,
    file: Path,
    first: tuple[float, ...],
    second: tuple[float, ...],
    merged: tuple[object, ...],
) -> None:
    store.write([probe(HOUR, first, bad=1)], [], HOUR)
    store.write([probe(HOUR, second, bad=2)], [], HOUR)
    assert rows(file, "SELECT n, low_c, mean_c, high_c, bad FROM minute") == [
        (*(pytest.approx(each) if each else each for each in merged), 3)
    ]


def test_humidity_has_tables_of_its_own_and_is_summed_like_temperatures(
    store: Store, file: Path
) -> None:
    damp = HygrometerMinute(HOUR, "damp", "kernel bme280", 3, 80.0, 85.0, 90.0, 1)
    drier = damp._replace(utc_s=HOUR + 60, n=1, low_pct=61.0, mean_pct=61.0, high_pct=61.0)
    store.write([damp, damp, drier], [], HOUR + HOUR_S)
    assert rows(file, "SELECT n, low_pct, mean_pct, high_pct, bad FROM humidity_minute") == [
        (6, 80.0, 85.0, 90.0, 2),
        (1, 61.0, 61.0, 61.0, 1),
    ]
    assert rows(file, "SELECT n, low_pct, mean_pct, high_pct, bad FROM humidity_hour") == [
        (7, 61.0, pytest.approx((6 * 85.0 + 61.0) / 7.0), 90.0, 3)
    ]
    assert rows(file, "SELECT count(*) FROM minute") == [(0,)]
    assert rows(file, "SELECT name, source FROM hygrometer") == [("damp", "kernel bme280")]


def test_humidity_is_deleted_when_it_is_too_old(store: Store, file: Path) -> None:
    damp = HygrometerMinute(HOUR, "damp", "", 1, 80.0, 80.0, 80.0, 0)
    store.write([damp], [], HOUR + HOUR_S)
    store.upkeep(at((KEEPING.minutes_days + 1) * DAY_S), KEEPING)
    assert rows(file, "SELECT count(*) FROM humidity_minute") == [(0,)]
    assert rows(file, "SELECT count(*) FROM humidity_hour") == [(1,)]
    store.upkeep(at((KEEPING.keep_days + 1) * DAY_S), KEEPING)
    assert rows(file, "SELECT count(*) FROM humidity_hour") == [(0,)]


def test_time_on_that_comes_twice_is_added_up(store: Store, file: Path) -> None:
    store.write([output(HOUR, 20.0, 1), output(HOUR, 10.5, 0)], [], HOUR)
    store.write([output(HOUR, 15.0, 2)], [], HOUR)
    assert rows(file, "SELECT on_s, switchings FROM output_minute") == [(45.5, 3)]


def test_a_name_keeps_its_number_and_another_source_gets_a_new_one(
    store: Store, file: Path
) -> None:
    store.write([probe(HOUR, (5.0,))], [], HOUR)
    replaced = ProbeMinute(HOUR + 60, "bench", "onewire other", 1, 6.0, 6.0, 6.0, 0)
    store.write([replaced], [], HOUR)
    store.write([probe(HOUR + 120, (7.0,))], [], HOUR)
    assert rows(file, "SELECT id, name, source FROM probe ORDER BY id") == [
        (1, "bench", "onewire bench"),
        (2, "bench", "onewire other"),
    ]
    assert rows(file, "SELECT probe FROM minute ORDER BY id") == [(1,), (2,), (1,)]


def test_past_energy_stays_true_when_the_power_changes(store: Store, file: Path) -> None:
    store.write([output(HOUR, 3600.0), output(HOUR, 3600.0, power_w=2000.0)], [], HOUR + HOUR_S)
    assert rows(file, "SELECT day, output, on_h, kwh FROM energy") == [
        ("2027-01-15", "heater", 2.0, 3.5)
    ]


def test_an_output_without_a_power_is_one_output_and_has_no_energy(
    store: Store, file: Path
) -> None:
    for minute in range(2):
        store.write([output(HOUR + 60 * minute, 60.0, power_w=None)], [], HOUR + HOUR_S)
        store.close()
        store = Store.open(file, RUN, KEEPING)
    assert rows(file, "SELECT count(*) FROM output") == [(1,)]
    assert rows(file, "SELECT kwh FROM energy") == [(None,)]
    store.close()


def test_every_kind_of_note_is_kept_with_its_run(store: Store, file: Path) -> None:
    notes: list[Note] = [
        Switching(UTC_S + 0.5, 1000.5, "heater", 1500.0, True, "bench 4.9 °C"),
        ZoneChange(UTC_S, 1000.0, "bench", "night", 5.0, None, 4.0, 30.0, True, None),
        ClockStep(1010.0, UTC_S, UTC_S + 3600.0),
        Event("zone-blind", Phase.RAISED, "bench", "none can be trusted", 1020.0, UTC_S + 20.0),
    ]
    store.write([], notes, HOUR)
    assert rows(file, "SELECT utc_s, mono_s, run, is_on, reason FROM switching") == [
        (UTC_S + 0.5, 1000.5, 1, 1, "bench 4.9 °C")
    ]
    assert rows(file, "SELECT * FROM zone_change") == [
        (UTC_S, 1, 1000.0, "bench", "night", 5.0, None, 4.0, 30.0, 1, None)
    ]
    assert rows(file, "SELECT mono_s, run, before_utc_s, after_utc_s FROM clock_step") == [
        (1010.0, 1, UTC_S, UTC_S + 3600.0)
    ]
    assert rows(file, "SELECT run, code, phase, subject, text FROM event") == [
        (1, "zone-blind", "raised", "bench", "none can be trusted")
    ]


def test_text_that_is_no_unicode_does_not_cost_the_row(store: Store, file: Path) -> None:
    text = b"caf\xe9.csv".decode("utf-8", "surrogateescape")
    store.write([], [Event("probe-missing", Phase.NOTED, text, text, 0.0, UTC_S)], HOUR)
    assert rows(file, "SELECT subject, text FROM event") == [("caf?.csv", "caf?.csv")]


def test_a_run_that_stops_says_when_and_how(store: Store, file: Path) -> None:
    store.stop(at(100), clean=True)
    assert rows(file, "SELECT boot_id, version, started_utc_s, stopped_utc_s, clean FROM run") == [
        ("boot-1", "1.2.3", UTC_S, UTC_S + 100.0, 1)
    ]


def test_the_same_run_opening_again_goes_on_under_its_number(store: Store, file: Path) -> None:
    store.close()
    Store.open(file, RUN, KEEPING, run_id=store.run_id).close()
    assert rows(file, "SELECT count(*) FROM run") == [(1,)]


def test_another_run_gets_a_number_of_its_own_even_with_the_same_clocks(
    store: Store, file: Path
) -> None:
    store.close()
    Store.open(file, RUN, KEEPING).close()
    assert rows(file, "SELECT id FROM run") == [(1,), (2,)]


def test_all_of_a_batch_is_written_or_none(store: Store, file: Path) -> None:
    faulty = OutputMinute(HOUR, "heater", 1500.0, None, 0)  # type: ignore[arg-type] # on purpose
    with pytest.raises(sqlite3.IntegrityError):
        store.write([probe(HOUR, (5.0,)), faulty], [], HOUR)
    assert rows(file, "SELECT count(*) FROM minute") == [(0,)]
    # The numbers given in what was undone must not be remembered.
    store.write([probe(HOUR, (5.0,))], [], HOUR)
    assert rows(file, "SELECT name FROM minute JOIN probe ON probe.id = probe") == [("bench",)]


# --- hours ---------------------------------------------------------------------------


def test_the_running_hour_waits_until_it_is_over(store: Store, file: Path) -> None:
    store.write([probe(HOUR, (4.0, 6.0)), output(HOUR, 30.0, 1)], [], HOUR + 100)
    assert rows(file, "SELECT count(*) FROM hour") == [(0,)]
    store.write([probe(HOUR + 3540, (1.0,), bad=2), output(HOUR + 3540, 60.0)], [], HOUR + 3599)
    store.write([probe(HOUR + HOUR_S, (9.0,))], [], HOUR + HOUR_S)
    assert rows(file, "SELECT utc_s, n, low_c, round(mean_c, 6), high_c, bad FROM hour") == [
        (HOUR, 3, 1.0, 3.666667, 6.0, 2)
    ]
    assert rows(file, "SELECT utc_s, on_s, switchings, minutes FROM output_hour") == [
        (HOUR, 90.0, 1, 2)
    ]


def test_an_hour_cut_short_by_a_kill_is_summed_at_the_next_start(store: Store, file: Path) -> None:
    store.write([probe(HOUR, (5.0,))], [], HOUR + 100)
    store.close()
    Store.open(file, RUN, KEEPING).close()
    assert rows(file, "SELECT utc_s, n FROM hour") == [(HOUR, 1)]


def test_an_hour_that_goes_on_after_a_restart_is_summed_again(store: Store, file: Path) -> None:
    store.write([probe(HOUR, (5.0,))], [], HOUR + 100)
    store.stop(at(100), clean=True)
    store.close()
    again = Store.open(file, RUN, KEEPING)
    again.write([probe(HOUR + 600, (6.0,))], [], HOUR + 700)
    assert rows(file, "SELECT n, high_c FROM hour") == [(2, 6.0)]
    again.close()


MINUTES = st.tuples(st.integers(0, 40), st.floats(-20.0, 40.0), st.booleans())


@settings(max_examples=25, deadline=None)
@given(steps=st.lists(MINUTES, min_size=1, max_size=25))
def test_hours_equal_their_minutes_whatever_the_clock_does(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[int, float, bool]]
) -> None:
    """Each step: the time jumps to some quarter of some hour; at times the keeper is killed.

    Up to the newest summed hour every hour equals the sum of its minutes; after a start all do.
    """
    file = tmp_path_factory.mktemp("hours") / "journal.db"
    store = Store.open(file, RUN, KEEPING)
    for quarter, temp_c, kill in steps:
        utc_s = HOUR + quarter * 900
        store.write([probe(utc_s, (temp_c,)), output(utc_s, 7.5)], [], utc_s)
        assert _summed_wrong(file, every=False) == []
        if kill:
            store.close()
            store = Store.open(file, RUN, KEEPING)
            assert _summed_wrong(file, every=True) == []
    store.close()


_AFRESH = """
    SELECT start FROM (
        SELECT utc_s / 3600 * 3600 AS start, sum(n) AS n, min(low_c) AS low, max(high_c) AS high,
               total(on_s) AS on_s
        FROM minute JOIN output_minute USING (utc_s) GROUP BY start
    ) AS afresh
    LEFT JOIN hour ON hour.utc_s = start LEFT JOIN output_hour ON output_hour.utc_s = start
    WHERE (:all OR start <= (SELECT max(utc_s) FROM hour))
      AND NOT coalesce(hour.n = afresh.n AND hour.low_c = low AND hour.high_c = high
                       AND output_hour.on_s = afresh.on_s, 0)
"""


def _summed_wrong(file: Path, *, every: bool) -> list[tuple[object, ...]]:
    """Hours (up to the newest summed one, or every) that differ from a sum worked out afresh."""
    return rows(file, _AFRESH, {"all": every})


# --- upkeep --------------------------------------------------------------------------


def filled(store: Store, days: int) -> Now:
    """One minute and one event an hour for so many days; returns the moment at their end."""
    minutes: list[Minute] = []
    notes: list[Note] = []
    for utc_s in range(HOUR, HOUR + days * DAY_S, HOUR_S):
        minutes += [probe(utc_s, (5.0,)), output(utc_s, 1.0)]
        notes.append(Event("clock-jumped", Phase.NOTED, "clock", "", 0.0, float(utc_s)))
    store.write(minutes, notes, HOUR + days * DAY_S)
    return at(days * DAY_S)


def test_old_minutes_go_and_their_hours_stay(store: Store, file: Path) -> None:
    end = filled(store, 8)
    store.upkeep(end, KEEPING)
    assert rows(file, "SELECT count(*), min(utc_s) FROM minute") == [(7 * 24, HOUR + DAY_S)]
    assert rows(file, "SELECT count(*), min(utc_s) FROM output_minute") == [(7 * 24, HOUR + DAY_S)]
    assert rows(file, "SELECT min(utc_s) FROM hour") == [(HOUR,)]
    assert rows(file, "SELECT count(*) FROM event") == [(8 * 24,)]


def test_new_minutes_take_the_place_of_the_oldest_hour_and_of_no_other(
    store: Store, file: Path
) -> None:
    end = filled(store, 8)
    drop_before_s = minutes_end(end, KEEPING)
    new = probe(HOUR + 8 * DAY_S, (6.0,))
    store.write([new], [], end.utc_s, drop_before_s)
    assert rows(file, "SELECT count(*), min(utc_s) FROM minute") == [(8 * 24, HOUR + HOUR_S)]
    assert rows(file, "SELECT min(utc_s) FROM output_minute") == [(HOUR + HOUR_S,)]
    assert rows(file, "SELECT min(utc_s) FROM hour") == [(HOUR,)]


def test_no_minute_makes_room_that_is_not_too_old(store: Store, file: Path) -> None:
    end = filled(store, 7)
    store.write([probe(HOUR + 7 * DAY_S, (6.0,))], [], end.utc_s, minutes_end(end, KEEPING))
    assert rows(file, "SELECT min(utc_s) FROM minute") == [(HOUR,)]
    assert minutes_end(end._replace(clock_trusted=False), KEEPING) is None


def test_hours_and_events_go_after_keep_days(store: Store, file: Path) -> None:
    end = filled(store, 8)
    store.upkeep(after(end, 23 * DAY_S), KEEPING)
    assert rows(file, "SELECT min(utc_s) FROM hour") == [(HOUR + DAY_S,)]
    assert rows(file, "SELECT min(utc_s) FROM event") == [(HOUR + DAY_S,)]


def test_a_clock_gone_mad_costs_two_days_at_most(store: Store, file: Path) -> None:
    end = filled(store, 8)
    store.upkeep(after(end, 5000 * DAY_S), KEEPING)
    for table in ("minute", "output_minute", "hour", "output_hour", "event"):
        oldest = rows(file, f"SELECT min(utc_s) FROM {table}")  # noqa: S608 - own words
        assert oldest == [(HOUR + 2 * DAY_S,)]


def test_nothing_is_old_while_the_clock_is_not_trusted(store: Store, file: Path) -> None:
    end = filled(store, 8)
    store.upkeep(end._replace(clock_trusted=False), KEEPING)
    assert rows(file, "SELECT count(*) FROM minute") == [(8 * 24,)]


def test_upkeep_folds_the_log_into_the_file_and_minds_no_reader(store: Store, file: Path) -> None:
    filled(store, 1)
    with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM minute").fetchall()
        store.upkeep(at(DAY_S), KEEPING)  # cannot finish, and says nothing
    store.upkeep(at(2 * DAY_S), KEEPING)
    with closing(sqlite3.connect(f"file:{file}?immutable=1", uri=True)) as file_alone:
        assert file_alone.execute("SELECT count(*) FROM minute").fetchone()[0] > 0
        assert file_alone.execute("SELECT count(*) FROM minute").fetchall() == rows(
            file, "SELECT count(*) FROM minute"
        )


def test_the_log_keeps_its_room_and_does_not_outgrow_it(store: Store, file: Path) -> None:
    log = file.with_name("journal.db-wal")
    filled(store, 1)
    store.upkeep(at(DAY_S), KEEPING)
    kept = log.stat().st_size
    assert kept > 0
    for utc_s in range(HOUR + DAY_S, HOUR + DAY_S + 200 * 60, 60):
        store.write([probe(utc_s, (5.0,)), output(utc_s, 1.0)], [], utc_s)
    frame = 24 + _PAGE_BYTES
    # One commit may overshoot; it is folded away before the next.
    assert kept <= log.stat().st_size <= _LOG_PAGES * frame + 20 * frame
