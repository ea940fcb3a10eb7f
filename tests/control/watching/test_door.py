"""A fall no closed house makes means a door, in the dark and without heat or cooling."""

import pytest

from tests.control.watching.watchman import NOON_UTC_S, SITE, Watchman, ramp

CODE = "door-open"


def idle(**arguments: object) -> Watchman:
    watchman = Watchman(**arguments)  # type: ignore[arg-type]  # as Watchman names them
    watchman.go(60.0, bench=8.0, outdoors=-2.0)
    return watchman


def test_a_third_of_what_the_house_held_lost_in_minutes_is_a_door() -> None:
    watchman = idle()
    watchman.go(20.0, bench=ramp(8.0, -24.0), outdoors=-2.0)
    assert watchman.first(CODE) == pytest.approx(68.0, abs=2.0)
    assert "is a door or a pane open?" in watchman.text(CODE)


def test_a_closed_house_cools_more_slowly_than_that() -> None:
    watchman = idle()
    watchman.go(60.0, bench=ramp(8.0, -8.0), outdoors=-2.0)
    assert watchman.first(CODE) is None


def test_a_cold_gust_outdoors_is_left_out() -> None:
    watchman = idle()
    watchman.go(20.0, bench=ramp(8.0, -15.0), outdoors=ramp(-2.0, -12.0))
    assert watchman.first(CODE) is None


def test_by_day_a_cloud_does_the_same() -> None:
    watchman = idle(utc_s=NOON_UTC_S)
    watchman.go(20.0, bench=ramp(8.0, -24.0), outdoors=-2.0)
    assert watchman.first(CODE) is None


@pytest.mark.parametrize("work", ["heater", "fan"])
def test_heat_or_cooling_that_has_just_ended_explains_a_fall(work: str) -> None:
    watchman = idle()
    watchman.go(20.0, heater=work == "heater", fan=work == "fan", bench=10.0, outdoors=-2.0)
    watchman.go(20.0, bench=ramp(10.0, -24.0), outdoors=-2.0)
    assert watchman.first(CODE) is None


def test_one_probe_that_falls_alone_is_no_door() -> None:
    watchman = idle()
    watchman.go(20.0, left=ramp(8.0, -24.0), right=8.0, outdoors=-2.0)
    assert watchman.first(CODE) is None


def test_without_an_outdoor_probe_it_must_fall_further() -> None:
    site = {key: value for key, value in SITE.items() if key != "outdoor_probe"}
    small, great = idle(site=site), idle(site=site)
    small.go(10.0, bench=ramp(8.0, -21.0))
    great.go(15.0, bench=ramp(8.0, -27.0))
    assert small.first(CODE) is None
    assert great.first(CODE) is not None


def test_it_is_over_once_half_of_the_fall_is_made_good() -> None:
    watchman = idle()
    watchman.go(12.0, bench=ramp(8.0, -24.0), outdoors=-2.0)
    watchman.go(10.0, bench=3.2, outdoors=-2.0)
    assert CODE in watchman.codes()
    watchman.go(20.0, bench=ramp(3.2, 15.0), outdoors=-2.0)
    assert CODE not in watchman.codes()


def test_it_is_over_after_an_hour_whatever_happens() -> None:
    watchman = idle()
    watchman.go(12.0, bench=ramp(8.0, -24.0), outdoors=-2.0)
    watchman.go(65.0, bench=3.2, outdoors=-2.0)
    assert CODE not in watchman.codes()
