"""Prices by the clock on the wall, with the tz database's own summer time."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.settings.prices import Prices, is_one
from greenkeeper.settings.schema import Tariff

BRUSSELS = ZoneInfo("Europe/Brussels")
NIGHTLY = {"from": "22:00", "to": "06:00", "per_kwh": 0.2}
DEAR, CHEAP = 0.4, 0.2


def prices(*hours: dict[str, Any], zone: str = "Europe/Brussels") -> Prices:
    return Prices(Tariff.model_validate({"per_kwh": DEAR, "hours": hours}), ZoneInfo(zone))


def utc_s(text: str, zone: ZoneInfo = BRUSSELS) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=zone).timestamp()


def test_without_hours_there_is_one_price() -> None:
    flat = prices()
    assert flat.flat == flat.at(0.0) == flat.mean(0.0, 3600.0) == flat.of_minute(0) == DEAR


@pytest.mark.parametrize(
    ("moment", "price"),
    [
        ("2031-01-14T21:59:59", DEAR),
        ("2031-01-14T22:00:00", CHEAP),
        ("2031-01-15T05:59:59", CHEAP),
        ("2031-01-15T06:00:00", DEAR),
        ("2031-07-14T22:00:00", CHEAP),  # by summer time as well
    ],
)
def test_hours_begin_and_end_by_the_clock_on_the_wall(moment: str, price: float) -> None:
    assert prices(NIGHTLY).at(utc_s(moment)) == price


def test_hours_over_midnight_belong_to_two_days_each_part_to_its_own() -> None:
    weekdays = prices({**NIGHTLY, "days": "weekdays"})
    assert weekdays.at(utc_s("2031-01-17T23:00")) == CHEAP  # a Friday
    assert weekdays.at(utc_s("2031-01-18T01:00")) == DEAR  # Saturday
    assert weekdays.at(utc_s("2031-01-19T23:00")) == DEAR  # Sunday
    assert weekdays.at(utc_s("2031-01-20T01:00")) == CHEAP  # Monday


def test_a_whole_day_is_written_without_ends() -> None:
    weekend = prices({"days": "weekend", "per_kwh": CHEAP})
    assert weekend.at(utc_s("2031-01-18T00:00")) == CHEAP
    assert weekend.at(utc_s("2031-01-19T23:59")) == CHEAP
    assert weekend.at(utc_s("2031-01-20T00:00")) == DEAR
    assert weekend.of_minute(0) == pytest.approx((5 * DEAR + 2 * CHEAP) / 7)


def test_where_the_clocks_change_the_cheap_night_is_an_hour_shorter_or_longer() -> None:
    night = prices(NIGHTLY)
    for evening, hours in (("2031-01-14", 8), ("2031-03-29", 7), ("2031-10-25", 9)):
        noon = utc_s(f"{evening}T12:00")
        cheap = [h for h in range(24) if night.at(noon + 3600.0 * h) == CHEAP]
        assert len(cheap) == hours


def test_an_hour_in_which_the_price_changes_costs_the_mean_of_its_minutes() -> None:
    late = prices({"from": "22:15", "to": "06:00", "per_kwh": CHEAP})
    hour = utc_s("2031-01-14T22:00")
    assert list(late.minutes(hour, hour + 3600.0)) == [DEAR] * 15 + [CHEAP] * 45
    assert late.mean(hour, hour + 3600.0) == pytest.approx((DEAR + 3 * CHEAP) / 4)
    assert is_one(late.minutes(hour + 3600.0, hour + 7200.0))


def test_an_hour_of_the_record_lies_across_two_hours_of_a_half_hour_zone() -> None:
    kolkata = prices(NIGHTLY, zone="Asia/Kolkata")
    hour = utc_s("2031-01-14T21:30", ZoneInfo("Asia/Kolkata"))
    assert kolkata.mean(hour, hour + 3600.0) == pytest.approx((DEAR + CHEAP) / 2)
    midnight = utc_s("2031-01-17T23:30", ZoneInfo("Asia/Kolkata"))  # from Friday to Saturday
    ends = prices({"days": "weekend", "per_kwh": CHEAP}, zone="Asia/Kolkata")
    assert ends.mean(midnight, midnight + 3600.0) == pytest.approx((DEAR + CHEAP) / 2)


@given(
    st.sampled_from(["Europe/Brussels", "Australia/Lord_Howe", "America/St_Johns", "UTC"]),
    st.integers(0, 366 * 24 * 2),
    st.integers(0, 1439),
    st.integers(0, 1439),
    st.sampled_from(["all", "weekdays", "weekend"]),
)
def test_the_mean_of_an_hour_is_that_of_its_minutes(
    zone: str, half_hours: int, begins: int, ends: int, days: str
) -> None:
    clock = [f"{minute // 60:02d}:{minute % 60:02d}" for minute in (begins, ends)]
    one = prices({"from": clock[0], "to": clock[1], "days": days, "per_kwh": CHEAP}, zone=zone)
    from_s = utc_s("2031-01-01T00:00") + 1800.0 * half_hours
    single = [one.at(from_s + 60.0 * minute) for minute in range(60)]
    assert one.mean(from_s, from_s + 3600.0) == pytest.approx(sum(single) / 60)
    assert list(one.minutes(from_s, from_s + 3600.0)) == single
