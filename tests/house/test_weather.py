"""The invented frosty night: its published evening, its smoothness, its repeatability."""

import itertools

import pytest

from greenkeeper.house.weather import DAY_S, FrostyNight, root_of_time_c
from tests.support import tables

DAWN_UTC_S = 1_768_348_800.0  # 2026-01-14 00:00 UTC


def _hours(weather: FrostyNight, step_s: float = 60.0) -> list[tuple[float, float, float]]:
    """(hour, outdoor_c, sun_w_m2) through one day from noon."""
    start_s = DAWN_UTC_S + DAY_S / 2.0
    seen = []
    for step in range(int(DAY_S / step_s)):
        at = weather.at(start_s + step * step_s)
        seen.append(((12.0 + step * step_s / 3600.0) % 24.0, at.outdoor_c, at.sun_w_m2))
    return seen


@pytest.mark.parametrize("row", tables.rows("evening_trend"), ids=lambda r: r["after_sunset_h"])
def test_the_evening_falls_as_published(row: dict[str, str]) -> None:
    after_h = float(row["after_sunset_h"])
    fahrenheit = root_of_time_c(after_h, 33.7, 22.2, 15.0)
    celsius = root_of_time_c(after_h, 0.95, -5.45, 15.0)
    assert fahrenheit == pytest.approx(float(row["fahrenheit"]), abs=6e-6)
    assert celsius == pytest.approx(float(row["celsius"]), abs=6e-8)


@pytest.mark.parametrize("row", tables.rows("evening_trend"), ids=lambda r: r["after_sunset_h"])
def test_the_whole_weather_keeps_to_the_published_evening(row: dict[str, str]) -> None:
    sunset_h, sunrise_h = 16.5, 7.5  # 15 hours of night
    weather = FrostyNight(
        low_c=-5.45, evening_c=0.95, unrest_k=0.0, sunset_h=sunset_h, sunrise_h=sunrise_h
    )
    utc_s = DAWN_UTC_S + (sunset_h + float(row["after_sunset_h"])) * 3600.0
    assert weather.at(utc_s).outdoor_c == pytest.approx(float(row["celsius"]), abs=6e-8)


def test_it_is_coldest_shortly_after_sunrise_and_warmest_after_noon() -> None:
    hours = _hours(FrostyNight(unrest_k=0.0, sunrise_h=7.5))
    coldest = min(hours, key=lambda at: at[1])
    warmest = max(hours, key=lambda at: at[1])
    assert 7.5 < coldest[0] < 8.5
    assert coldest[1] == pytest.approx(-5.0, abs=0.2)
    assert 12.0 < warmest[0] < 15.0
    assert warmest[1] == pytest.approx(7.0, abs=0.01)


def test_temperature_runs_without_step_or_kink() -> None:
    temps_c = [at[1] for at in _hours(FrostyNight(unrest_k=0.0))]
    slopes = [b - a for a, b in itertools.pairwise(temps_c)]  # K per minute
    bends = [b - a for a, b in itertools.pairwise(slopes)]
    assert max(map(abs, slopes)) < 0.06
    assert max(map(abs, bends)) < 0.002


def test_from_afternoon_to_sunrise_it_only_falls() -> None:
    night = [c for h, c, _ in _hours(FrostyNight(unrest_k=0.0)) if not 7.5 <= h <= 13.4]
    assert all(b < a for a, b in itertools.pairwise(night))


def test_sun_shines_by_day_only_and_never_below_nothing() -> None:
    for hour, _, sun_w_m2 in _hours(FrostyNight(sunrise_h=7.5, sunset_h=16.25)):
        if 7.6 < hour < 16.15:
            assert 0.0 < sun_w_m2 <= 300.0
        elif not 7.5 < hour < 16.25:
            assert sun_w_m2 == 0.0


def test_unrest_is_slight_repeatable_and_different_every_day() -> None:
    calm, first = FrostyNight(unrest_k=0.0), FrostyNight(unrest_k=0.3, seed=5)
    again, other = FrostyNight(unrest_k=0.3, seed=5), FrostyNight(unrest_k=0.3, seed=6)
    moments = [DAWN_UTC_S + 600.0 * k for k in range(144)]
    strays = [first.at(t).outdoor_c - calm.at(t).outdoor_c for t in moments]
    assert [first.at(t) for t in moments] == [again.at(t) for t in moments]
    assert [first.at(t) for t in moments] != [other.at(t) for t in moments]
    assert 0.15 < max(map(abs, strays)) <= 0.3
    next_day = [first.at(t + DAY_S).outdoor_c - calm.at(t).outdoor_c for t in moments]
    assert max(abs(a - b) for a, b in zip(strays, next_day, strict=True)) > 0.15


def test_figures_that_make_no_winter_day_are_refused() -> None:
    with pytest.raises(ValueError, match="low_c < evening_c < high_c"):
        FrostyNight(low_c=3.0)
    with pytest.raises(ValueError, match="sunrise_h"):
        FrostyNight(sunrise_h=13.0)
