"""Sums over nights and winters, from whole hours."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from greenkeeper.journal.reader import Journal
from greenkeeper.reports import night, night_sheet, winters
from greenkeeper.reports.night import Span
from tests.reports.nights import BRUSSELS, EVENING, HOUSE, minutes_of, written

# One row an hour is enough for sums by hours, and quick to write for two years.
HOUR_S = 3600


def _from(first: date, nights: int) -> Span:
    return Span(
        night.night(first, BRUSSELS).from_utc_s,
        night.night(first + timedelta(days=nights), BRUSSELS).from_utc_s,
    )


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"


def test_every_night_gets_its_own_low_heat_and_energy(file: Path) -> None:
    span = _from(EVENING, 3)
    course = minutes_of(
        span,
        lambda h: 6.0 - h // 24,
        on_s=lambda h: 60.0 if h >= 24 else 0.0,
        step_s=HOUR_S,
    )
    written(file, course, later=True)
    with Journal(file) as journal:
        rows = winters.by_night(journal, HOUSE, EVENING, EVENING + timedelta(days=3))
    assert [day for day, _ in rows] == [EVENING + timedelta(days=i) for i in range(3)]
    assert [each.zone_lows_c["bench"] for _, each in rows] == [6.0, 5.0, 4.0]
    assert [each.heat_s for _, each in rows] == [0.0, 24 * 60.0, 24 * 60.0]
    assert rows[1][1].kwh == pytest.approx(24 * 60 * 1500 / 3.6e6)
    assert rows[1][1].cost == pytest.approx(24 * 60 * 1500 / 3.6e6 * 0.32)
    assert all(each.recorded_h == 24 and each.hours == 24 for _, each in rows)


def test_the_nights_of_a_span_are_its_sum(file: Path) -> None:
    span = _from(date(2031, 3, 27), 5)  # the clocks change in one of these
    written(file, minutes_of(span, lambda h: 6.0, on_s=lambda h: 7.0, step_s=HOUR_S), later=True)
    with Journal(file) as journal:
        rows = winters.by_night(journal, HOUSE, date(2031, 3, 27), date(2031, 4, 1))
        whole_s = journal.on_seconds("heater", *span)
    assert sum(each.heat_s or 0.0 for _, each in rows) == whole_s
    assert [each.hours for _, each in rows] == [24, 24, 23, 24, 24]
    assert [each.recorded_h for _, each in rows] == [24, 24, 23, 24, 24]


def test_a_night_nobody_watched_is_no_number(file: Path) -> None:
    written(file, minutes_of(_from(EVENING, 1), lambda h: 3.0, step_s=HOUR_S), later=True)
    with Journal(file) as journal:
        rows = winters.by_night(
            journal, HOUSE, EVENING - timedelta(days=1), EVENING + timedelta(days=1)
        )
    unknown, cold = (each for _, each in rows)
    assert (unknown.outdoor_low_c, unknown.heat_s, unknown.kwh, unknown.cost) == (None,) * 4
    assert cold.below == ("bench",)
    told = night_sheet.nights(rows, HOUSE)
    assert told[2].endswith("no record")
    assert "too cold: bench" in told[3]
    assert max(map(len, told)) <= 80


@pytest.mark.parametrize(
    ("evening", "southern", "name", "first"),
    [
        (date(2031, 1, 14), False, "2030/31", date(2030, 7, 1)),
        (date(2031, 6, 30), False, "2030/31", date(2030, 7, 1)),
        (date(2031, 7, 1), False, "2031/32", date(2031, 7, 1)),
        (date(2099, 12, 31), False, "2099/00", date(2099, 7, 1)),
        (date(2031, 7, 1), True, "2031", date(2031, 1, 1)),
    ],
)
def test_no_winter_is_cut_where_it_is_cold(
    evening: date, southern: bool, name: str, first: date
) -> None:
    winter = winters.winter_of(evening, southern=southern)
    assert (winter.name, winter.first) == (name, first)


def test_this_winter_stands_beside_the_last_one_to_the_same_day(file: Path) -> None:
    last, this = date(2029, 12, 1), date(2030, 12, 1)
    written(
        file,
        minutes_of(_from(last, 60), lambda h: 5.0, on_s=lambda h: 60.0, step_s=HOUR_S),
        later=True,
    )
    written(
        file,
        minutes_of(_from(this, 30), lambda h: 3.0, on_s=lambda h: 30.0, step_s=HOUR_S),
        later=True,
    )
    with Journal(file) as journal:
        so_far, by_then, whole = winters.winters(journal, HOUSE, date(2030, 12, 30))
    assert (so_far.name, by_then.name) == ("2030/31 so far", "2029/30 by then")
    assert (so_far.nights, by_then.nights) == (30, 30)
    assert whole.nights >= 60
    assert so_far.below == 30
    assert whole.below == 0
    assert so_far.heat_s == 30 * 24 * 30.0
    assert by_then.heat_s == 30 * 24 * 60.0
    assert so_far.with_frost == 30
    # It was -3 °C outdoors all the time.
    assert (so_far.first_frost, so_far.last_frost) == ("2030-12-01", "2030-12-30")
    assert so_far.frost_k_h == pytest.approx(30 * 24 * 3.0)
    told = night_sheet.winters([so_far, by_then, whole], HOUSE)
    assert max(map(len, told)) <= 80


def test_the_first_and_the_last_frost_are_nights_and_a_mild_winter_has_none(file: Path) -> None:
    begins = _from(date(2030, 11, 1), 20)

    def outdoor_c(hours: float) -> float:
        return -1.0 if int(hours // 24) in (4, 9) and hours % 24 == 18 else 2.0

    written(
        file,
        minutes_of(begins, lambda h: 6.0, outdoor_c=outdoor_c, step_s=HOUR_S),
        later=True,
    )
    with Journal(file) as journal:
        (whole,) = winters.winters(journal, HOUSE, date(2030, 11, 19))
        (mild,) = winters.winters(journal, HOUSE, date(2030, 11, 3))
    assert (whole.first_frost, whole.last_frost) == ("2030-11-05", "2030-11-10")
    assert whole.frost_k_h == pytest.approx(2.0)
    assert (mild.first_frost, mild.last_frost, mild.frost_k_h) == (None, None, 0.0)
    told = night_sheet.winters([whole], HOUSE)
    assert any("first frost" in line and line.endswith("5 Nov 2030") for line in told)


def test_a_first_winter_stands_alone(file: Path) -> None:
    written(file, minutes_of(_from(EVENING, 2), lambda h: 6.0, step_s=HOUR_S), later=True)
    with Journal(file) as journal:
        (only,) = winters.winters(journal, HOUSE, EVENING + timedelta(days=1))
    assert only.nights == 2
