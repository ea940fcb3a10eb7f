"""The world around a keeper in a test: time that acts, and a bench that warms and cools.

Lives here: the loop's clock, on which what is laid down for a moment happens when waiting
reaches it, so that nothing depends on how busy the machine is; and a bench slow enough
that a heater once on stays on for a quarter of an hour. The figures are invented.
"""

import math
import threading
from collections.abc import Callable

from greenkeeper.clock import HandClock
from tests.support.w1tree import W1Tree

UTC_S = 1_800_000_000.0  # 2027-01-15 08:00:00 UTC
START_S = 1000.0  # the first tick's monotonic second


class World(HandClock):
    def __init__(self, *, utc_s: float = UTC_S, clock_trusted: bool = True) -> None:
        super().__init__(utc_s=utc_s, mono_s=START_S, clock_trusted=clock_trusted)
        self.leaps: list[tuple[float, float]] = []  # from, to: time nobody lived through
        self.after_tick: Callable[[], None] = lambda: None
        self._plans: list[tuple[float, int, Callable[[], object]]] = []
        self._loop = threading.get_ident()

    @property
    def after_s(self) -> float:
        """Seconds since the start."""
        return self.mono_s() - START_S

    def at(self, after_s: float, act: Callable[[], object]) -> None:
        """Between two ticks, at this second after the start."""
        self._plans.append((START_S + after_s, len(self._plans), act))
        self._plans.sort(key=lambda plan: plan[:2])

    def leap(self, seconds: float) -> None:
        """Time passes and the loop does not come round: it hangs, or all of it sleeps."""
        before_s = self.mono_s()
        self.advance(seconds)
        self.leaps.append((before_s, self.mono_s()))

    def wait_until(self, mono_s: float, wake: threading.Event) -> None:
        if threading.get_ident() != self._loop:  # a driver in a thread of its own
            super().wait_until(mono_s, wake)
            return
        self.after_tick()
        while self._plans and self._plans[0][0] <= mono_s and not wake.is_set():
            due_s, _, act = self._plans.pop(0)
            super().wait_until(due_s, wake)
            act()
        if not wake.is_set():
            super().wait_until(mono_s, wake)


class Bench:
    """Two bench probes and one outdoors, whose bus files follow a slow, invented house."""

    LAG_S = 1800.0
    HEATED_C, UNHEATED_C = 6.5, 2.5

    def __init__(self, bus: W1Tree, left: str, right: str, outdoors: str) -> None:
        self._bus = bus
        self._above_k = {left: 0.0, right: 0.125}
        self._outdoors = outdoors
        self._shown: dict[str, float] = {}
        self._held: set[str] = set()
        self.temp_c = 3.5
        for rom in (left, right, outdoors):
            bus.add(rom, self.temp_c)
        self.live(0.0, 0.0, heated=False)

    def live(self, seconds: float, after_s: float, *, heated: bool) -> None:
        """So long with the heater like this; then the files say what it came to."""
        goal_c = self.HEATED_C if heated else self.UNHEATED_C
        self.temp_c += (goal_c - self.temp_c) * -math.expm1(-seconds / self.LAG_S)
        self._show(self._outdoors, -2.0 + 0.5 * math.sin(after_s / 300.0))
        for rom, above_k in self._above_k.items():
            self._show(rom, self.temp_c + above_k)

    def hold(self, *roms: str) -> None:
        """The weather leaves these probes' files alone: a fault has them now."""
        self._held.update(roms)

    def let_go(self, *roms: str) -> None:
        """These probes show the truth again, from now on."""
        for rom in roms:
            self._held.discard(rom)
            self._bus.set_temp(rom, self._shown[rom])

    def _show(self, rom: str, temp_c: float) -> None:
        seen_c = round(temp_c * 16) / 16
        if self._shown.get(rom) != seen_c:
            self._shown[rom] = seen_c
            if rom not in self._held:
                self._bus.set_temp(rom, seen_c)
