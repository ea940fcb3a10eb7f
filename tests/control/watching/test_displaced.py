"""A probe that reads like outdoors, while its zone is warm, has fallen there."""

import pytest

from tests.control.houses import zone
from tests.control.watching.watchman import NOON_UTC_S, SITE, Watchman, ramp

CODE = "displaced"


@pytest.mark.parametrize(("neighbour_c", "minutes"), [(5.6, 60.0), (9.5, 30.0), (17.5, 15.0)])
def test_a_probe_like_outdoors_is_named_the_sooner_the_warmer_its_neighbour_is(
    neighbour_c: float, minutes: float
) -> None:
    watchman = Watchman()
    watchman.go(
        120.0,
        heater=True,
        left=ramp(2.0, -0.5),
        right=ramp(neighbour_c, -0.5),
        outdoors=ramp(1.5, -0.5),
    )
    assert watchman.first(CODE) == pytest.approx(minutes, abs=7.0)
    assert "bench-left reads" in watchman.text(CODE)
    assert [each.subject for _, each in watchman.seen if each.code == CODE] == ["bench-left"]


def test_by_day_a_neighbour_that_is_warm_without_heat_hangs_in_the_sun() -> None:
    day, night = Watchman(utc_s=NOON_UTC_S - 2.0 * 3600.0), Watchman()
    for watchman in (day, night):
        watchman.go(240.0, left=9.5, right=28.0, outdoors=9.0)
    assert day.first(CODE) is None
    assert night.first(CODE) is not None


def test_a_house_without_heat_or_sun_reads_like_outdoors_everywhere() -> None:
    watchman = Watchman()
    watchman.go(360.0, bench=2.5, outdoors=2.0)
    assert watchman.first(CODE) is None


def test_coming_near_outdoors_for_half_an_hour_is_nothing() -> None:
    watchman = Watchman()
    for _ in range(6):
        watchman.go(40.0, heater=True, left=2.0, right=8.0, outdoors=1.5)
        watchman.go(10.0, heater=True, left=4.0, right=8.0, outdoors=1.5)
    assert watchman.first(CODE) is None


def test_the_only_probe_of_a_heated_zone_is_named_with_the_other_explanation() -> None:
    watchman = Watchman(zones=zone(probes=["bench-left"]))
    for _ in range(8):
        watchman.go(20.0, heater=True, left=2.0, outdoors=1.5)
        watchman.go(10.0, left=2.0, outdoors=1.5)
    assert watchman.first(CODE) is not None
    assert "does the heat not arrive?" in watchman.text(CODE)


def test_the_only_probe_of_an_idle_zone_is_not() -> None:
    watchman = Watchman(zones=zone(probes=["bench-left"]))
    watchman.go(360.0, left=2.0, outdoors=1.5)
    assert watchman.first(CODE) is None


def test_without_an_outdoor_probe_nobody_knows() -> None:
    site = {key: value for key, value in SITE.items() if key != "outdoor_probe"}
    watchman = Watchman(site=site)
    watchman.go(360.0, heater=True, left=2.0, right=8.0, outdoors=1.5)
    assert watchman.first(CODE) is None


def test_it_is_over_once_the_probe_hangs_in_its_place_again() -> None:
    watchman = Watchman()
    watchman.go(240.0, heater=True, left=2.0, right=8.0, outdoors=1.5)
    assert CODE in watchman.codes()
    watchman.go(10.0, heater=True, bench=8.0, outdoors=1.5)
    assert CODE not in watchman.codes()
