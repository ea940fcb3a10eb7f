"""One night from the journal, held against plain arithmetic and an independent SQL sum."""

import sqlite3
import tracemalloc
from collections.abc import Callable
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from greenkeeper.journal.reader import Journal
from greenkeeper.journal.rows import Minute, ProbeMinute
from greenkeeper.reports import night, night_sheet, winters
from greenkeeper.reports.night import Facts, Span
from greenkeeper.settings.schema import Tariff
from tests.reports.nights import BRUSSELS, EVENING, HOUSE, minutes_of, written

NIGHT = night.night(EVENING, BRUSSELS)


def facts_of(file: Path, minutes: list[Minute], span: Span = NIGHT) -> Facts:
    written(file, minutes)
    with Journal(file) as journal:
        return night.facts(journal, HOUSE, span)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"


def test_a_night_is_from_noon_to_noon_by_the_wall_clock() -> None:
    assert NIGHT.to_utc_s - NIGHT.from_utc_s == 86_400.0
    spring = night.night(date(2031, 3, 29), BRUSSELS)  # the clocks go forward in this night
    autumn = night.night(date(2031, 10, 25), BRUSSELS)
    assert spring.to_utc_s - spring.from_utc_s == 23 * 3600.0
    assert autumn.to_utc_s - autumn.from_utc_s == 25 * 3600.0


@pytest.mark.parametrize(("hour", "evening"), [(1, 13), (8, 13), (13, 13), (23, 13)])
def test_the_last_night_is_the_one_before_this_day(hour: int, evening: int) -> None:
    noon = night.night(date(2031, 1, 14), BRUSSELS).from_utc_s
    now_utc_s = noon + (hour - 12) * 3600.0
    assert night.last_evening(now_utc_s, BRUSSELS) == date(2031, 1, evening)


def test_the_low_is_the_coldest_reading_of_the_zones_probes_and_has_its_minute(
    file: Path,
) -> None:
    found = facts_of(file, minutes_of(NIGHT, lambda h: 8.0 - 0.5 * h if h < 12 else 6.0))
    (zone,) = found.zones
    assert zone.low is not None
    assert zone.low.probe == "bench-left"
    assert zone.low.temp_c == pytest.approx(8.0 - 0.5 * (12 - 1 / 60))
    assert zone.low.utc_s == NIGHT.from_utc_s + 12 * 3600 - 60
    assert found.outdoor is not None
    assert found.outdoor.temp_c == -3.0


def test_degree_hours_are_kelvin_below_the_minimum_times_hours(file: Path) -> None:
    # 2 K below the lemon's 4 °C for three hours, and never below the fuchsia's 1 °C.
    found = facts_of(file, minutes_of(NIGHT, lambda h: 2.0 if 3 <= h < 6 else 6.0))
    lemon, fuchsia = found.zones[0].plants
    assert lemon.below_k_h == pytest.approx(6.0)
    assert lemon.below_s == 3 * 3600.0
    assert fuchsia.below_k_h == 0.0
    assert found.zones[0].bands.below_s == 3 * 3600.0


def test_degree_hours_and_energy_agree_with_a_sum_in_sql(file: Path) -> None:
    course: Callable[[float], float] = lambda h: 4.6 - 1.1 * ((h * 7.3) % 3.0)  # noqa: E731
    found = facts_of(file, minutes_of(NIGHT, course, on_s=lambda h: (h * 11.0) % 60.0))
    with closing(sqlite3.connect(file)) as db:
        ((below_k_h,),) = db.execute(
            "SELECT sum(max(0, 4.0 - t)) / 60 FROM (SELECT min(mean_c) AS t FROM minute"
            " JOIN probe ON probe.id = probe WHERE name LIKE 'bench%' AND utc_s >= ? AND utc_s < ?"
            " GROUP BY utc_s)",
            NIGHT,
        )
        ((kwh,),) = db.execute(
            "SELECT sum(on_s) * 1500 / 3.6e6 FROM output_minute WHERE utc_s >= ? AND utc_s < ?",
            NIGHT,
        )
    assert found.zones[0].plants[0].below_k_h == pytest.approx(below_k_h)
    (heater,) = found.ran
    assert heater.kwh == pytest.approx(kwh)
    assert heater.cost == pytest.approx(kwh * 0.32)


BY_HOURS = HOUSE.model_copy(
    update={
        "tariff": Tariff.model_validate(
            {
                "per_kwh": 0.4,
                "hours": [{"from": "22:30", "to": "06:00", "days": "weekdays", "per_kwh": 0.2}],
            }
        )
    }
)


def test_energy_costs_what_it_cost_in_its_hour_as_a_sum_in_sql_says(file: Path) -> None:
    """14 January 2031 is a Tuesday; at Brussels 22:30 is 21:30 UTC, 06:00 is 05:00."""
    written(file, minutes_of(NIGHT, lambda h: 6.0, on_s=lambda h: (h * 11.0) % 60.0), later=True)
    with Journal(file) as journal:
        (heater,) = night.facts(journal, BY_HOURS, NIGHT).ran
        ((_, row),) = winters.by_night(journal, BY_HOURS, EVENING, EVENING + timedelta(days=1))
    with closing(sqlite3.connect(file)) as db:
        ((cost,),) = db.execute(
            "SELECT sum(on_s * 1500 / 3.6e6 * CASE WHEN time(utc_s, 'unixepoch') >= '21:30:00'"
            " OR time(utc_s, 'unixepoch') < '05:00:00' THEN 0.2 ELSE 0.4 END)"
            " FROM output_minute WHERE utc_s >= ? AND utc_s < ?",
            NIGHT,
        )
    assert heater.cost == pytest.approx(cost)
    assert row.cost == pytest.approx(cost), "the table of nights says the same"
    assert heater.kwh is not None
    assert 0.21 < cost / heater.kwh < 0.39


def test_where_the_minutes_are_gone_an_hour_counts_as_if_used_evenly(file: Path) -> None:
    written(file, minutes_of(NIGHT, lambda h: 6.0, on_s=lambda h: 30.0), later=True)
    with closing(sqlite3.connect(file)) as db:
        db.execute("DELETE FROM output_minute")
        db.commit()
    with Journal(file) as journal:
        (heater,) = night.facts(journal, BY_HOURS, NIGHT).ran
    assert heater.cost == pytest.approx(0.75 * (7.5 * 0.2 + 16.5 * 0.4))


def test_what_lies_outside_the_night_does_not_count(file: Path) -> None:
    wide = Span(NIGHT.from_utc_s - 7200.0, NIGHT.to_utc_s + 7200.0)
    found = facts_of(file, minutes_of(wide, lambda h: 6.0 if 2 <= h < 26 else -9.0))
    assert found.zones[0].low is not None
    assert found.zones[0].low.temp_c == 6.0
    assert found.zones[0].bands.seen_s == 86_400.0


def test_gaps_are_stated_and_a_missed_minute_is_none(file: Path) -> None:
    minutes = minutes_of(NIGHT, lambda h: 6.0)
    begin = int(NIGHT.from_utc_s)
    missing = {begin + 60 * 100, *range(begin + 60 * 300, begin + 60 * 330, 60)}
    found = facts_of(file, [each for each in minutes if each.utc_s not in missing])
    assert found.gaps == (Span(begin + 60 * 300, begin + 60 * 330),)


def test_a_verdict_on_a_night_with_a_gap_says_so(file: Path) -> None:
    minutes = minutes_of(NIGHT, lambda h: 6.0)
    begin, end = NIGHT.from_utc_s + 13 * 3600.0, NIGHT.from_utc_s + 18 * 3600.0
    found = facts_of(file, [each for each in minutes if not begin <= each.utc_s < end])
    (zone,) = found.zones
    assert zone.unseen_s == 5 * 3600.0
    assert night_sheet.verdict(zone) == (
        "bench: every plant stayed 2.0 K or more above its minimum, as far as was recorded: "
        "5 h 00 min were not."
    )


def test_a_night_without_a_record_is_one_gap_and_no_number(file: Path) -> None:
    found = facts_of(file, minutes_of(Span(NIGHT.to_utc_s, NIGHT.to_utc_s + 600.0), lambda h: 6.0))
    assert found.gaps == (NIGHT,)
    assert found.outdoor is None
    assert found.zones[0].low is None
    assert found.zones[0].plants[0].below_k_h is None
    assert found.ran == ()
    told = night_sheet.one(found, HOUSE, "the night")
    assert "bench: nothing was measured, so nobody knows." in told


def test_a_probe_that_only_failed_is_no_gap_and_no_temperature(file: Path) -> None:
    minutes: list[Minute] = [
        ProbeMinute(int(NIGHT.from_utc_s) + 60 * i, "bench-left", "", 0, None, None, None, 6)
        for i in range(1440)
    ]
    found = facts_of(file, minutes)
    assert found.gaps == ()
    assert found.zones[0].low is None


def test_where_the_minutes_are_gone_the_hours_answer_and_say_so(file: Path) -> None:
    written(file, minutes_of(NIGHT, lambda h: 2.0 if 3 <= h < 6 else 6.0), later=True)
    with closing(sqlite3.connect(file)) as db, db:
        db.execute("DELETE FROM minute WHERE utc_s < ?", (NIGHT.to_utc_s,))
        db.execute("DELETE FROM output_minute WHERE utc_s < ?", (NIGHT.to_utc_s,))
    with Journal(file) as journal:
        found = night.facts(journal, HOUSE, NIGHT)
    assert found.step_s == 3600
    assert found.zones[0].plants[0].below_k_h == pytest.approx(6.0)
    assert found.gaps == ()
    assert any("by hours" in line for line in night_sheet.one(found, HOUSE, "the night"))


def test_the_sheet_fits_eighty_columns_and_tells_what_counts(file: Path) -> None:
    course = minutes_of(NIGHT, lambda h: 2.0 if 3 <= h < 6 else 6.0, on_s=lambda h: 15.0)
    told = night_sheet.one(facts_of(file, course), HOUSE, "the night of Tuesday 14 January 2031")
    assert max(len(line) for text in told for line in text.splitlines()) <= 80
    text = "\n".join(told)
    assert "bench: fell 2.0 K below its tenderest plant's minimum." in text
    assert "below it for 3 h 00 min, 6.0 K⋅h" in text
    assert "6 h 00 min in 0 pulses, 9.00 kWh, 2.88 EUR" in text


def test_half_an_hour_more_than_utc_is_a_time_zone_too(file: Path) -> None:
    span = night.night(date(2031, 1, 14), ZoneInfo("Asia/Kolkata"))
    assert span.from_utc_s % 3600.0 == 1800.0
    found = facts_of(file, minutes_of(span, lambda h: 6.0), span)
    assert found.gaps == ()
    assert found.zones[0].bands.seen_s == 86_400.0


WEEK = Span(NIGHT.from_utc_s - 3 * 86_400.0 + 1234.0, NIGHT.to_utc_s)


def _a_week(file: Path) -> None:
    """Restless, with gaps, one of which spans a midnight at which the record is cut."""
    begin = int(WEEK.from_utc_s - 1234.0)
    gone = {*range(begin + 40_000, begin + 47_000), *range(begin + 86_000, begin + 88_000)}
    minutes = minutes_of(
        WEEK._replace(from_utc_s=float(begin)),
        lambda h: 3.9 + 3.0 * ((h * 7.31) % 1.0 - 0.5) + 0.02 * h,
        on_s=lambda h: (h * 11.0) % 60.0,
    )
    written(file, [each for each in minutes if each.utc_s not in gone], later=True)


def test_days_read_one_by_one_make_the_figures_of_the_whole(file: Path) -> None:
    """Beside sums over the whole span, made by SQLite and by nothing of the report's."""
    _a_week(file)
    with Journal(file) as journal:
        found = night.facts(journal, HOUSE, WEEK)
        whole = journal.minutes("bench-left", *WEEK)
    with closing(sqlite3.connect(file)) as db:
        ((below_k_h, below_s, near_s, seen_s),) = db.execute(
            "SELECT sum(max(0, 4.0 - t)) / 60, 60 * sum(t < 4.0),"
            " 60 * sum(t >= 4.0 AND t < 5.0), 60 * count(*) FROM"
            " (SELECT min(mean_c) AS t FROM minute JOIN probe ON probe.id = probe"
            " WHERE name LIKE 'bench%' AND utc_s >= ? AND utc_s < ? GROUP BY utc_s)",
            WEEK,
        )
        ((kwh,),) = db.execute(
            "SELECT sum(on_s) * 1500 / 3.6e6 FROM output_minute WHERE utc_s >= ? AND utc_s < ?",
            WEEK,
        )
    (zone,) = found.zones
    assert zone.plants[0].below_k_h == pytest.approx(below_k_h)
    assert zone.bands[:2] == (below_s, near_s)
    assert zone.bands.seen_s == seen_s
    assert zone.low is not None
    assert zone.low.temp_c == min(row.low_c for row in whole if row.low_c is not None)
    assert zone.low.utc_s == min(whole, key=lambda row: row.low_c or 0.0).utc_s
    assert [gap.to_utc_s - gap.from_utc_s for gap in found.gaps] == [7020.0, 1980.0]
    assert found.ran[0].kwh == pytest.approx(kwh)
    assert found.ran[0].cost == pytest.approx(kwh * 0.32)


def test_where_a_part_of_the_minutes_is_gone_its_hours_answer_and_the_rest_by_minutes(
    file: Path,
) -> None:
    _a_week(file)
    with Journal(file) as journal:
        before = night.facts(journal, HOUSE, WEEK)
    gone_before = int(NIGHT.from_utc_s)
    with closing(sqlite3.connect(file)) as db, db:
        db.execute("DELETE FROM minute WHERE utc_s < ?", (gone_before,))
        db.execute("DELETE FROM output_minute WHERE utc_s < ?", (gone_before,))
    with Journal(file) as journal:
        found = night.facts(journal, HOUSE, WEEK)
        last = night.facts(journal, HOUSE, NIGHT)
    assert (found.step_s, last.step_s) == (3600, 60)
    (zone,), (was,) = found.zones, before.zones
    assert zone.low is not None
    assert was.low is not None
    assert zone.low.temp_c == was.low.temp_c, "an hour keeps the coldest of its minutes"
    assert zone.low.within_s == 3600
    assert "in the hour from" in "\n".join(night_sheet.one(found, HOUSE, "the week"))
    # Hours that were seen in part count as whole ones: that is all that is lost.
    assert was.bands.seen_s <= zone.bands.seen_s <= was.bands.seen_s + 4 * 3600.0


def test_what_is_in_memory_does_not_grow_with_the_span(file: Path) -> None:
    _a_week(file)

    def peak(span: Span) -> int:
        tracemalloc.start()
        with Journal(file) as journal:
            night.facts(journal, HOUSE, span)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    peak(NIGHT)  # what is loaded once
    # A day, and the one before it that is just let go; the four of the span would be twice that.
    assert peak(WEEK) < 2.2 * peak(NIGHT)
