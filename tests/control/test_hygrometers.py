"""Whether a number is a relative humidity, and how damp the air is with it."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper import moisture
from greenkeeper.control import fresh, make_plan, step
from greenkeeper.control.hygrometers import judge
from greenkeeper.control.plan import HygrometerPlan
from greenkeeper.model import (
    Bad,
    Damp,
    DampVerdict,
    Fault,
    HumidityReading,
    HygrometerMemory,
    Now,
    Reading,
)
from greenkeeper.settings.schema import Settings
from tests.control.houses import START, settings

PLAN = HygrometerPlan("bench-left", 0.0, 90.0, 5.0, 21_600.0)
HOUR_S = 3600.0


class Course:
    """One hygrometer, read again and again, with a probe beside it."""

    def __init__(self, plan: HygrometerPlan = PLAN) -> None:
        self.plan = plan
        self.now_s = 1000.0
        self.memory = HygrometerMemory()

    def reads(
        self, rh_pct: float | Fault | None, temp_c: float | None = 5.0, after_s: float = 10.0
    ) -> DampVerdict:
        """None: nothing new has been read."""
        self.now_s += after_s
        reading = None
        if isinstance(rh_pct, Fault):
            reading = HumidityReading(self.now_s, None, rh_pct, "as the test says")
        elif rh_pct is not None:
            reading = HumidityReading(self.now_s, rh_pct)
        verdict, self.memory = judge(reading, self.memory, self.plan, temp_c, self.now_s)
        return verdict

    def stands(self, rh_pct: float, temp_c: float | None, for_s: float) -> DampVerdict:
        for _ in range(int(for_s / 60.0)):
            verdict = self.reads(rh_pct, temp_c, 60.0)
        return verdict


def fault(verdict: DampVerdict) -> Fault | None:
    return verdict.fault if isinstance(verdict, Bad) else None


def test_a_good_reading_beside_a_trusted_probe_has_a_dew_point() -> None:
    verdict = Course().reads(85.0, 5.0)
    assert isinstance(verdict, Damp)
    assert (verdict.rh_pct, verdict.temp_c) == (85.0, 5.0)
    assert verdict.dew_point_c == pytest.approx(2.686, abs=0.001)
    assert verdict.water_g_m3 == pytest.approx(5.772, abs=0.001)


def test_without_a_trusted_probe_beside_it_it_is_damp_and_no_more() -> None:
    assert Course().reads(85.0, None) == Damp(85.0, 0.0)


def test_the_offset_counts_and_a_wet_chip_s_surplus_is_a_full_hundred() -> None:
    course = Course(PLAN._replace(offset_pct=3.0))
    assert course.reads(80.0, None) == Damp(83.0, 0.0)
    assert course.reads(99.5, None) == Damp(100.0, 0.0)


@pytest.mark.parametrize("rh_pct", [-1.0, 0.0, 4.9, 105.1, 200.0, math.nan, math.inf])
def test_what_no_greenhouse_can_have_is_out_of_range(rh_pct: float) -> None:
    assert fault(Course().reads(rh_pct)) is Fault.OUT_OF_RANGE


def test_a_jump_is_believed_at_once_because_a_vent_makes_one() -> None:
    course = Course()
    course.reads(96.0)
    assert course.reads(55.0, None) == Damp(55.0, 0.0)


def test_a_single_failure_is_bridged_and_a_long_one_is_told() -> None:
    course = Course()
    course.reads(80.0)
    assert isinstance(course.reads(Fault.MISSING), Damp)
    for _ in range(9):
        verdict = course.reads(Fault.MISSING)
    assert fault(verdict) is Fault.MISSING
    assert isinstance(course.reads(81.0), Damp)


def test_nothing_new_for_too_long_is_stale() -> None:
    course = Course()
    course.reads(80.0)
    assert isinstance(course.reads(None, after_s=80.0), Damp)
    assert fault(course.reads(None, after_s=11.0)) is Fault.STALE


def test_a_reading_from_the_future_is_not_believed() -> None:
    verdict, _ = judge(HumidityReading(2000.0, 80.0), HygrometerMemory(), PLAN, 5.0, 1000.0)
    assert fault(verdict) is Fault.UNREADABLE


def test_a_night_of_the_same_number_is_no_fault() -> None:
    assert isinstance(Course().stands(88.0, 5.0, 12 * HOUR_S), Damp)


def test_the_same_number_while_the_air_warms_is_frozen_until_it_moves() -> None:
    course = Course()
    course.stands(88.0, 5.0, 5 * HOUR_S)
    assert isinstance(course.stands(88.0, 8.5, 0.5 * HOUR_S), Damp)  # not long enough yet
    verdict = course.stands(88.0, 5.0, 1 * HOUR_S)  # the air is back where it was
    assert isinstance(verdict, Bad)
    assert verdict.fault is Fault.FROZEN
    assert "bench-left went from 5.0 °C to 8.5 °C" in verdict.detail
    assert isinstance(course.reads(87.9), Damp)


def test_saturated_air_may_stand_still_however_warm_it_gets() -> None:
    course = Course()
    course.stands(99.0, 2.0, 5 * HOUR_S)
    assert isinstance(course.stands(99.0, 12.0, 5 * HOUR_S), Damp)


def test_zero_switches_that_judgement_off() -> None:
    course = Course(PLAN._replace(frozen_s=0.0))
    course.stands(88.0, 5.0, HOUR_S)
    assert isinstance(course.stands(88.0, 15.0, 12 * HOUR_S), Damp)


READINGS = st.one_of(
    st.none(),
    st.sampled_from(list(Fault)),
    st.floats(allow_nan=True, allow_infinity=True),
    st.floats(0.0, 100.0),
)
COURSES = st.lists(st.tuples(READINGS, st.none() | st.floats(-40.0, 60.0), st.floats(0.1, 100.0)))


@given(COURSES)
def test_no_course_of_readings_gives_anything_but_a_humidity_or_a_reason(
    course: list[tuple[float | Fault | None, float | None, float]],
) -> None:
    hygrometer = Course()
    for rh_pct, temp_c, after_s in course:
        verdict = hygrometer.reads(rh_pct, temp_c, after_s)
        if isinstance(verdict, Damp):
            assert 5.0 <= verdict.rh_pct <= 100.0
            assert 0.0 <= verdict.age_s <= PLAN.stale_s
            assert (verdict.dew_point_c is None) is (temp_c is None)
            if temp_c is not None and verdict.dew_point_c is not None:
                assert verdict.dew_point_c <= temp_c + 1e-9


# --- through a whole tick -------------------------------------------------------------------


def house() -> Settings:
    return settings(hygrometers={"damp": {"kind": "scripted", "file": "x", "beside": "bench-left"}})


def test_humidity_flows_through_a_tick_and_never_among_the_temperatures() -> None:
    plan = make_plan(house())
    memory = fresh(plan, START)
    for seconds in (10.0, 20.0):
        now = Now(START.mono_s + seconds, START.utc_s + seconds, True)
        temps = {name: Reading(now.mono_s, 6.0) for name in plan.probes}
        damp = {"damp": HumidityReading(now.mono_s, 90.0)}
        tick = step(temps, memory, plan, now, humidity=damp)
        memory = tick.memory
    assert set(tick.verdicts) == set(plan.probes)
    verdict = tick.humidity["damp"]
    assert isinstance(verdict, Damp)
    assert verdict.dew_point_c == moisture.dew_point_c(6.0, 90.0)


def test_a_hygrometer_that_stays_away_is_told_by_its_name() -> None:
    plan = make_plan(house())
    memory = fresh(plan, START)
    events: list[Any] = []
    for seconds in range(10, 200, 10):
        now = Now(START.mono_s + seconds, START.utc_s + seconds, True)
        tick = step({}, memory, plan, now, humidity={})
        memory = tick.memory
        events += tick.events
    assert ("probe-stale", "damp") in {(event.code, event.subject) for event in events}
