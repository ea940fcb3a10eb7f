"""An invented year: repeatable, seasonal, never jumping, and its sun where the sun is."""

from datetime import UTC, datetime

import pytest

from greenkeeper import sun
from greenkeeper.house.invented_year import InventedYear

HOUR_S = 3600.0
BEGINS_S = datetime(2026, 1, 1, tzinfo=UTC).timestamp()


def hours(weather: InventedYear, month: int, days: int = 28):
    start_s = datetime(2026, month, 1, tzinfo=UTC).timestamp()
    return [weather.at(start_s + hour * HOUR_S) for hour in range(days * 24)]


def mean_c(weather: InventedYear, month: int) -> float:
    around = hours(weather, month)
    return sum(each.outdoor_c for each in around) / len(around)


def test_the_same_seed_makes_the_same_year_and_another_a_different_one() -> None:
    year, again, other = InventedYear(seed=3), InventedYear(seed=3), InventedYear(seed=4)
    later_s = BEGINS_S + 40 * 86_400.0
    assert year.at(later_s) == again.at(later_s)
    assert year.at(later_s) != other.at(later_s)


def test_the_past_is_the_same_after_the_future_was_asked() -> None:
    year = InventedYear()
    before = year.at(BEGINS_S)
    for day in range(40):
        year.at(BEGINS_S + day * 86_400.0)
    assert year.at(BEGINS_S) == before


@pytest.mark.parametrize("seed", range(5))
def test_summer_is_warm_and_winter_has_frost(seed: int) -> None:
    year = InventedYear(seed=seed)
    assert mean_c(year, 7) > mean_c(year, 1) + 10.0
    assert min(each.outdoor_c for month in (1, 2, 12) for each in hours(year, month)) < -3.0
    assert max(each.outdoor_c for month in (6, 7, 8) for each in hours(year, month)) > 25.0


def test_south_of_the_equator_july_is_the_cold_month() -> None:
    south = InventedYear(latitude=-38.0, longitude=145.0)
    assert mean_c(south, 7) < mean_c(south, 1) - 10.0


def test_the_sun_shines_only_while_it_is_up_and_most_from_a_clear_sky() -> None:
    year = InventedYear(latitude=50.8, longitude=4.4)
    for minute in range(0, 4 * 365 * 1440, 401):
        utc_s = BEGINS_S + minute * 60.0
        sun_w_m2 = year.at(utc_s).sun_w_m2
        elevation = sun.elevation_deg(utc_s, 50.8, 4.4)
        assert (sun_w_m2 > 0.0) is (elevation > 0.0) or sun_w_m2 < 1e-6
        assert sun_w_m2 < 1000.0
    assert max(each.sun_w_m2 for each in hours(year, 6)) > 700.0


def test_air_and_wind_never_jump_from_one_minute_to_the_next() -> None:
    year = InventedYear(seed=2)
    before = year.at(BEGINS_S)
    for minute in range(1, 30 * 1440):
        now = year.at(BEGINS_S + minute * 60.0)
        assert abs(now.outdoor_c - before.outdoor_c) < 0.4
        assert abs(now.wind_m_s - before.wind_m_s) < 1.5
        before = now


def test_there_are_clear_and_dull_days_calms_and_gales() -> None:
    around = [each for month in (4, 5, 6) for each in hours(InventedYear(), month)]
    noons = [each.sun_w_m2 for each in around[12::24]]
    assert max(noons) > 3.0 * min(noons)
    assert min(each.wind_m_s for each in around) < 1.0
    assert max(each.wind_m_s for each in around) > 9.0


def test_a_place_with_a_polar_night_is_refused() -> None:
    with pytest.raises(ValueError, match="sunrise"):
        InventedYear(latitude=69.0)
