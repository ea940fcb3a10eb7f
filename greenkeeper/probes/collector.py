"""Gathers the newest reading of every probe, whatever single drivers are doing.

Lives here: one thread for each group that may block, and the deadline. A read of a
kernel file can't be cancelled: a hung one keeps its thread, its probes keep their last
reading, and that reading's age is what gives it away (judge). Does not live here: any
driver, and any opinion on a reading.
"""

import signal
import threading
import time
from collections.abc import Mapping, Sequence

from greenkeeper.clock import Clock
from greenkeeper.model import Fault, Reading
from greenkeeper.probes import ProbeGroup

_JOIN_S = 1.0  # an idle thread leaves at once; this bounds even a starved machine


class Collector:
    """All groups' probes as one. Call it from one thread only."""

    def __init__(self, groups: Sequence[ProbeGroup], clock: Clock, deadline_s: float) -> None:
        """deadline_s: real seconds that collect() waits at most for blocking groups."""
        self._clock = clock
        self._deadline_s = deadline_s
        self._inline = [group for group in groups if not group.blocking]
        self._workers = [_Worker(group, clock) for group in groups if group.blocking]
        self._names = [name for group in groups for name in group.names]
        self._newest: dict[str, Reading] = {}

    def collect(self) -> Mapping[str, Reading]:
        """One Reading for every probe: the newest there is. Raises nothing.

        A group still busy since an earlier call is neither asked again nor waited for.
        """
        # Threads run in real time, whatever clock the house keeps.
        give_up_s = time.monotonic() + self._deadline_s
        asked = [worker for worker in self._workers if worker.ask()]
        for group in self._inline:
            self._newest.update(_read_safely(group, self._clock))
        for worker in asked:
            worker.wait(max(0.0, give_up_s - time.monotonic()))
        for worker in self._workers:
            self._newest.update(worker.newest())
        unheard = Reading(self._clock.mono_s(), None, Fault.MISSING, "no answer yet")
        return {name: self._newest.get(name, unheard) for name in self._names}

    def close(self) -> None:
        """Let every idle group go. A hung read is left to die with the process."""
        for worker in self._workers:
            worker.leave()
        for group in self._inline:
            group.close()


class _Worker:
    """One thread that reads one group when asked."""

    def __init__(self, group: ProbeGroup, clock: Clock) -> None:
        self._group = group
        self._clock = clock
        self._changed = threading.Condition()
        # Invariant: all three are touched only while _changed is held.
        self._busy = False
        self._leaving = False
        self._newest: Mapping[str, Reading] = {}
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
        name = f"probes {', '.join(self._group.names)}"
        thread = threading.Thread(target=self._work, name=name, daemon=True)
        thread.start()
        return thread

    def wait(self, timeout_s: float) -> None:
        with self._changed:
            self._changed.wait_for(lambda: not self._busy, timeout_s)

    def newest(self) -> Mapping[str, Reading]:
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
            readings = _read_safely(self._group, self._clock)
            with self._changed:
                self._newest = readings
                self._busy = False
                self._changed.notify_all()
        self._group.close()  # here, so that nothing is closed under a running read

    def _next(self) -> bool:
        with self._changed:
            self._changed.wait_for(lambda: self._busy or self._leaving)
            return not self._leaving


def _read_safely(group: ProbeGroup, clock: Clock) -> dict[str, Reading]:
    """Its readings; a driver that breaks its word blinds its own probes only."""
    asked_s = clock.mono_s()
    silent = Reading(asked_s, None, Fault.UNREADABLE, "the driver gave no reading")
    try:
        given = dict(group.read())
    except Exception as error:  # noqa: BLE001 - a driver's bug must not stop the others
        text = f"the driver failed: {type(error).__name__}: {error}"
        return {name: Reading(asked_s, None, Fault.UNREADABLE, text) for name in group.names}
    # Whatever else it gave would end control, which reads its fields.
    return {
        name: reading if isinstance(reading := given.get(name), Reading) else silent
        for name in group.names
    }
