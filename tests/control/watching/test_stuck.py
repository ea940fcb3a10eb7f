"""Heat that does not end is told in the dark, and sun, wind, doors and fronts never are."""

import math

import pytest

from greenkeeper.model import Place
from tests.control.watching.watchman import (
    MIDNIGHT_UTC_S,
    NOON_UTC_S,
    SITE,
    Course,
    Watchman,
    ramp,
)

CODE = "stuck-on"
NOWHERE = {key: value for key, value in SITE.items() if key not in ("latitude", "longitude")}


def dusk(bench_c: float = 8.0, **arguments: object) -> Watchman:
    """Half past six on a January evening, dark for an hour and a half; idle all the time."""
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S - 8.0 * 3600.0, **arguments)  # type: ignore[arg-type]
    watchman.go(150.0, bench=bench_c, outdoors=2.0)
    return watchman


def left_by_the_sun(outdoor_c: float, lift_k: float, constant_h: float) -> Course:
    """Of so much above outdoors, what is left after so long; in steps of a probe."""

    def course(minute: float) -> float:
        left_k = lift_k * math.exp(-minute / 60.0 / constant_h)
        return round((outdoor_c + left_k) * 16.0) / 16.0

    return course


def test_a_rise_of_some_kelvin_in_the_dark_without_heat_is_told() -> None:
    watchman = dusk()
    watchman.go(90.0, bench=ramp(8.0, 4.0), outdoors=2.0)
    told = watchman.first(CODE)
    assert told is not None
    assert 180.0 < told < 215.0  # 2 K and a tenth of the 8 K above outdoors, at 4 K an hour
    assert "rose by" in watchman.text(CODE)
    assert "though heater has been off for" in watchman.text(CODE)


def test_the_same_rise_by_day_is_the_sun() -> None:
    watchman = Watchman(utc_s=NOON_UTC_S - 3.0 * 3600.0)
    watchman.go(90.0, bench=8.0, outdoors=2.0)
    watchman.go(180.0, bench=ramp(8.0, 12.0), outdoors=2.0)
    assert watchman.first(CODE) is None


@pytest.mark.parametrize("arguments", [{"site": NOWHERE}, {"trusted": False}])
def test_who_cannot_know_whether_it_is_dark_says_nothing(arguments: dict[str, object]) -> None:
    watchman = dusk(**arguments)  # type: ignore[arg-type]  # as Watchman names them
    watchman.go(240.0, bench=ramp(8.0, 4.0), outdoors=2.0)
    assert watchman.first(CODE) is None


def test_a_rise_while_the_heater_is_on_or_has_just_been_is_its_own() -> None:
    watchman = dusk()
    for _ in range(6):
        watchman.go(20.0, heater=True, bench=ramp(8.0, 12.0), outdoors=2.0)
        watchman.go(20.0, bench=ramp(12.0, 3.0), outdoors=2.0)
    assert watchman.first(CODE) is None


def test_what_a_warm_front_brings_is_not_held_against_the_heater() -> None:
    watchman = dusk()
    watchman.go(180.0, bench=ramp(8.0, 2.5), outdoors=ramp(2.0, 3.5))
    assert watchman.first(CODE) is None


def test_the_air_coming_back_after_cooling_or_a_closed_door_is_not_either() -> None:
    cooled, vented = dusk(), dusk()
    cooled.go(10.0, fan=True, bench=ramp(8.0, -18.0), outdoors=2.0)
    vented.go(10.0, vent=Place.OPEN, bench=ramp(8.0, -18.0), outdoors=2.0)
    for watchman in (cooled, vented):
        watchman.go(30.0, bench=ramp(5.0, 6.0), outdoors=2.0)
        watchman.go(60.0, bench=8.0, outdoors=2.0)
        assert watchman.first(CODE) is None


def test_one_probe_that_rises_alone_lies_in_a_warm_hand() -> None:
    watchman = dusk()
    watchman.go(90.0, left=ramp(8.0, 10.0), right=8.0, outdoors=2.0)
    assert watchman.first(CODE) is None


def test_without_an_outdoor_probe_a_rise_must_be_greater_than_a_front_could_make_it() -> None:
    site = {key: value for key, value in SITE.items() if key != "outdoor_probe"}
    small, great = dusk(site=site), dusk(site=site)
    small.go(90.0, bench=ramp(8.0, 3.5))
    great.go(120.0, bench=ramp(8.0, 6.0))
    assert small.first(CODE) is None
    assert great.first(CODE) is not None


def test_far_above_outdoors_after_two_dark_hours_is_told_even_while_it_gets_colder() -> None:
    watchman = dusk(28.0)
    watchman.go(60.0, bench=ramp(28.0, -1.0), outdoors=2.0)
    assert watchman.first(CODE) == pytest.approx(151.0, abs=30.0)
    assert "above outdoors" in watchman.text(CODE)


@pytest.mark.parametrize(("constant_h", "told"), [(4.0, False), (40.0, False), (200.0, True)])
def test_what_comes_down_as_warmth_left_by_the_sun_must_is_not(constant_h, told) -> None:
    """4 h: the example's tent, of film. 40 h: one full of water. 200 h: no such body is known."""
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S - 8.0 * 3600.0)
    watchman.go(600.0, bench=left_by_the_sun(2.0, 60.0, constant_h), outdoors=2.0)
    assert (watchman.first(CODE) is not None) is told


def test_a_fan_that_does_not_reach_into_a_warm_tent_is_no_sign_of_a_heater() -> None:
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S - 8.0 * 3600.0)
    watchman.go(600.0, fan=True, bench=left_by_the_sun(2.0, 60.0, 20.0), outdoors=2.0)
    assert watchman.first(CODE) is None


def test_as_far_above_outdoors_as_a_heavy_house_holds_itself_is_not() -> None:
    watchman = dusk(25.0)
    watchman.go(240.0, bench=ramp(25.0, -1.0), outdoors=2.0)
    assert watchman.first(CODE) is None


def test_late_in_a_long_night_less_is_enough() -> None:
    watchman = dusk(21.5)
    watchman.go(10.0 * 60.0, bench=21.5, outdoors=2.0)
    told = watchman.first(CODE)
    assert told is not None
    assert told > 8.5 * 60.0


def test_cooling_that_works_far_into_the_night_tells_of_a_heater_that_works() -> None:
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S - 8.0 * 3600.0)
    watchman.go(120.0, bench=25.0, outdoors=14.0)
    for _ in range(24):
        watchman.go(6.0, fan=True, bench=ramp(26.0, -15.0), outdoors=14.0)
        watchman.go(4.0, bench=ramp(24.5, 22.0), outdoors=14.0)
    assert watchman.first(CODE) is not None
    assert "being cooled" in watchman.text(CODE)


def test_cooling_in_the_evening_of_a_hot_day_is_ordinary() -> None:
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S - 8.0 * 3600.0)
    watchman.go(150.0, fan=True, bench=25.0, outdoors=14.0)
    watchman.go(240.0, bench=ramp(24.0, -1.5), outdoors=ramp(14.0, -0.5))
    assert watchman.first(CODE) is None


def test_only_the_outdoor_probe_can_say_how_far_above_outdoors_it_is() -> None:
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S - 8.0 * 3600.0)
    watchman.go(390.0, bench=ramp(28.0, -0.5), outdoors=None)
    assert watchman.first(CODE) is None


def test_after_a_pause_nobody_knows_whether_it_was_being_cooled() -> None:
    watchman = dusk(18.0)
    watchman.go(120.0, bench=ramp(18.0, -0.5), outdoors=2.0)
    watchman.pause(900.0)
    watchman.go(120.0, bench=ramp(16.0, -0.5), outdoors=2.0)
    assert watchman.first(CODE) is None


def test_late_in_the_night_a_little_cooling_is_enough() -> None:
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S - 8.0 * 3600.0)
    watchman.go(300.0, bench=25.0, outdoors=14.0)
    for _ in range(12):
        watchman.go(12.0, fan=True, bench=ramp(26.0, -7.5), outdoors=14.0)
        watchman.go(48.0, bench=ramp(24.5, 1.8), outdoors=14.0)
    told = watchman.first(CODE)
    assert told is not None
    assert told > 8.0 * 60.0
