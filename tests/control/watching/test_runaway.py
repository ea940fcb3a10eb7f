"""A rise no house makes is told within minutes; sun, hands and bad readings are not that."""

import pytest

from greenkeeper.model import Fault, ProbeMemory
from tests.control.watching.watchman import NOON_UTC_S, Watchman, ramp

CODE = "runaway"


def climbing(minutes: float, k_per_min: float = 3.0, **arguments: object) -> Watchman:
    watchman = Watchman(**arguments)  # type: ignore[arg-type]  # as Watchman names them
    watchman.go(10.0, bench=8.0)
    watchman.go(minutes, bench=ramp(8.0, 60.0 * k_per_min))
    return watchman


def test_four_minutes_of_a_steep_rise_at_night_are_told_and_three_are_not() -> None:
    assert climbing(3.0).first(CODE) is None
    assert climbing(6.0).first(CODE) == pytest.approx(14.0, abs=1.1)
    assert "rose from 8.0 °C to" in climbing(6.0).text(CODE)


def test_a_rise_a_strong_heater_can_make_is_none() -> None:
    assert climbing(10.0, k_per_min=1.9).first(CODE) is None


def test_by_day_it_must_last_as_long_as_the_sun_cannot() -> None:
    assert climbing(9.0, utc_s=NOON_UTC_S).first(CODE) is None
    assert climbing(14.0, utc_s=NOON_UTC_S).first(CODE) == pytest.approx(22.0, abs=1.5)


def test_a_probe_taken_into_a_warm_hand_jumps_and_then_stands() -> None:
    watchman = Watchman()
    watchman.go(10.0, bench=8.0)
    watchman.go(1.0, left=22.0)
    watchman.go(1.0, left=30.0)
    watchman.go(1.0, left=32.5)
    watchman.go(10.0, left=33.0)
    assert watchman.first(CODE) is None


def test_a_pause_in_the_rise_begins_the_wait_anew() -> None:
    watchman = Watchman()
    for base_c in (8.0, 11.0, 14.0, 17.0):
        watchman.go(1.0, bench=base_c)
        watchman.go(1.0, bench=base_c)
    assert watchman.first(CODE) is None


def test_every_probe_inside_counts_and_the_outdoor_one_does_not() -> None:
    ridge, outdoors = Watchman(), Watchman()
    for watchman in (ridge, outdoors):
        watchman.go(5.0)
    ridge.go(7.0, ridge=ramp(8.0, 180.0))
    outdoors.go(7.0, outdoors=ramp(8.0, 180.0))
    assert ridge.first(CODE) is not None
    assert outdoors.first(CODE) is None


def test_what_jumps_too_fast_to_be_believed_still_counts() -> None:
    watchman = Watchman()
    watchman.go(5.0)
    for temp_c in (14.0, 21.0, 29.0, 38.0, 48.0):
        memory = ProbeMemory(good_c=8.0, good_s=0.0, doubt_c=temp_c)
        watchman._probes["ridge"] = memory._replace(doubt_seen_s=watchman.now.mono_s + 60.0)
        watchman.go(1.0, ridge=Fault.JUMPED)
    assert watchman.first(CODE) is not None


def test_a_climb_off_the_scale_has_not_ended() -> None:
    watchman = Watchman()
    watchman.go(5.0)
    for temp_c in (20.0, 40.0, 58.0):
        watchman.go(1.0, bench=temp_c)
    watchman.go(3.0, bench=Fault.OUT_OF_RANGE)
    assert watchman.first(CODE) is not None


def test_by_day_a_probe_that_left_the_scale_may_lie_in_the_sun() -> None:
    watchman = Watchman(utc_s=NOON_UTC_S)
    watchman.go(5.0)
    watchman.go(8.0, bench=ramp(30.0, 210.0))
    watchman.go(15.0, bench=Fault.OUT_OF_RANGE)
    assert watchman.first(CODE) is None


def test_a_probe_that_cannot_be_read_ends_its_climb() -> None:
    watchman = Watchman()
    watchman.go(5.0)
    for minute in range(6):
        watchman.go(1.0, bench=8.0 + 3.0 * minute)
        watchman.go(1.0, bench=Fault.CHECKSUM)
    assert watchman.first(CODE) is None


def test_what_happened_while_the_machine_slept_is_no_rise() -> None:
    watchman = Watchman()
    watchman.go(10.0, bench=8.0)
    for temp_c in (20.0, 30.0, 40.0):
        watchman.pause(900.0)
        watchman.go(1.0, bench=temp_c)
    assert watchman.first(CODE) is None


def test_a_house_described_with_a_strong_heater_may_rise_as_fast_as_it_makes_it() -> None:
    outputs = {
        "heater": {"kind": "modelled", "drives": "heater", "power_w": 6000.0},
        "fan": {"kind": "modelled", "drives": "fan"},
    }
    # 6 kW on 90 kJ/K make 4 K a minute.
    house = {"air_kj_per_k": 90.0, "loss_w_per_k": 55.0}
    strong: dict[str, object] = {"outputs": outputs, "house": house}
    assert climbing(10.0, k_per_min=4.5, **strong).first(CODE) is None
    assert climbing(10.0, k_per_min=6.0, **strong).first(CODE) is not None
