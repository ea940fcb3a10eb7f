"""Whatever the house does: watch raises nothing, forgets what is old, and stands by nothing
without its least duration.
"""

import math
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Fault, Place
from tests.control.watching.watchman import MIDNIGHT_UTC_S, Watchman, ramp

INPUTS: dict[str, Any] = {
    name: {"kind": "scripted", "file": "x.csv", "tells": tells, "of": of}
    for name, tells, of in (
        ("aux", "contactor-closed", "heater"),
        ("current", "heater-current", "heater"),
        ("rcd", "mains-present", "heater"),
        ("reed", "door-open", "bench"),
    )
}

TEMPS = st.one_of(
    st.none(),
    st.sampled_from([Fault.JUMPED, Fault.OUT_OF_RANGE, Fault.STALE]),
    st.floats(-40.0, 60.0).map(lambda temp_c: round(temp_c * 16.0) / 16.0),
    st.builds(ramp, st.floats(-20.0, 30.0), st.floats(-60.0, 60.0)),
)
STRETCHES = st.fixed_dictionaries(
    {
        "minutes": st.floats(0.1, 90.0),
        "heater": st.booleans(),
        "fan": st.booleans(),
        "vent": st.sampled_from(list(Place)),
        "left": TEMPS,
        "right": TEMPS,
        "ridge": TEMPS,
        "outdoors": TEMPS,
        "contacts": st.dictionaries(
            st.sampled_from([*INPUTS, "nobody"]), st.one_of(st.none(), st.booleans())
        ),
    }
)
# How soon after its cause can have begun each may be told, in minutes; the defaults.
SOONEST_MIN = {
    "stuck-on": 30.0,
    "runaway": 4.0,
    "heater-at-limit": 60.0,
    "door-open": 35.0,
    "no-response": 10.0,
}


def played(stretches: list[dict[str, Any]], look_s: float, **changes: Any) -> Watchman:
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S - 6.0 * 3600.0, look_s=look_s, **changes)
    for stretch in stretches:
        watchman.go(**stretch)
    return watchman


@settings(max_examples=60, deadline=None)
@given(stretches=st.lists(STRETCHES, max_size=8), look_s=st.sampled_from([10.0, 47.0, 60.0, 400.0]))
def test_nothing_raises_and_everything_said_has_words(
    stretches: list[dict[str, Any]], look_s: float
) -> None:
    watchman = played(stretches, look_s, inputs=INPUTS)
    for _, each in watchman.seen:
        assert each.code in CATALOGUE
        assert each.text
        assert "nan" not in each.text
        assert "None" not in each.text


@settings(max_examples=20, deadline=None)
@given(stretches=st.lists(STRETCHES, min_size=3, max_size=6))
def test_what_is_kept_is_bounded_by_the_longest_question(stretches: list[dict[str, Any]]) -> None:
    watchman = played(stretches * 3, 60.0, inputs=INPUTS)
    memory, plan = watchman.memory, watchman.plan
    assert len(memory.minutes) <= math.ceil(plan.kept_s / 60.0) + 2
    for kept, at_most in (
        (memory.spells, len(plan.heaters)),
        (memory.silent, len(plan.heaters)),
        (memory.falls, len(plan.zones)),
        (memory.measured, len(plan.inside)),
        (memory.climbs, len(plan.inside)),
        (memory.contacts, len(plan.contacts)),
    ):
        assert len(kept) <= at_most


@settings(max_examples=80, deadline=None)
@given(stretches=st.lists(STRETCHES, min_size=1, max_size=6))
def test_no_verdict_comes_before_its_least_duration(stretches: list[dict[str, Any]]) -> None:
    watchman = played([{**stretch, "contacts": {}} for stretch in stretches], look_s=60.0)
    for minute, each in watchman.seen:
        assert minute >= SOONEST_MIN.get(each.code, 0.0) - 1.0, each


@settings(max_examples=40, deadline=None)
@given(
    heater=st.lists(st.booleans(), min_size=10, max_size=40),
    rise_k_per_h=st.floats(0.0, 100.0),
    from_c=st.floats(5.0, 10.0),
)
def test_a_heater_that_warms_whenever_it_is_on_is_never_silent(
    heater: list[bool], rise_k_per_h: float, from_c: float
) -> None:
    watchman = Watchman()
    temp_c = from_c
    for on in heater:
        rate_k_per_h = max(2.0, rise_k_per_h) if on else -2.0
        watchman.go(10.0, heater=on, bench=ramp(temp_c, rate_k_per_h), outdoors=-20.0)
        temp_c += rate_k_per_h / 6.0
    assert watchman.first("no-response") is None


@settings(max_examples=40, deadline=None)
@given(
    hour=st.floats(0.0, 23.9),
    fall_k_per_h=st.floats(0.0, 6.0),
    from_c=st.floats(4.0, 20.0),
    outdoors_c=st.floats(-10.0, 4.0),
)
def test_an_idle_house_that_only_cools_is_accused_of_nothing(
    hour: float, fall_k_per_h: float, from_c: float, outdoors_c: float
) -> None:
    """Up to 6 K an hour, and never below outdoors."""
    watchman = Watchman(utc_s=MIDNIGHT_UTC_S + hour * 3600.0)
    watchman.go(
        360.0,
        bench=lambda minute: max(outdoors_c + 0.5, from_c - fall_k_per_h * minute / 60.0),
        outdoors=outdoors_c,
    )
    lift_k = from_c - outdoors_c
    assert watchman.codes() <= ({"stuck-on"} if lift_k >= 18.0 else set())
