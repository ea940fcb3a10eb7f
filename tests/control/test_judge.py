"""A number is believed, or the reason why not is named."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.control.judge import judge
from greenkeeper.control.plan import ProbePlan
from greenkeeper.model import Bad, Fault, Good, ProbeMemory, Reading, Verdict

PLAN = ProbePlan(
    offset_k=0.0,
    stale_s=45.0,
    lowest_c=-40.0,
    highest_c=60.0,
    jump_k=4.0,
    jump_confirm_s=30.0,
)
STEP_K = 1 / 16  # what one step of a DS18B20 is worth


BELIEVED = ProbeMemory(good_c=5.0, good_s=-10.0, seen_s=-10.0)  # 5.0 °C ten seconds ago


def judged(
    *readings: Reading,
    plan: ProbePlan = PLAN,
    at_s: float | None = None,
    memory: ProbeMemory = BELIEVED,
) -> Verdict:
    """The verdict after these readings, each judged when it was taken."""
    verdict: Verdict = Bad(Fault.STALE, "")
    for reading in readings:
        verdict, memory = judge(reading, memory, plan, reading.taken_s)
    if at_s is not None:
        verdict, memory = judge(readings[-1] if readings else None, memory, plan, at_s)
    return verdict


def test_a_plain_reading_is_good_and_carries_the_offset():
    verdict = judged(Reading(0.0, 5.25), plan=PLAN._replace(offset_k=-0.25))
    assert verdict == Good(5.0, 0.0)


def test_zero_degrees_is_a_temperature_like_any_other():
    assert judged(Reading(0.0, 3.0), Reading(10.0, 0.0)) == Good(0.0, 0.0)


def test_no_reading_ever_is_stale():
    verdict, _ = judge(None, ProbeMemory(), PLAN, 100.0)
    assert verdict == Bad(Fault.STALE, "no reading yet")


@pytest.mark.parametrize("fault", list(Fault))
def test_a_drivers_fault_is_kept_as_the_reason(fault):
    seen = judged(Reading(0.0, None, fault, "seen"), memory=ProbeMemory())
    assert seen == Bad(fault, "seen")


def test_one_failed_reading_does_not_lose_a_probe_until_its_last_good_one_is_stale():
    failing = [Reading(t, None, Fault.CHECKSUM) for t in (10.0, 20.0, 30.0, 40.0)]
    assert judged(Reading(0.0, 5.0), *failing) == Good(5.0, 40.0)
    lost = judged(Reading(0.0, 5.0), *failing, Reading(50.0, None, Fault.CHECKSUM, "crc"))
    assert lost == Bad(Fault.CHECKSUM, "crc")


def test_a_reading_is_good_up_to_its_stale_age_and_not_a_moment_longer():
    assert judged(Reading(0.0, 5.0), at_s=45.0) == Good(5.0, 45.0)
    verdict = judged(Reading(0.0, 5.0), at_s=45.1)
    assert isinstance(verdict, Bad)
    assert verdict.fault is Fault.STALE


@pytest.mark.parametrize(
    ("temp_c", "good"),
    [
        (60.0, True),
        (60.0 + STEP_K, False),
        (-40.0, True),
        (-40.0 - STEP_K, False),
        (math.nan, False),
        (math.inf, False),
    ],
)
def test_range_is_inclusive_and_refuses_what_is_no_number(temp_c, good):
    near = temp_c if good else 5.0
    memory = BELIEVED._replace(good_c=near)
    verdict = judged(Reading(0.0, temp_c), at_s=40.0, memory=memory)
    assert isinstance(verdict, Good) is good
    if isinstance(verdict, Bad):
        assert verdict.fault is Fault.OUT_OF_RANGE


def test_a_step_of_exactly_the_jump_limit_is_believed_at_once():
    assert judged(Reading(0.0, 5.0), Reading(10.0, 9.0)) == Good(9.0, 0.0)


def test_a_jump_is_believed_neither_before_nor_after_until_it_has_stood():
    jump = 9.0 + STEP_K
    course = [Reading(0.0, 5.0), Reading(10.0, jump)]
    for taken_s in (20.0, 30.0):
        course.append(Reading(taken_s, jump))
        verdict = judged(*course)
        assert isinstance(verdict, Bad)
        assert verdict.fault is Fault.JUMPED
    assert judged(*course, Reading(40.0, jump)) == Good(jump, 0.0)


def test_a_jump_that_comes_back_was_the_error():
    assert judged(Reading(0.0, 5.0), Reading(10.0, 15.0), Reading(20.0, 5.1)) == Good(5.1, 0.0)


def test_a_value_that_keeps_jumping_is_never_believed():
    course = [Reading(0.0, 5.0)]
    course += [Reading(10.0 * i, 20.0 if i % 2 else 40.0) for i in range(1, 20)]
    verdict = judged(*course)
    assert isinstance(verdict, Bad)
    assert verdict.fault is Fault.JUMPED


def test_the_first_reading_of_all_waits_for_a_second_that_agrees():
    first = judged(Reading(0.0, 25.0), memory=ProbeMemory())
    assert first == Bad(Fault.STALE, "first reading 25.0 °C, not yet confirmed")
    assert judged(Reading(0.0, 25.0), Reading(10.0, 24.5), memory=ProbeMemory()) == Good(24.5, 0.0)


@pytest.mark.parametrize(("second_c", "good"), [(9.0, True), (9.0 + STEP_K, False)])
def test_two_first_readings_agree_within_the_jump_limit(second_c, good):
    verdict = judged(Reading(0.0, 5.0), Reading(10.0, second_c), memory=ProbeMemory())
    assert isinstance(verdict, Good) is good


def test_a_wrong_first_reading_is_forgotten_once_two_others_agree():
    course = [Reading(0.0, 25.0), Reading(10.0, 4.0)]
    assert isinstance(judged(*course, memory=ProbeMemory()), Bad)
    assert judged(*course, Reading(20.0, 4.0), memory=ProbeMemory()) == Good(4.0, 0.0)


def test_the_same_reading_handed_over_twice_confirms_nothing():
    verdict = judged(Reading(0.0, 25.0), at_s=10.0, memory=ProbeMemory())
    assert isinstance(verdict, Bad)


def test_a_failure_between_the_first_two_does_not_part_them():
    course = [Reading(0.0, 5.0), Reading(10.0, None, Fault.CHECKSUM), Reading(20.0, 5.0)]
    assert judged(*course, memory=ProbeMemory()) == Good(5.0, 0.0)


@pytest.mark.parametrize(("after_s", "good"), [(45.0, True), (45.1, False)])
def test_a_probe_that_returns_is_believed_at_once_only_while_its_last_word_counts(after_s, good):
    back = Reading(BELIEVED.good_s + after_s, 5.0)
    assert isinstance(judged(back), Good) is good


def test_back_where_it_was_after_a_silence_two_readings_suffice():
    assert judged(Reading(500.0, 9.0), Reading(510.0, 9.0)) == Good(9.0, 0.0)


def test_back_far_from_where_it_was_after_a_silence_it_must_stand_like_any_jump():
    far = 9.0 + STEP_K
    course = [Reading(7200.0, far)]
    for taken_s in (7210.0, 7220.0):
        course.append(Reading(taken_s, far))
        verdict = judged(*course)
        assert verdict == Bad(Fault.JUMPED, "now reads 9.1 °C, not yet confirmed")
    assert judged(*course, Reading(7230.0, far)) == Good(far, 0.0)


@pytest.mark.parametrize(("after_s", "good"), [(45.0, True), (45.1, False)])
def test_a_doubt_of_long_ago_bears_nothing_out(after_s, good):
    course = [Reading(0.0, 20.0), Reading(30.0, 20.0), Reading(30.0 + after_s, 20.0)]
    assert isinstance(judged(course[0], course[2], memory=ProbeMemory()), Good) is False
    assert isinstance(judged(*course), Good) is good


def test_a_jumped_probe_that_falls_silent_is_stale():
    verdict = judged(Reading(0.0, 5.0), Reading(10.0, 20.0), at_s=60.0)
    assert isinstance(verdict, Bad)
    assert verdict.fault is Fault.STALE


@pytest.mark.parametrize("taken_s", [1e9, math.nan, math.inf])
def test_a_reading_from_the_future_is_not_believed(taken_s):
    verdict, memory = judge(Reading(taken_s, 5.0), ProbeMemory(), PLAN, 10.0)
    assert verdict == Bad(Fault.UNREADABLE, "stamped in the future")
    _, memory = judge(Reading(20.0, 6.0), memory, PLAN, 20.0)
    later, _ = judge(Reading(30.0, 6.0), memory, PLAN, 30.0)
    assert later == Good(6.0, 0.0)


def test_the_same_reading_seen_again_only_ages():
    memory = BELIEVED
    reading = Reading(0.0, 5.0)
    for now_s in (0.0, 10.0, 20.0):
        verdict, memory = judge(reading, memory, PLAN, now_s)
        assert verdict == Good(5.0, now_s)


@given(
    st.lists(
        st.builds(
            Reading,
            st.floats(0, 500),
            st.none() | st.floats(),
            st.none() | st.sampled_from(Fault),
        ),
        max_size=30,
    )
)
def test_whatever_comes_a_good_verdict_is_fresh_finite_and_in_range(readings):
    memory = ProbeMemory()
    for now_s, reading in zip(range(0, 10_000, 10), readings, strict=False):
        verdict, memory = judge(reading, memory, PLAN, float(now_s))
        if isinstance(verdict, Good):
            assert PLAN.lowest_c <= verdict.temp_c <= PLAN.highest_c
            assert 0.0 <= verdict.age_s <= PLAN.stale_s
        else:
            assert verdict.fault in Fault
