"""A whole keeper that can be stopped between two ticks, spoilt, and let go on.

Lives here: Nursery, the invented house of tests/faults/ with its loop in a thread of its
own, parked wherever it waits for the next tick; restarts and crashes. Does not live here:
what happens to it (machine.py) and what must hold (watchers.py).
"""

import io
import math
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
import structlog

from greenkeeper import control
from greenkeeper.clock import HandClock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Tick
from tests.faults.house import House
from tests.faults.world import World
from tests.fuzz.watchers import Watchers

_PATIENCE_S = 60.0  # real; bounds a failing run


class CrashError(RuntimeError):
    """A bug in control, as far as the keeper can tell."""


class ParkedWorld(World):
    """Its loop stops at every wait, until `on` lets it go to the next one."""

    def __init__(self) -> None:
        super().__init__()
        self._go = threading.Semaphore(0)
        self.parked = threading.Semaphore(0)

    def adopt_loop(self) -> None:
        """This thread is the loop's."""
        self._loop = threading.get_ident()

    def on(self) -> None:
        self._go.release()

    def wait_until(self, mono_s: float, wake: threading.Event) -> None:
        if threading.get_ident() != self._loop:
            super().wait_until(mono_s, wake)
            return
        self.after_tick()
        self.parked.release()
        self._go.acquire()
        if not wake.is_set():
            HandClock.wait_until(self, mono_s, wake)


class Nursery:
    def __init__(self, folder: Path, patch: pytest.MonkeyPatch, **settings: Any) -> None:
        self.clock = ParkedWorld()
        self.house = House(folder, patch, self.clock)
        self.house.until_s = math.inf
        self.house.write_settings(**settings)
        self.watchers = Watchers(self.house)
        self._crashing = False
        self._thread: threading.Thread | None = None
        self._error: BaseException | None = None
        self._ended = threading.Event()
        self._decide = control.step
        patch.setattr(control, "step", self._step)
        patch.setattr(House, "_spy_on_control", lambda _: None)  # this spy stays over restarts
        patch.setattr(House, "watch", lambda _: self.watchers.ticked())

    # --- life ----------------------------------------

    def start(self) -> None:
        assert self._thread is None
        self.house.log = io.StringIO()
        self.watchers.started()
        self._ended.clear()
        self._thread = threading.Thread(target=self._live, name="loop")
        self._thread.start()
        self._wait()

    def tick(self) -> None:
        """One more, if it runs."""
        if self._thread is not None:
            self.clock.on()
            self._wait()

    def stop(self) -> None:
        """In order, with every output off afterwards."""
        if self._thread is not None:
            assert self.house.keeper is not None
            self.house.keeper.stop()
            self.tick()
            assert self._thread is None, "it did not stop"

    def crash(self) -> None:
        """Control raises at the next tick, and that ends the keeper."""
        self._crashing = True
        self.tick()
        self._crashing = False

    def close(self) -> None:
        self.stop()
        for act in self.house._last_acts:
            act()
        structlog.reset_defaults()

    @property
    def running(self) -> bool:
        return self._thread is not None

    def _wait(self) -> None:
        """Until the loop waits for its next tick, or has ended."""
        thread = self._thread
        assert thread is not None
        assert self.clock.parked.acquire(timeout=_PATIENCE_S), "the loop hangs"
        if self._ended.is_set():
            thread.join()
            self._thread = None
            self._has_ended()

    def _live(self) -> None:
        self.clock.adopt_loop()
        course = self.house.live()
        self._error = course.error
        self._ended.set()
        self.clock.parked.release()

    def _has_ended(self) -> None:
        error, self._error = self._error, None
        refused = isinstance(error, GreenkeeperError) and self.watchers.faulty
        if error is not None and not isinstance(error, CrashError) and not refused:
            raise error
        self.watchers.ended()

    def _step(self, *arguments: Any, **named: Any) -> Tick:
        if self._crashing:
            self._crashing = False
            raise CrashError
        tick = self._decide(*arguments, **named)
        self.house.ticks[:] = [tick]
        _, memory, plan, _ = arguments
        self.watchers.decided(tick, memory, plan, named["reports"])
        return tick

    # --- for rules ----------------------------------------

    def violations(self) -> Sequence[str]:
        return self.watchers.broken
