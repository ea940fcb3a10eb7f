"""Playing a row of the catalogue, and saying in a few words what happened.

Lives here: the way from a row to an outcome. A row that does not hold raises.
"""

from itertools import count
from pathlib import Path

import pytest

from tests.faults import catalogue
from tests.faults.catalogue.calls import Sweep
from tests.faults.fault import WHOLE, Fault, Outcome, Process
from tests.faults.house import Course, House
from tests.faults.invariants import ORDINARY, Belongings, check
from tests.faults.yard import Yard


def play(row: catalogue.Row, folder: Path, yard: Yard) -> Outcome:
    """yard: where the real program runs, for the faults of the whole process."""
    if isinstance(row, Process):
        return yard.play(row)
    return _play_sweep(row, folder) if isinstance(row, Sweep) else _in_words(_live(row, folder))


def _live(fault: Fault, folder: Path) -> Course:
    before = Belongings.now()
    with pytest.MonkeyPatch.context() as patch:
        house = House(folder, patch)
        house.excused = frozenset(fault.stuck)
        fault.inject(house)
        course = house.live()
        check(fault, house, course, before)
    return course


def _play_sweep(sweep: Sweep, folder: Path) -> Outcome:
    runs = 0
    for call in count(1) if WHOLE else (1, 9):
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
    end = "ended itself, outputs off" if sweep.fatal else "lived on"
    calls = "call 1" if runs == 1 else f"calls 1 to {runs} in turn"
    return Outcome(f"{calls}: {end}", sweep.told)


def _in_words(course: Course) -> Outcome:
    did = _heat(course)
    if course.error is not None:
        did = "refused to start" if not course.ticks else f"ended itself, outputs off; {did}"
    return Outcome(did, tuple(sorted(course.codes() - ORDINARY)))


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
