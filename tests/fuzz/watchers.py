"""What must hold after every tick of a fuzzed keeper, whatever was done to it.

Lives here: the invariants on relay lines, lent by nobody but the pretend kernel's own
record, and the two referees of tests/control/ on what was decided. Does not live here:
doing anything to the keeper (machine.py).
"""

import threading
from collections.abc import Collection, Sequence
from typing import Any

from greenkeeper.control import Plan
from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Condition, Memory, Mode, Now, Tick
from greenkeeper.outputs.switchboard import WAKE_S
from tests.control.referee import Referee
from tests.control.umpire import Umpire
from tests.faults.house import CLOSES, ENABLE, FAN, HEATER, ISOLATOR, NAMES, ON_LEVEL, OPENS, House

MOST_KEPT = 4000  # values in the keeper's memory, all together
MIN_OFF_S = 60.0  # the settings' default
_TRIES = 40  # wakes of the switchboard's thread that an OFF may take on a busy machine


class Watchers:
    """Notes in words what does not hold; `broken` must stay empty."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.broken: list[str] = []
        self.ticks = 0
        self.switchings = self.events = self.latched = 0
        self.faulty: set[int] = set()  # pins that a fault has in its hands
        self._referee: Referee | None = None
        self._umpire: Umpire | None = None
        self._board: object = None
        self._tick: Tick | None = None
        self._since: dict[int, float] = {}  # when a line was last driven off
        self._met: dict[int, int] = {}  # how many of its changes were looked at

    def started(self) -> None:
        """A keeper begins: it knows nothing of the one before."""
        self._referee = self._umpire = self._tick = self._board = None

    def decided(self, tick: Tick, memory: Memory, plan: Plan, reports: Sequence[Condition]) -> None:
        self.ticks += 1
        self._tick = tick
        if self._umpire is None:
            self._umpire = Umpire(plan)
            self._umpire.latched = set(memory.latches)  # kept from before
        if self._referee is None or self.house.parts.switchboard is not self._board:
            self._board = self.house.parts.switchboard
            self._referee = Referee(plan, _all_off_since(memory, tick.now))
        self._referee.plan = self._umpire.plan = plan
        failed = frozenset(each.subject for each in reports if each.code == "output-failed")
        try:
            self._referee.see(tick, failed)
            self._umpire.see(tick)
        except AssertionError as error:
            self._note(f"{_where(error)} at {self.house.clock.after_s:g} s: {error}")
        self._words(tick)
        self.events += len(tick.events)
        self.latched += len(tick.memory.latches.keys() - memory.latches.keys())

    def ticked(self) -> None:
        """The tick's commands are out."""
        self.permissions()
        self._edges()
        for first, second in ((HEATER, FAN), (HEATER, OPENS), (OPENS, CLOSES)):
            # A relay that cannot be driven off may meet the other after a while; the two of
            # a vent never.
            excused = (first, second) != (OPENS, CLOSES) and self.faulty & {first, second}
            if not excused and self.house.is_on(first) and self.house.is_on(second):
                self._note(f"{NAMES[first]} and {NAMES[second]} are on together")
        if self._tick is not None and self._tick.memory.latches:
            for pin in {HEATER, ISOLATOR} - self.faulty:
                if self.house.is_on(pin):
                    self._note(f"latched, and {NAMES[pin]} is on")

    def permissions(self) -> None:
        """No line is on without a command that holds now, its thread's wake allowed for."""
        waiter = threading.Event()
        for pin, name in NAMES.items():
            for _ in range(_TRIES):
                if pin in self.faulty or not self.house.is_on(pin) or self.house.permitted(name):
                    break
                waiter.wait(WAKE_S)
            else:
                self._note(f"{name} is on without permission")

    def ended(self) -> None:
        """However it ended, everything is off."""
        for pin in set(NAMES) - self.faulty:
            if self.house.is_on(pin):
                self._note(f"{NAMES[pin]} was left on")
        if self.house.board.changes(ENABLE) and self.house.board.level(ENABLE) == 1:
            self._note("the enable line was left high")
        self._edges()

    def mended(self) -> None:
        """Every line obeys again, and has been driven anew."""
        self.faulty.clear()
        self.permissions()

    # --- single looks ----------------------------------------

    def _edges(self) -> None:
        """Minimum OFF times, from when the lines really changed."""
        for pin in (HEATER, FAN):
            changes = self.house.board.switched.get(pin, [])
            for change in changes[self._met.get(pin, 0) :]:
                self.switchings += 1
                if change.level != ON_LEVEL[pin]:
                    self._since[pin] = change.mono_s
                    continue
                off_s = change.mono_s - self._since.get(pin, float("-inf"))
                if off_s < MIN_OFF_S - 1e-6:
                    self._note(f"{NAMES[pin]} came on after {off_s:g} s off")
            self._met[pin] = len(changes)

    def _words(self, tick: Tick) -> None:
        heat = {
            wish.output for view in tick.zones for wish in view.wishes if wish.mode is Mode.HEAT
        }
        for command in tick.commands:
            if not command.reason.strip():
                self._note(f"{command.output} has no reason")
            if command.on and command.output in heat and tick.memory.latches:
                self._note(f"latched, and {command.output} is told to be on")
        for event in tick.events:
            if event.code not in CATALOGUE or not event.text:
                self._note(f"an event that says nothing: {event}")
        kept = _values(tick.memory)
        if kept > MOST_KEPT:
            self._note(f"memory of {kept} values")

    def _note(self, text: str) -> None:
        if text not in self.broken:
            self.broken.append(text)


def _all_off_since(memory: Memory, now: Now) -> Now:
    """All outputs were made anew: they have been off since then, as the keeper counts it."""
    since_s = [state.since_s for state in memory.outputs.values()]
    return now._replace(mono_s=max(since_s, default=now.mono_s))


def _values(thing: Any) -> int:
    if isinstance(thing, str | bytes) or not isinstance(thing, Collection):
        return 1
    return sum(map(_values, thing.values() if hasattr(thing, "values") else thing))


def _where(error: AssertionError) -> str:
    """The invariant's own name: the innermost function."""
    trace = error.__traceback__
    assert trace is not None
    while trace.tb_next is not None:
        trace = trace.tb_next
    return f"{trace.tb_frame.f_code.co_name}, line {trace.tb_lineno}"
