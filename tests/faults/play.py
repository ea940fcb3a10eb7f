"""Playing a row of the catalogue, and saying in a few words what happened.

Lives here: the way from a row to a verdict. A row that does not hold raises.
"""

import os
from itertools import count
from pathlib import Path

import pytest

from tests.faults.catalogue.calls import Sweep
from tests.faults.fault import Fault
from tests.faults.house import Course, House
from tests.faults.invariants import ORDINARY, Belongings, check

# "all" for every call of every sweep and the rows marked heavy: `make faults`.
WHOLE = os.environ.get("GREENKEEPER_FAULTS") == "all"


def play(row: Fault | Sweep, folder: Path) -> str:
    """What happened, for people."""
    return _play_sweep(row, folder) if isinstance(row, Sweep) else _in_words(_live(row, folder))


def _live(fault: Fault, folder: Path) -> Course:
    before = Belongings.now()
    with pytest.MonkeyPatch.context() as patch:
        house = House(folder, patch)
        fault.inject(house)
        course = house.live()
        check(fault, house, course, before)
    return course


def _play_sweep(sweep: Sweep, folder: Path) -> str:
    runs = 0
    for call in count(1) if WHOLE else (1, 4, 13):
        fired: list[int] = []
        place = folder / str(call)
        place.mkdir()
        try:
            _live(sweep.run(call, fired), place)
        except Exception as error:
            raise AssertionError(f"when call {call} fails: {error}") from error
        if not fired:
            break
        runs += 1
    assert runs, "it was never called"
    told = ", ".join(sweep.told) or "nothing to tell"
    end = "ends itself, outputs off" if sweep.fatal else "lives on"
    return f"{runs} runs, each fails one call later: {end}; {told}"


def _in_words(course: Course) -> str:
    parts = [_heat(course)]
    told = sorted(course.codes() - ORDINARY)
    if told:
        parts.append(f"told {', '.join(told)}")
    if course.error is not None:
        parts.append(f"refused: {type(course.error).__name__}" if not course.ticks else "ended")
    return "; ".join(parts)


def _heat(course: Course) -> str:
    spans = []
    since_s: float | None = None
    for when, on in course.heater:
        if on:
            since_s = when
        elif since_s is not None:
            spans.append(f"{since_s:.0f}-{when:.0f}")
            since_s = None
    if since_s is not None:
        spans.append(f"{since_s:.0f}-")
    return f"heat {', '.join(spans)} s" if spans else "no heat"
