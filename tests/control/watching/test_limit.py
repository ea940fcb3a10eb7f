"""A heater that gives all it can, and is not enough, is told after an hour."""

import pytest

from tests.control.watching.watchman import Watchman, ramp

CODE = "heater-at-limit"


def night(course_k_per_h: float, *, from_c: float = 5.0, minutes: float = 240.0) -> Watchman:
    watchman = Watchman()
    for _ in range(6):  # hard at work until now
        watchman.go(18.0, heater=True, bench=5.2, outdoors=-8.0)
        watchman.go(2.0, bench=5.2, outdoors=-8.0)
    watchman.go(minutes, heater=True, bench=ramp(from_c, course_k_per_h), outdoors=-8.0)
    return watchman


def test_on_for_an_hour_and_a_kelvin_short_without_getting_warmer_is_told() -> None:
    watchman = night(-0.8)  # a kelvin short after 75 minutes
    assert watchman.first(CODE) == pytest.approx(197.0, abs=5.0)
    text = watchman.text(CODE)
    assert "heater on for 100% of 1 h" in text
    assert "instead of 5.0 °C" in text
    assert "it holds 12 K above outdoors; at −11.0 °C there expect 1.0 °C here" in text


def test_a_heater_that_still_gains_is_not_at_its_limit() -> None:
    assert night(0.6, from_c=1.0).first(CODE) is None


def test_a_few_tenths_below_the_setpoint_are_ordinary() -> None:
    assert night(-0.2, minutes=210.0).first(CODE) is None


def test_a_heater_that_rests_has_strength_left() -> None:
    watchman = Watchman()
    for _ in range(15):
        watchman.go(18.0, heater=True, bench=3.5, outdoors=-8.0)
        watchman.go(2.0, bench=3.5, outdoors=-8.0)
    assert watchman.first(CODE) is None


def test_it_is_over_once_the_house_is_warm_enough_or_gets_warmer() -> None:
    watchman = night(-0.8)
    assert CODE in watchman.codes()
    watchman.go(60.0, heater=True, bench=ramp(2.0, 2.0), outdoors=0.0)
    assert CODE not in watchman.codes()


def test_a_heater_whose_heat_does_not_arrive_is_not_also_called_too_small() -> None:
    watchman = Watchman()
    watchman.go(120.0, bench=ramp(7.0, -1.0), outdoors=0.0)
    watchman.go(180.0, heater=True, bench=ramp(5.0, -0.6), outdoors=0.0)
    assert watchman.codes() == {"no-response"}


def test_what_a_fallen_probe_says_is_no_sign_of_a_heater_that_is_too_small() -> None:
    watchman = Watchman()
    watchman.go(300.0, heater=True, left=ramp(2.0, -0.5), right=9.5, outdoors=ramp(1.5, -0.5))
    assert "displaced" in watchman.codes()
    assert watchman.first(CODE) is None


def test_it_can_be_told_without_an_outdoor_probe() -> None:
    watchman = night(-0.8)
    other = Watchman()
    other.go(120.0, heater=True, bench=5.2, outdoors=None)
    other.go(180.0, heater=True, bench=ramp(5.0, -0.8), outdoors=None)
    assert watchman.text(CODE).startswith(other.text(CODE).split(", and")[0])
    assert "outdoors" not in other.text(CODE)
