"""What must hold after any fault whatever, in one place.

(a) No output is on beyond its permission plus the switchboard's wake, or without one.
(b) The loop ticks on, or it has stopped with every output off.
(c) The journal opens and is whole; a damaged one stands aside.
(d) What happened is told, with codes of the catalogue and no other codes.
(e) Threads and file handles are back where they were.
"""

import gc
import math
import os
import threading
from collections import Counter
from collections.abc import Mapping
from itertools import pairwise
from typing import NamedTuple, Self

from greenkeeper.errors import CATALOGUE, GreenkeeperError
from greenkeeper.journal.check import findings
from greenkeeper.journal.reader import Journal
from greenkeeper.model import Tick
from tests.faults.fault import End, Fault, Heat, Leaves, Record
from tests.faults.house import (
    BREAKS_S,
    ENDS_S,
    MENDS_S,
    NAMES,
    WARMS_S,
    Course,
    House,
)
from tests.faults.world import START_S
from tests.support.waiting import eventually

ORDINARY = {"keeper-started", "keeper-stopped"}

# Codes that are not events of the house: lines of the log about a connection.
LOG_ONLY = {"broker-connected", "broker-fault"}

# What may follow a fault that lasts, by a code of its own.
SYMPTOMS = {"probe-flaky"}

STALE_S = 45.0  # the settings' default: an older reading counts no more

# For the heater to be on again: power-on values, jumps and minimum off times have passed.
_BACK_S = 290.0


class Belongings(NamedTuple):
    """Threads and file handles of this process."""

    threads: frozenset[str]
    handles: tuple[str, ...]

    @classmethod
    def now(cls) -> Self:
        gc.collect()
        handles = []
        for entry in os.scandir("/proc/self/fd"):
            try:
                handles.append(os.readlink(entry.path).split(":")[0])
            except OSError:
                continue  # the handle of this very listing
        threads = frozenset(f"{each.name} {each.ident}" for each in threading.enumerate())
        return cls(threads, tuple(sorted(handles)))


def check(fault: Fault, house: House, course: Course, before: Belongings) -> None:
    nothing_is_on_that_should_not_be(fault, house, course)
    it_ticks_or_has_stopped(fault, house, course)
    the_heater_did(fault.heat, course, fault.within_s)
    the_outputs_stood(fault.leaves, house)
    the_record_is(fault.record, house)
    it_was_told(fault, course)
    fault.also(house, course)
    nothing_leaks(before)


# --- (a) ---------------------------------------------------------------------------------


def nothing_is_on_that_should_not_be(fault: Fault, house: House, course: Course) -> None:
    assert house.astray == [], f"on without permission: {house.astray}"
    seen_s = float("-inf")
    for tick in course.ticks:
        seen_s = max([seen_s, *_sightings(tick)])
        on = {command.output for command in tick.commands if command.on}
        assert not on >= {"heater", "fan"}, "heat and cooling at once"
        assert not on or tick.now.mono_s - seen_s <= STALE_S, f"on and blind: {tick}"
    left_on = [name for pin, name in NAMES.items() if house.is_on(pin) and name not in fault.stuck]
    assert left_on == [], "left on at the end"


def _sightings(tick: Tick) -> list[float]:
    """When a bench probe's driver gave a number, as the driver says."""
    readings = [tick.readings[name] for name in ("left", "right") if name in tick.readings]
    return [
        reading.taken_s
        for reading in readings
        if reading.temp_c is not None
        and math.isfinite(reading.temp_c)
        and reading.taken_s <= tick.now.mono_s
    ]


# --- (b) ---------------------------------------------------------------------------------


def it_ticks_or_has_stopped(fault: Fault, house: House, course: Course) -> None:
    error = course.error
    if fault.end is End.REFUSED:
        assert isinstance(error, GreenkeeperError), f"no plain refusal: {error!r}"
        assert not course.ticks
        return
    if fault.end is End.FAILED or (fault.end is End.OWN and error is not None):
        assert error is not None, "it should have ended itself"
        assert "keeper-failed" in course.codes()
        return
    if error is not None:
        raise error
    _ticked_on(house, course)


def _ticked_on(house: House, course: Course) -> None:
    """In rhythm to the end, but for time that nobody lived through."""
    poll_s = house.parts.poll_s
    times = [tick.now.mono_s for tick in course.ticks]
    for before_s, after_s in pairwise(times):
        lost_s = sum(to - since for since, to in house.clock.leaps if before_s <= since < after_s)
        assert after_s - before_s <= 2.0 * poll_s + lost_s, f"no tick after {before_s:g} s"
    assert times[-1] > START_S + house.until_s - 2.0 * poll_s


# --- what the heater did --------------------------------------------------------------------


def the_heater_did(heat: Heat, course: Course, within_s: float) -> None:
    on = [when for when in range(int(ENDS_S)) if course.heating_at(when)]
    match heat:
        case Heat.GOES_ON:
            assert on == list(range(on[0], int(ENDS_S))), f"heat: {course.heater}"
            assert on[0] <= WARMS_S
        case Heat.PAUSES:
            gone = range(int(BREAKS_S + within_s), int(MENDS_S))
            assert WARMS_S in on, f"it was not on before: {course.heater}"
            assert not set(gone) & set(on), f"heat: {course.heater}"
            assert MENDS_S + _BACK_S - 1 in on, f"it did not come back: {course.heater}"
        case Heat.STOPS:
            assert WARMS_S in on, f"it was not on before: {course.heater}"
            assert max(on) < BREAKS_S + within_s, f"heat: {course.heater}"
        case Heat.WAITS:
            assert on, "never on"
            assert MENDS_S <= min(on) <= MENDS_S + _BACK_S, f"heat: {course.heater}"
        case Heat.NEVER:
            assert on == [], f"heat: {course.heater}"
        case Heat.OWN:
            return


def the_outputs_stood(leaves: Mapping[str, Leaves], house: House) -> None:
    """Before the fault each was on (a vent: under way), and while it lasts each is as said."""
    if not leaves:
        return
    before, during = house.looks
    for output, state in leaves.items():
        names = {"roof-open", "roof-close"} if output == "vent" else {output}
        assert names & before, f"{output} was not on before, only {sorted(before)}"
        stays = state not in {Leaves.OFF, Leaves.STILL}
        assert bool(names & during) == stays, f"{output} is not {state.value}: {sorted(during)}"


# --- (c) ---------------------------------------------------------------------------------


def the_record_is(record: Record, house: House) -> None:
    aside = sorted(house.state.glob("journal.db.damaged-*"))
    if record is Record.ASIDE:
        assert aside, "the damaged journal does not stand aside"
    else:
        assert aside == [], "a journal that was whole stands aside"
    if record is Record.NONE:
        assert not house.journal_file.is_file()
    elif record is not Record.UNTOUCHED:
        with Journal(house.journal_file) as journal:
            assert journal.runs(), "no run in it"
            assert [text for text in findings(journal) if text.startswith("damaged")] == []


# --- (d) ---------------------------------------------------------------------------------


def it_was_told(fault: Fault, course: Course) -> None:
    told = course.codes() - ORDINARY
    odd = told - CATALOGUE.keys() - LOG_ONLY
    assert odd == set(), "codes without a paragraph"
    told -= LOG_ONLY | SYMPTOMS | set(fault.may)
    assert told == set(fault.told), f"told {sorted(told)}, not {sorted(fault.told)}"


# --- (e) ---------------------------------------------------------------------------------


def nothing_leaks(before: Belongings) -> None:
    def added() -> list[str]:
        after = Belongings.now()
        handles = Counter(after.handles) - Counter(before.handles)
        return [*sorted(after.threads - before.threads), *handles]

    eventually(lambda: not added(), lambda: f"left behind: {added()}")
