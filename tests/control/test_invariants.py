"""No sequence of readings, times, failures and requests whatever breaks an invariant of
the guard, nor what must hold of the judging of probes. The numbers, and what each says:
greenkeeper/control/guard.py; those who watch: referee.py and umpire.py.

Two houses: a plain one, and one with everything a heater can be given to go with it.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import Plan, carried_over, fresh, make_plan
from greenkeeper.model import Condition, Fault, HumidityReading, Now, Reading, Request
from tests.control import houses
from tests.control.geared import failing
from tests.control.houses import decided
from tests.control.referee import Referee
from tests.control.umpire import Umpire

# Times so short that probes freeze, fall out with each other and get flaky in a test.
PROBES: dict[str, Any] = {
    name: {
        "kind": "modelled",
        "place": "bench",
        "frozen_s": 100.0,
        "frozen_k": 0.5,
        "flaky_share": 0.02,
        "jump_confirm_s": 20.0,
    }
    for name in ("bench-left", "bench-right", "bench-mid", "bench-far", "ridge", "outdoors")
}
ZONES = {
    "bench": {
        "probes": ["bench-left", "bench-right", "bench-mid", "bench-far"],
        "disagree_k": 2.0,
        "disagree_s": 60.0,
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
PLAIN = make_plan(houses.settings(zones=ZONES, outputs=OUTPUTS, probes=PROBES, plants=[]))

GEARED_ZONES: dict[str, Any] = {
    "bench": {
        **ZONES["bench"],
        "heat": {
            **ZONES["bench"]["heat"],
            "with": "stirrer",
            "with_required": True,
            "run_on_s": 40.0,
            "independent_limit": True,
            "blind_duty": 0.4,
            "blind_longest_s": 600.0,
        },
        "cool": {"output": "roof", "setpoint_c": 14.0, "hysteresis_k": 1.0},
    },
    "shelf": {
        **ZONES["shelf"],
        "heat": {"output": "mat", "setpoint_c": 7.0, "with": "stirrer", "run_on_s": 0.0},
    },
}
GEARED_OUTPUTS: dict[str, Any] = {
    "heater": {**OUTPUTS["heater"], "longest_on_s": 600.0},
    "mat": {"kind": "modelled", "drives": "heater", "min_on_s": 0.0, "min_off_s": 0.0},
    "shelf-fan": OUTPUTS["shelf-fan"],
    "isolator": {"kind": "modelled", "drives": "isolator", "role": "isolator", "settle_s": 12.0},
    "mat-isolator": {
        "kind": "modelled",
        "drives": "isolator",
        "role": "isolator",
        "isolates": ["mat"],
    },
    "stirrer": {"kind": "modelled", "drives": "circulation", "min_on_s": 50.0, "min_off_s": 70.0},
    "up": {"kind": "modelled", "drives": "vent-open"},
    "down": {"kind": "modelled", "drives": "vent-close"},
}
GEARED = make_plan(
    houses.settings(
        zones=GEARED_ZONES,
        outputs=GEARED_OUTPUTS,
        probes=PROBES,
        plants=[],
        vents={"roof": {"open": "up", "close": "down", "run_s": 30.0, "pause_s": 11.0}},
    )
)
# Aired as well: the bench by the fan that cools it, the shelf by a hatch that does nothing else.
AIRED = make_plan(
    houses.settings(
        site={
            "name": "fern-corner",
            "outdoor_probe": "outdoors",
            "outdoor_hygrometer": "outdoor-damp",
        },
        zones={
            name: {
                **zone,
                "hygrometer": f"{name}-damp",
                "air": {"output": by, "for_s": 200.0, "rest_s": 100.0, "outdoor_least_c": -5.0},
            }
            for (name, zone), by in zip(ZONES.items(), ("fan", "hatch"), strict=True)
        },
        outputs={**OUTPUTS, "up": GEARED_OUTPUTS["up"], "down": GEARED_OUTPUTS["down"]},
        probes=PROBES,
        plants=[],
        vents={"hatch": {"open": "up", "close": "down", "run_s": 30.0, "pause_s": 11.0}},
        hygrometers={
            name: {"kind": "scripted", "file": "x", "beside": probe}
            for name, probe in (
                ("bench-damp", "bench-mid"),
                ("shelf-damp", "ridge"),
                ("outdoor-damp", "outdoors"),
            )
        },
    )
)


def pulsed(zones: dict[str, Any], **also: dict[str, Any]) -> dict[str, Any]:
    """The same, heated in proportion; `also` for zones that are heated otherwise."""
    return {
        name: {**zone, "heat": {**zone["heat"], **also.get(name, {"strategy": "proportion"})}}
        for name, zone in zones.items()
    }


PULSED = make_plan(houses.settings(zones=pulsed(ZONES), outputs=OUTPUTS, probes=PROBES, plants=[]))
# Two heaters on the bench, in proportion, and a shelf that anticipates.
STAGED_ZONES = pulsed(GEARED_ZONES, shelf={"anticipate": True})
STAGED_ZONES["bench"]["heat"]["second_output"] = "second"
STAGED_OUTPUTS: dict[str, Any] = {
    **GEARED_OUTPUTS,
    "heater": {**GEARED_OUTPUTS["heater"], "power_w": 1000.0},
    "mat": {**GEARED_OUTPUTS["mat"], "power_w": 1000.0},
    "second": {"kind": "modelled", "drives": "heater", "power_w": 900.0, "min_off_s": 30.0},
}


def staged(circuit_w: float | None) -> Plan:
    return make_plan(
        houses.settings(
            site={**houses.ONE_ZONE["site"], "circuit_w": circuit_w},
            zones=STAGED_ZONES,
            outputs=STAGED_OUTPUTS,
            probes=PROBES,
            plants=[],
            vents={"roof": {"open": "up", "close": "down", "run_s": 30.0, "pause_s": 11.0}},
        )
    )


STAGED, TIGHT = staged(None), staged(2000.0)  # not enough for the mat and both of the bench's
PLANS = pytest.mark.parametrize(
    "plan",
    [PLAIN, GEARED, PULSED, STAGED],
    ids=["plain", "geared", "pulsed", "staged"],
)

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
    probes: dict[str, Any]
    clear: bool
    reload: bool
    lost: bool
    failed: str | None  # an output the shell could not switch
    damp_pct: float | None = None  # inside; None: nothing new
    outdoor_pct: float | None = None


steady = st.just(10.0)
moves = st.builds(
    Move,
    after_s=st.one_of(steady, steady, steady, st.floats(0.0, 120.0), st.floats(0.0, 1e5)),
    jump_s=st.one_of(st.just(0.0), st.just(0.0), st.floats(-1e7, 1e7)),
    trusted=st.booleans(),
    probes=st.fixed_dictionaries({name: readings for name in PLAIN.probes}),
    clear=st.booleans(),
    reload=st.sampled_from([False, False, False, True]),
    lost=st.booleans(),
    failed=st.sampled_from([None, None, None, None, *STAGED.switched]),
    damp_pct=st.one_of(st.none(), st.floats(40.0, 105.0), st.floats()),
    outdoor_pct=st.one_of(st.none(), st.floats(10.0, 100.0)),
)


def made(kind: Any, mono_s: float) -> Reading:
    if kind == "old":
        return Reading(mono_s - 300.0, 4.0)
    if kind == "future":
        return Reading(mono_s + 300.0, 4.0)
    if isinstance(kind, Fault):
        return Reading(mono_s, None, kind)
    return Reading(mono_s, kind)


@PLANS
@settings(max_examples=100, deadline=None)
@given(course=st.lists(moves, max_size=60))
def test_no_course_of_events_breaks_an_invariant(plan: Plan, course: list[Move]) -> None:
    play(plan, course)


@settings(max_examples=80, deadline=None)
@given(course=st.lists(moves, max_size=60))
def test_no_course_of_events_breaks_an_invariant_of_an_aired_house(course: list[Move]) -> None:
    play(AIRED, course)


class Corner(NamedTuple):
    """One corner of a slow course, and the way to the next one. None: a silence."""

    bench_c: float | None
    shelf_c: float | None
    outdoors_c: float | None
    ticks: int  # how long the way takes
    late_s: float  # of its first tick
    failed: str | None
    far_k: float  # how far off bench-far is
    stuck: bool  # bench-right repeats what it said
    flaky: int  # every so manieth reading of bench-left fails


corners = st.builds(
    Corner,
    st.one_of(st.none(), st.floats(3.0, 24.0), st.floats(3.0, 16.0)),
    st.one_of(st.none(), st.floats(3.0, 24.0), st.floats(3.0, 9.0)),
    st.one_of(st.none(), st.floats(-5.0, 8.0)),
    st.integers(2, 50),
    st.sampled_from([0.0, 0.0, 0.0, 19.0, 25.0]),
    st.sampled_from([*[None] * 20, *STAGED.switched]),
    st.sampled_from([0.0, 0.0, 0.5, 2.5, -2.5, -12.0, 15.0]),
    st.sampled_from([False, False, True]),
    st.sampled_from([1000, 1000, 2, 3]),
)


@PLANS
@settings(max_examples=80, deadline=None)
@given(route=st.lists(corners, min_size=4, max_size=16))
def test_no_slow_course_of_temperatures_breaks_an_invariant(
    plan: Plan, route: list[Corner]
) -> None:
    """Believable ramps and long silences, in which everything really switches."""
    play(plan, [move for here, there in pairwise(route) for move in _way(here, there)])


@settings(max_examples=20, deadline=None)
@given(route=st.lists(corners, min_size=4, max_size=10))
def test_no_slow_course_draws_more_than_the_circuit_bears(route: list[Corner]) -> None:
    play(TIGHT, [move for here, there in pairwise(route) for move in _way(here, there)])


@settings(max_examples=30, deadline=None)
@given(route=st.lists(corners, min_size=4, max_size=10))
def test_no_slow_course_breaks_an_invariant_of_an_aired_house(route: list[Corner]) -> None:
    play(AIRED, [move for here, there in pairwise(route) for move in _way(here, there)])


def _way(here: Corner, there: Corner) -> Iterator[Move]:
    for i in range(here.ticks):
        bench, shelf, outdoors = (
            _between(first, last, i / here.ticks)
            for first, last in zip(here[:3], there[:3], strict=True)
        )
        seen = isinstance(bench, float)
        probes = {
            "bench-left": Fault.CHECKSUM if i % here.flaky == 1 else bench,
            "bench-right": here.bench_c if here.stuck and seen else bench,
            "bench-mid": bench,
            "bench-far": bench + here.far_k if seen else bench,
            "ridge": shelf,
            "outdoors": outdoors,
        }
        after_s = 10.0 if i else 10.0 + here.late_s
        damp_pct = 96.0 if here.ticks % 3 else 70.0
        yield Move(after_s, 0.0, True, probes, True, False, False, here.failed, damp_pct, 50.0)


def _between(first: float | None, last: float | None, share: float) -> float | Fault:
    if first is None or last is None:
        return Fault.MISSING
    return first + (last - first) * share


def play(plan: Plan, course: Sequence[Move]) -> Referee:
    now = Now(1000.0, 1.8e9, True)
    memory = fresh(plan, now)
    referee, umpire = Referee(plan, now), Umpire(plan)
    newest: dict[str, Reading] = {}
    humidity: dict[str, HumidityReading] = {}
    for move in course:
        now = Now(now.mono_s + move.after_s, now.utc_s + move.after_s + move.jump_s, move.trusted)
        for name, kind in move.probes.items():
            if kind is not None:
                newest[name] = made(kind, now.mono_s)
        for name, rh_pct in (
            ("bench-damp", move.damp_pct),
            ("shelf-damp", move.damp_pct),
            ("outdoor-damp", move.outdoor_pct),
        ):
            if rh_pct is not None:
                humidity[name] = HumidityReading(now.mono_s, rh_pct)
        if move.reload:
            memory = carried_over(memory, plan, now)
        failed = frozenset() if move.failed is None else frozenset({move.failed})
        tick = decided(
            newest,
            memory,
            plan,
            now,
            humidity=humidity,
            reports=(
                *((Condition("broker-lost", "broker", "gone"),) if move.lost else ()),
                *failing(*failed),
            ),
            requests=(Request("over-ceiling-shelf"),) if move.clear else (),
        )
        referee.see(tick, failed)
        umpire.see(tick)
        memory = tick.memory
    return referee
