"""Invented forecasts of a rehearsal: of its own mornings, and out as forecasts are."""

from statistics import mean, pstdev

import pytest

from greenkeeper import sun
from greenkeeper.house.invented_year import InventedYear
from greenkeeper.house.irradiance import clear_sky_w_m2
from greenkeeper.house.weather import Surroundings, Weather
from greenkeeper.rehearsal.foretold import ERROR_SHARE, MADE_BEFORE_S, mornings, sunrise_utc_s
from tests.rehearsal.houses import DAY_S, JANUARY

LATITUDE, LONGITUDE = 51.0, 4.4


class Sky:
    """The same share of it clouded at all times."""

    def __init__(self, share: float) -> None:
        self._through = 1.0 - 0.75 * share**3.4

    def at(self, utc_s: float) -> Surroundings:
        sine = sun.height(utc_s, LATITUDE, LONGITUDE)
        return Surroundings(5.0, self._through * clear_sky_w_m2(sine))


def told(weather: Weather, days: int) -> list[float]:
    ask = mornings(weather, LATITUDE, LONGITUDE)
    found = [ask(JANUARY + day * DAY_S + 6 * 3600.0) for day in range(days)]
    return [each.cloud_share for each in found if each is not None]


def test_half_a_sky_is_foretold_as_half_give_or_take_the_stated_error() -> None:
    shares = told(Sky(0.5), 200)
    assert mean(shares) == pytest.approx(0.5, abs=0.03)
    assert pstdev(shares) == pytest.approx(ERROR_SHARE, rel=0.2)


def test_a_clear_sky_is_mostly_foretold_as_clear_and_an_overcast_one_hardly_ever() -> None:
    assert sum(share <= 0.3 for share in told(Sky(0.0), 100)) >= 85
    assert sum(share <= 0.3 for share in told(Sky(1.0), 100)) == 0


def test_asked_again_it_says_the_same_and_is_nine_hours_old_at_sunrise() -> None:
    year = InventedYear(latitude=LATITUDE, longitude=LONGITUDE, mean_c=10.0, seed=3)
    ask, other = (mornings(year, LATITUDE, LONGITUDE) for _ in range(2))
    for day in (0.2, 1.3, 0.3, 40.4):
        found = ask(JANUARY + day * DAY_S)
        assert found is not None
        assert found == other(JANUARY + day * DAY_S)
        assert found.sunrise_utc_s - found.made_utc_s == MADE_BEFORE_S


def test_the_sun_crosses_the_horizon_at_the_sunrise_and_in_polar_night_nothing_is_foretold() -> (
    None
):
    day = int(JANUARY // DAY_S)
    rise_s = sunrise_utc_s(day, LATITUDE, LONGITUDE)
    assert rise_s is not None
    assert abs(sun.elevation_deg(rise_s, LATITUDE, LONGITUDE)) < 0.01
    assert sun.height(rise_s + 60.0, LATITUDE, LONGITUDE) > 0.0
    assert sunrise_utc_s(day, 80.0, LONGITUDE) is None
    assert mornings(Sky(0.0), 80.0, LONGITUDE)(JANUARY) is None
