"""Heat that does not arrive is told within half an hour, and heat that does never is."""

import pytest
from hypothesis import example, given
from hypothesis import settings as trying
from hypothesis import strategies as st

from greenkeeper.model import Fault
from tests.control.houses import ONE_ZONE, zone
from tests.control.watching.watchman import NOON_UTC_S, Course, Watchman, ramp

CODE = "no-response"
HEAT = {"output": "heater", "setpoint_c": 5.0}
PATIENT = zone(heat={**HEAT, "response_within_s": 7200.0})


def rested(**arguments: object) -> Watchman:
    """After two idle hours in which the house cooled down to where heat is wanted."""
    watchman = Watchman(**arguments)  # type: ignore[arg-type]  # as Watchman names them
    watchman.go(120.0, bench=ramp(7.0, -1.0), outdoors=0.0)
    return watchman


def test_a_heater_without_effect_is_told_after_half_an_hour_and_not_before() -> None:
    watchman = rested()
    watchman.go(60.0, heater=True, bench=ramp(5.0, -1.0), outdoors=0.0)
    assert watchman.first(CODE) == pytest.approx(150.0, abs=1.5)
    assert "heater on for 30 min" in watchman.text(CODE)
    assert "outdoors 0.0 °C" in watchman.text(CODE)


def test_a_heater_that_warms_the_house_by_little_but_steadily_is_never_told() -> None:
    watchman = rested()
    watchman.go(240.0, heater=True, bench=ramp(5.0, 0.8), outdoors=0.0)
    assert CODE not in watchman.codes()


def test_standing_still_while_it_gets_colder_outdoors_is_an_effect() -> None:
    watchman = rested()
    watchman.go(60.0, heater=True, bench=5.0, outdoors=ramp(0.0, -3.0))
    assert watchman.first(CODE) is None


def test_a_heater_hard_at_work_may_stand_still_for_hours() -> None:
    watchman = Watchman()
    for _ in range(6):
        watchman.go(16.0, heater=True, bench=5.2, outdoors=-8.0)
        watchman.go(4.0, bench=5.2, outdoors=-8.0)
    watchman.go(180.0, heater=True, bench=ramp(5.2, -0.3), outdoors=-8.0)
    assert watchman.first(CODE) is None


def after_a_sunny_day(bench_c: float) -> Watchman:
    """The sun did the heating until now, and leaves the house where heat is wanted."""
    watchman = Watchman()
    watchman.go(120.0, bench=ramp(bench_c + 6.0, -3.0), outdoors=-8.0)
    return watchman


def test_a_heater_that_holds_the_evening_after_a_sunny_day_is_none_that_gives_no_heat() -> None:
    watchman = after_a_sunny_day(5.2)
    watchman.go(300.0, heater=True, bench=5.2, outdoors=-8.0)
    assert watchman.first(CODE) is None


def test_nor_is_one_that_falls_short_hours_later_as_far_above_outdoors_as_before() -> None:
    still, colder = after_a_sunny_day(5.3), after_a_sunny_day(6.5)
    still.go(420.0, heater=True, bench=ramp(5.3, -0.15), outdoors=-8.0)
    colder.go(420.0, heater=True, bench=ramp(6.5, -0.5), outdoors=ramp(-8.0, -0.6))
    assert still.first(CODE) is colder.first(CODE) is None


def test_one_that_dies_then_is_told_as_soon_as_its_zone_falls_short() -> None:
    watchman = after_a_sunny_day(5.6)
    watchman.go(120.0, heater=True, bench=ramp(5.6, -1.0), outdoors=-8.0)
    assert watchman.first(CODE) == pytest.approx(120.0 + 36.0, abs=2.0)


def test_a_hard_working_heater_that_dies_is_told_once_the_house_lost_a_third() -> None:
    watchman = Watchman()
    for _ in range(6):
        watchman.go(16.0, heater=True, bench=5.0, outdoors=-7.0)
        watchman.go(4.0, bench=5.0, outdoors=-7.0)
    worked = watchman.minutes
    watchman.go(90.0, heater=True, bench=ramp(5.0, -6.0), outdoors=-7.0)
    told = watchman.first(CODE)
    assert told is not None
    assert worked + 35.0 < told < worked + 50.0  # a third of twelve kelvin, at 6 K an hour


def test_wind_that_takes_a_quarter_from_a_hard_working_heater_is_none_of_its_own() -> None:
    watchman = Watchman()
    watchman.go(120.0, heater=True, bench=5.0, outdoors=-7.0)
    watchman.go(60.0, heater=True, bench=ramp(5.0, -3.0), outdoors=-7.0)
    watchman.go(120.0, heater=True, bench=2.0, outdoors=-7.0)
    assert watchman.first(CODE) is None


def test_a_short_pause_does_not_begin_the_wait_anew_and_a_long_one_does() -> None:
    short, long = rested(), rested()
    for _ in range(4):
        short.go(10.0, heater=True, bench=5.0, outdoors=0.0)
        short.go(1.0, bench=5.0, outdoors=0.0)
        long.go(10.0, heater=True, bench=5.0, outdoors=0.0)
        long.go(5.0, bench=5.0, outdoors=0.0)
    assert short.first(CODE) is not None
    assert long.first(CODE) is None


def test_pulses_that_hold_the_temperature_are_no_silence_and_a_heater_that_dies_is() -> None:
    heat = {**ONE_ZONE["zones"]["bench"]["heat"], "strategy": "proportion"}
    pulsed = rested(zones=zone(heat=heat))
    for _ in range(90):
        pulsed.go(1.0, heater=True, bench=5.0, outdoors=0.0)
        pulsed.go(2.0, bench=5.0, outdoors=0.0)
    assert pulsed.first(CODE) is None
    began = pulsed.minutes
    pulsed.go(60.0, heater=True, bench=ramp(5.0, -1.0), outdoors=0.0)
    assert pulsed.first(CODE) == pytest.approx(began + 30.0, abs=2.0)


def test_one_probe_that_warms_is_enough_of_an_answer() -> None:
    watchman = rested()
    watchman.go(90.0, heater=True, left=5.0, right=ramp(5.0, 2.0), outdoors=0.0)
    assert watchman.first(CODE) is None


def test_a_blind_zone_says_nothing_about_its_heat() -> None:
    watchman = rested()
    watchman.go(90.0, heater=True, bench=Fault.CHECKSUM, outdoors=0.0)
    assert watchman.first(CODE) is None


def test_it_stands_through_pauses_until_heat_is_seen_to_arrive_in_the_dark() -> None:
    watchman = rested()
    watchman.go(45.0, heater=True, bench=4.5, outdoors=0.0)
    watchman.go(30.0, bench=4.5, outdoors=0.0)
    assert CODE in watchman.codes()
    watchman.go(40.0, heater=True, bench=ramp(4.5, 3.0), outdoors=0.0)
    assert CODE not in watchman.codes()


def test_the_sun_does_not_prove_that_a_dead_heater_works() -> None:
    watchman = rested(utc_s=NOON_UTC_S - 150.0 * 60.0)
    watchman.go(45.0, heater=True, bench=4.5, outdoors=0.0)
    assert CODE in watchman.codes()
    watchman.go(60.0, heater=True, bench=ramp(4.5, 5.0), outdoors=0.0)
    assert CODE in watchman.codes()


def test_it_is_forgotten_once_no_heat_was_wanted_for_a_day() -> None:
    watchman = rested()
    watchman.go(45.0, heater=True, bench=4.5, outdoors=0.0)
    watchman.go(23.5 * 60.0, bench=12.0, outdoors=10.0)
    assert CODE in watchman.codes()
    watchman.go(60.0, bench=12.0, outdoors=10.0)
    assert CODE not in watchman.codes()


def test_after_a_start_nobody_knows_whether_it_has_strength_to_spare() -> None:
    still, falling = Watchman(), Watchman()
    still.go(180.0, heater=True, bench=4.0, outdoors=0.0)
    falling.go(180.0, heater=True, bench=ramp(5.0, -1.2), outdoors=0.0)
    assert still.first(CODE) is None
    assert falling.first(CODE) == pytest.approx(85.0, abs=3.0)  # a third of five kelvin


def test_an_owner_who_wrote_another_wait_is_heard() -> None:
    watchman = rested(watch={"response_within_s": 3600.0})
    watchman.go(90.0, heater=True, bench=5.0, outdoors=0.0)
    assert watchman.first(CODE) == pytest.approx(180.0, abs=1.5)


def test_a_weak_heater_may_be_given_a_wait_of_its_own() -> None:
    """A mat that lifts a heavy bench by 0.4 K an hour; the house's other heaters keep theirs."""
    hasty = rested(setpoint_c=9.0)
    patient, dead = (rested(zones=PATIENT, setpoint_c=9.0) for _ in range(2))
    for watchman in (hasty, patient):
        watchman.go(200.0, heater=True, bench=ramp(5.0, 0.4), outdoors=5.0)
    dead.go(200.0, heater=True, bench=5.0, outdoors=5.0)
    assert hasty.first(CODE) == pytest.approx(150.0, abs=1.5)
    assert patient.first(CODE) is None
    assert dead.first(CODE) == pytest.approx(240.0, abs=1.5)


def test_a_weak_heater_may_be_given_a_lesser_effect_of_its_own() -> None:
    watchman = rested(zones=zone(heat={**HEAT, "response_rise_k": 0.2}))
    watchman.go(60.0, heater=True, bench=ramp(5.0, 0.5), outdoors=5.0)
    assert watchman.first(CODE) is None


def test_a_pause_of_the_whole_machine_does_not_hide_a_heater_that_dies_after_it() -> None:
    watchman = Watchman()
    for _ in range(8):
        watchman.go(16.0, heater=True, bench=5.0, outdoors=-7.0)
        watchman.go(4.0, bench=5.0, outdoors=-7.0)
    watchman.go(20.0, heater=True, bench=5.0, outdoors=-7.0)
    watchman.pause(900.0)
    woke = watchman.minutes
    watchman.go(60.0, heater=True, bench=ramp(5.0, -6.0), outdoors=-7.0)
    told = watchman.first(CODE)
    assert told is not None
    assert woke + 35.0 < told < woke + 50.0


# --- behind a front --------------------------------------------------------------------------

BEHIND = -8.0


def behind_a_front() -> Watchman:
    """Two idle hours, in the last half hour of which it got ten kelvin colder outdoors."""
    watchman = Watchman()
    watchman.go(90.0, bench=ramp(7.0, -1.0), outdoors=2.0)
    watchman.go(30.0, bench=ramp(5.5, -1.0), outdoors=ramp(2.0, -20.0))
    return watchman


def fallen_and_ended(minutes: float) -> float:
    """The house falls on until the warmth arrives, then gets to where it is held."""
    falls = 5.0 - 0.15 * min(minutes, 10.0)
    return round(16.0 * (falls + 0.06 * min(15.0, max(0.0, minutes - 10.0)))) / 16.0


def test_a_heater_that_ends_the_fall_behind_a_front_is_not_told() -> None:
    """It is still colder than where it came on, and getting no warmer: all it has is needed."""
    watchman = behind_a_front()
    watchman.go(120.0, heater=True, bench=fallen_and_ended, outdoors=BEHIND)
    assert watchman.first(CODE) is None


def test_a_dead_heater_behind_a_front_is_told_as_soon_as_ever() -> None:
    watchman = behind_a_front()
    watchman.go(60.0, heater=True, bench=ramp(5.0, -3.0), outdoors=BEHIND)
    assert watchman.first(CODE) == pytest.approx(150.0, abs=1.5)


def test_one_that_dies_after_it_ended_the_fall_is_told_once_the_house_is_as_cold_again() -> None:
    watchman = behind_a_front()
    watchman.go(60.0, heater=True, bench=fallen_and_ended, outdoors=BEHIND)
    watchman.go(60.0, heater=True, bench=ramp(4.4, -3.0), outdoors=BEHIND)
    assert watchman.first(CODE) == pytest.approx(190.0, abs=5.0)


def test_without_a_front_to_be_warmer_than_at_its_coldest_is_not_enough() -> None:
    """A door that was shut again makes a cold house as much warmer."""
    watchman = rested()
    watchman.go(60.0, heater=True, bench=fallen_and_ended, outdoors=0.0)
    assert watchman.first(CODE) == pytest.approx(155.0, abs=8.0)


# --- under a tent ----------------------------------------------------------------------------

TENT_K, TENT_S = 10.0, 10_800.0  # what the mat does to it in the end, and its time constant


def under_a_tent(gain_k: float = TENT_K, constant_s: float = TENT_S) -> Watchman:
    """The bench is under a tent, whose mat has 90 W; ridge hangs in the house about it."""
    loss_w_k = 90.0 / gain_k
    tent = {
        "zone": "bench",
        "loss_w_per_k": loss_w_k,
        "holds_kj_per_k": loss_w_k * constant_s / 1e3,
    }
    heater = {**ONE_ZONE["outputs"]["heater"], "power_w": 90}
    watchman = Watchman(
        house={"tent": tent},
        outputs={**ONE_ZONE["outputs"], "heater": heater},
        zones={**zone(heat=HEAT), "house": {"probes": ["ridge"]}},
        setpoint_c=18.0,
    )
    watchman.go(120.0, bench=14.0, ridge=11.0, outdoors=4.0)
    return watchman


def tent_c(gain_k: float, constant_s: float, duty: float, fall_k_per_h: float) -> Course:
    """Of a tent whose heat comes on while the house about it falls, for two hours at most."""
    house_c, temp_c, course = 11.0, 14.0, [14.0]
    for minute in range(240):
        house_c -= fall_k_per_h / 60.0 if minute < 120 else 0.0
        lift_k = temp_c - house_c
        balance_k = gain_k - duty * gain_k + (14.0 - 11.0)
        temp_c += 60.0 / constant_s * (balance_k - lift_k)
        course.append(temp_c)
    return lambda minutes: round(16.0 * course[int(minutes)]) / 16.0


@given(
    gain_k=st.floats(3.0, 25.0),
    constant_h=st.floats(0.2, 6.0),
    duty=st.floats(0.0, 0.45),
    fall_k_per_h=st.floats(0.0, 5.0),
)
@example(gain_k=3.0, constant_h=0.21875, duty=0.4375, fall_k_per_h=3.0)
@trying(max_examples=25, deadline=None)
def test_no_sound_mat_is_told_whatever_its_tent_and_however_the_house_about_it_cools(
    gain_k: float, constant_h: float, duty: float, fall_k_per_h: float
) -> None:
    watchman = under_a_tent(gain_k, 3600.0 * constant_h)
    house = ramp(11.0, -fall_k_per_h)
    bench = tent_c(gain_k, 3600.0 * constant_h, duty, fall_k_per_h)
    watchman.go(120.0, heater=True, bench=bench, ridge=house, outdoors=4.0)
    assert watchman.first(CODE) is None


def test_a_dead_mat_is_told_though_the_house_about_its_tent_cools_meanwhile() -> None:
    watchman = under_a_tent()
    watchman.go(150.0, heater=True, bench=ramp(14.0, -1.0), ridge=ramp(11.0, -1.0), outdoors=4.0)
    told = watchman.first(CODE)
    assert told is not None
    assert 160.0 < told < 175.0  # it would have warmed by a kelvin, had it half its power


def test_a_tents_mat_is_not_asked_by_the_measured_figures_of_the_house() -> None:
    tent = {"zone": "bench", "loss_w_per_k": 9.0, "holds_kj_per_k": 97.0}
    outputs = {**ONE_ZONE["outputs"], "heater": {**ONE_ZONE["outputs"]["heater"], "power_w": 90}}
    plan = Watchman(house={"loss_w_per_k": 60.0, "tent": tent}, outputs=outputs).plan
    assert plan.heaters[0].limits.response_rise_k == 0.5
