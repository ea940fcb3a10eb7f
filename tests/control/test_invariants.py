"""No sequence of readings, times and requests whatever breaks an invariant of the guard.

The numbers are those of greenkeeper/control/guard.py.
"""

import math
from itertools import pairwise
from typing import NamedTuple

from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import carried_over, fresh, make_plan, step
from greenkeeper.model import Condition, Fault, Good, Memory, Mode, Now, Reading, Request, Tick
from tests.control import houses

ZONES = {
    "bench": {
        "probes": ["bench-left", "bench-right"],
        "heat": {"output": "heater", "setpoint_c": 5.0, "night_setpoint_c": 8.0},
        "cool": {"output": "fan", "setpoint_c": 14.0, "hysteresis_k": 1.0},
        "ceiling_c": 20.0,
        "ceiling_clears": "by-itself",
    },
    "shelf": {
        "probes": ["ridge"],
        "heat": {"output": "heater", "setpoint_c": 7.0},
        "cool": {"output": "shelf-fan", "setpoint_c": 18.0},
        "ceiling_c": 22.0,
    },
}
OUTPUTS = {
    "heater": {"kind": "modelled", "drives": "heater", "min_on_s": 60.0, "min_off_s": 90.0},
    "fan": {"kind": "modelled", "drives": "fan", "min_on_s": 30.0, "min_off_s": 30.0},
    "shelf-fan": {"kind": "modelled", "drives": "fan", "min_on_s": 0.0, "min_off_s": 20.0},
}
PLAN = make_plan(houses.settings(zones=ZONES, outputs=OUTPUTS, plants=[]))
LIMITS = {output.name: output for output in PLAN.outputs}
SLACK_S = 1e-6  # of adding floating-point seconds

# Mostly near the switching points, now and then anything at all.
temps = st.one_of(
    st.sampled_from([4.9, 5.0, 5.5, 6.0, 8.0, 8.6, 13.0, 14.0, 15.0, 19.9, 20.1, 22.1]),
    st.floats(2.0, 24.0),
    st.floats(allow_nan=True, allow_infinity=True),
)
readings = st.one_of(
    temps,
    st.sampled_from(Fault),
    st.none(),  # nothing new
    st.just("old"),  # a reading stamped long ago
    st.just("future"),
)


class Move(NamedTuple):
    after_s: float
    jump_s: float  # of the civil clock
    trusted: bool
    probes: dict
    clear: bool
    reload: bool
    lost: bool


steady = st.just(10.0)
moves = st.builds(
    Move,
    after_s=st.one_of(steady, steady, steady, st.floats(0.0, 120.0), st.floats(0.0, 1e5)),
    jump_s=st.one_of(st.just(0.0), st.just(0.0), st.floats(-1e7, 1e7)),
    trusted=st.booleans(),
    probes=st.fixed_dictionaries({name: readings for name in PLAN.probes}),
    clear=st.booleans(),
    reload=st.sampled_from([False, False, False, True]),
    lost=st.booleans(),
)


def made(kind, mono_s: float) -> Reading:
    if kind == "old":
        return Reading(mono_s - 300.0, 4.0)
    if kind == "future":
        return Reading(mono_s + 300.0, 4.0)
    if isinstance(kind, Fault):
        return Reading(mono_s, None, kind)
    return Reading(mono_s, kind)


@settings(max_examples=300, deadline=None)
@given(st.lists(moves, max_size=60))
def test_no_course_of_events_breaks_an_invariant(course):
    play(course)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.floats(3.0, 24.0), st.floats(3.0, 24.0)), min_size=5, max_size=25))
def test_no_slow_course_of_temperatures_breaks_an_invariant(corners):
    """Believable ramps, in which everything really switches."""
    course = []
    for (left_0, ridge_0), (left_1, ridge_1) in pairwise(corners):
        for i in range(8):
            left = left_0 + (left_1 - left_0) * i / 8
            ridge = ridge_0 + (ridge_1 - ridge_0) * i / 8
            probes = {"bench-left": left, "bench-right": left, "ridge": ridge, "outdoors": None}
            course.append(Move(10.0, 0.0, True, probes, False, False, False))
    play(course)


def play(course) -> None:
    now = Now(1000.0, 1.8e9, True)
    memory = fresh(PLAN, now)
    changed_s = dict.fromkeys(LIMITS, now.mono_s)
    newest: dict[str, Reading] = {}
    for move in course:
        now = Now(now.mono_s + move.after_s, now.utc_s + move.after_s + move.jump_s, move.trusted)
        for name, kind in move.probes.items():
            if kind is not None:
                newest[name] = made(kind, now.mono_s)
        if move.reload:
            memory = carried_over(memory, PLAN, now)
        tick = step(
            newest,
            memory,
            PLAN,
            now,
            reports=(Condition("broker-lost", "broker", "gone"),) if move.lost else (),
            requests=(Request("over-ceiling-shelf"),) if move.clear else (),
        )
        check(tick, memory, changed_s)
        memory = tick.memory


def check(tick: Tick, before: Memory, changed_s: dict[str, float]) -> None:
    assert [command.output for command in tick.commands] == list(LIMITS)
    on = {command.output: command.on for command in tick.commands}
    was_on = {
        name: state.on and not (state.until_s is not None and tick.now.mono_s > state.until_s)
        for name, state in before.outputs.items()
    }
    for name, state in before.outputs.items():
        if state.on and not was_on[name]:
            changed_s[name] = tick.now.mono_s  # it lapsed
    expiries_are_short_and_only_on_ons(tick)
    heat_and_cool_never_meet(on, was_on)
    minimum_times_hold(tick, on, was_on, changed_s)
    no_heat_while_too_hot(tick, on)
    no_on_without_a_fresh_trusted_probe(tick, on)
    for name in LIMITS:
        if on[name] is not was_on[name]:
            changed_s[name] = tick.now.mono_s


def expiries_are_short_and_only_on_ons(tick: Tick) -> None:  # 1
    for command in tick.commands:
        if command.on:
            assert command.until_s is not None
            assert 0.0 < command.until_s - tick.now.mono_s <= PLAN.lease_s + SLACK_S
        else:
            assert command.until_s is None
        assert command.reason


def heat_and_cool_never_meet(on: dict[str, bool], was_on: dict[str, bool]) -> None:  # 2
    for name, now_on in on.items():
        for other, other_on in on.items():
            if LIMITS[name].mode is Mode.HEAT and LIMITS[other].mode is Mode.COOL:
                assert not (now_on and other_on)
                assert not (now_on and not was_on[name] and was_on[other])
                assert not (other_on and not was_on[other] and was_on[name])


def minimum_times_hold(tick, on, was_on, changed_s) -> None:  # 3 and 4
    for name, limit in LIMITS.items():
        stood_s = tick.now.mono_s - changed_s[name]
        if on[name] and not was_on[name]:
            assert stood_s >= limit.min_off_s - SLACK_S
        if was_on[name] and not on[name] and stood_s < limit.min_on_s - SLACK_S:
            blind = any(view.coldest_c is None for view in tick.zones)
            too_hot = bool(tick.memory.latches or tick.memory.hot)
            locked = too_hot and limit.mode is Mode.HEAT
            assert blind or locked


def no_heat_while_too_hot(tick: Tick, on: dict[str, bool]) -> None:  # 5
    for zone in PLAN.zones:
        for probe in zone.ceiling_probes:
            verdict = tick.verdicts[probe]
            if isinstance(verdict, Good) and verdict.temp_c > zone.ceiling_c:
                assert not on["heater"]
    if tick.memory.latches:
        assert not on["heater"]


def no_on_without_a_fresh_trusted_probe(tick: Tick, on: dict[str, bool]) -> None:  # 6
    for name, now_on in on.items():
        if now_on:
            fresh_in_a_zone = [
                verdict
                for view in tick.zones
                if any(wish.output == name for wish in view.wishes)
                for verdict in (tick.verdicts[p] for p in probes_of(view.name))
                if isinstance(verdict, Good) and verdict.age_s <= 45.0
            ]
            assert fresh_in_a_zone
            assert all(math.isfinite(verdict.temp_c) for verdict in fresh_in_a_zone)


def probes_of(zone_name: str) -> tuple[str, ...]:
    return next(zone.probes for zone in PLAN.zones if zone.name == zone_name)
