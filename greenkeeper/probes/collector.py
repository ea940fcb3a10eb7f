"""Gathers the newest of every probe, hygrometer and contact, whatever single drivers do.

Lives here: one thread for each group that may block, and the deadline. A read of a
kernel file can't be cancelled: a hung one keeps its thread, its probes keep their last
reading, and that reading's age is what gives it away (judge). Does not live here: any
driver, and any opinion on a reading.
"""

import signal
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Generic, TypeVar

from greenkeeper.clock import Clock
from greenkeeper.model import ContactReading, Fault, HumidityReading, Reading
from greenkeeper.probes import ContactGroup, Group, HygrometerGroup, ProbeGroup

_JOIN_S = 1.0  # an idle thread leaves at once; this bounds even a starved machine

R = TypeVar("R")

Nothing = Callable[[float, Fault, str], R]
"""The reading that says that there is none: when it was tried, how it failed, in words."""


class Gatherer(Generic[R]):
    """All groups as one. Call it from one thread only."""

    def __init__(
        self, groups: Sequence[Group[R]], clock: Clock, deadline_s: float, nothing: Nothing[R]
    ) -> None:
        self._clock = clock
        self._deadline_s = deadline_s
        self._nothing = nothing
        self._inline = [group for group in groups if not group.blocking]
        self._workers = [_Worker(group, self._read_safely) for group in groups if group.blocking]
        self._names = [name for group in groups for name in group.names]
        self._newest: dict[str, R] = {}
        self._asked: list[_Worker[R]] = []
        self._give_up_s = float("-inf")

    def collect(self) -> Mapping[str, R]:
        """One reading for every name: the newest there is. Raises nothing.

        A group still busy since an earlier call is neither asked again nor waited for.
        """
        self.ask()
        return self.answers()

    def ask(self) -> None:
        """Begin, and wait for nothing: the first half of collect."""
        # Threads run in real time, whatever clock the house keeps.
        self._give_up_s = time.monotonic() + self._deadline_s
        self._asked = [worker for worker in self._workers if worker.ask()]

    def answers(self) -> Mapping[str, R]:
        """What came of it: the other half."""
        for group in self._inline:
            self._newest.update(self._read_safely(group))
        for worker in self._asked:
            worker.wait(max(0.0, self._give_up_s - time.monotonic()))
        for worker in self._workers:
            self._newest.update(worker.newest())
        unheard = self._nothing(self._clock.mono_s(), Fault.MISSING, "no answer yet")
        return {name: self._newest.get(name, unheard) for name in self._names}

    def close(self) -> None:
        """Let every idle group go. A hung read is left to die with the process."""
        for worker in self._workers:
            worker.leave()
        for group in self._inline:
            group.close()

    def _read_safely(self, group: Group[R]) -> dict[str, R]:
        """Its readings; a driver that breaks its word spoils its own readings only."""
        asked_s = self._clock.mono_s()
        silent = self._nothing(asked_s, Fault.UNREADABLE, "the driver gave no reading")
        try:
            given = dict(group.read())
        except Exception as error:  # noqa: BLE001 - a driver's bug must not stop the others
            text = f"the driver failed: {type(error).__name__}: {error}"
            failed = self._nothing(asked_s, Fault.UNREADABLE, text)
            return dict.fromkeys(group.names, failed)
        # Whatever else it gave would end control, which reads its fields.
        return {
            name: reading if isinstance(reading := given.get(name), type(silent)) else silent
            for name in group.names
        }


class Collector(Gatherer[Reading]):
    """All groups' probes."""

    def __init__(self, groups: Sequence[ProbeGroup], clock: Clock, deadline_s: float) -> None:
        """deadline_s: real seconds that a collection waits at most for blocking groups."""
        super().__init__(groups, clock, deadline_s, _no_temperature)


class HygrometerCollector(Gatherer[HumidityReading]):
    """All groups' hygrometers."""

    def __init__(self, groups: Sequence[HygrometerGroup], clock: Clock, deadline_s: float) -> None:
        """deadline_s: as for probes, counted from ask()."""
        super().__init__(groups, clock, deadline_s, _no_humidity)


class ContactCollector(Gatherer[ContactReading]):
    """All groups' contacts."""

    def __init__(self, groups: Sequence[ContactGroup], clock: Clock, deadline_s: float) -> None:
        """deadline_s: as for probes, counted from ask()."""
        super().__init__(groups, clock, deadline_s, _unknown)


def _no_temperature(tried_s: float, fault: Fault, detail: str) -> Reading:
    return Reading(tried_s, None, fault, detail)


def _no_humidity(tried_s: float, fault: Fault, detail: str) -> HumidityReading:
    return HumidityReading(tried_s, None, fault, detail)


def _unknown(tried_s: float, fault: Fault, detail: str) -> ContactReading:  # noqa: ARG001
    return ContactReading(tried_s, None, detail)


class _Worker(Generic[R]):
    """One thread that reads one group when asked."""

    def __init__(self, group: Group[R], read: Callable[[Group[R]], Mapping[str, R]]) -> None:
        """read: reads the group and raises nothing."""
        self._group = group
        self._read = read
        self._changed = threading.Condition()
        # Invariant: all three are touched only while _changed is held.
        self._busy = False
        self._leaving = False
        self._newest: Mapping[str, R] = {}
        self._thread = self._start_thread()

    def ask(self) -> bool:
        """Start a read. False when the last one still runs."""
        with self._changed:
            if not self._thread.is_alive() and not self._replaced():
                return False
            if self._busy:
                return False
            self._busy = True
            self._changed.notify_all()
            return True

    def _replaced(self) -> bool:
        """Whether there is room for another thread; it died for want of memory, or of a
        library that left by sys.exit."""
        try:
            self._thread = self._start_thread()
        except (RuntimeError, MemoryError):
            return False
        self._busy = False
        return True

    def _start_thread(self) -> threading.Thread:
        name = f"reads {', '.join(self._group.names)}"
        thread = threading.Thread(target=self._work, name=name, daemon=True)
        thread.start()
        return thread

    def wait(self, timeout_s: float) -> None:
        with self._changed:
            self._changed.wait_for(lambda: not self._busy, timeout_s)

    def newest(self) -> Mapping[str, R]:
        with self._changed:
            return self._newest

    def leave(self) -> None:
        with self._changed:
            self._leaving = True
            busy = self._busy
            self._changed.notify_all()
        if not busy:
            self._thread.join(_JOIN_S)

    def _work(self) -> None:
        # A signal that lands on this thread ends the driver's sleep early, and the
        # read with an empty answer (drivers/w1/slaves/w1_therm.c).
        signal.pthread_sigmask(signal.SIG_BLOCK, signal.valid_signals())
        while self._next():
            readings = self._read(self._group)
            with self._changed:
                self._newest = readings
                self._busy = False
                self._changed.notify_all()
        self._group.close()  # here, so that nothing is closed under a running read

    def _next(self) -> bool:
        with self._changed:
            self._changed.wait_for(lambda: self._busy or self._leaving)
            return not self._leaving
