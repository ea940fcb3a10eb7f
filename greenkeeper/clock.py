"""The one clock, passed in: a real one and one turned by hand.

Lives here: reading time and waiting. Does not live here: time zones and schedules
(control/schedule.py), which are functions of a Now.
"""

import threading
import time
from pathlib import Path
from typing import Protocol

from greenkeeper.model import Now

# systemd-timesyncd keeps this file once the clock was synchronised since boot
# (systemd-timesyncd(8)). adjtimex would serve every time daemon, but the hardened
# unit's ProtectClock= forbids it.
SYNCHRONISED_FILE = Path("/run/systemd/timesync/synchronized")


class Clock(Protocol):
    def now(self) -> Now: ...

    def mono_s(self) -> float: ...

    def wait_until(self, mono_s: float, wake: threading.Event) -> None:
        """Return at mono_s, or as soon as wake is set."""


class SystemClock:
    """Time as the kernel tells it.

    Monotonic seconds are those since boot, a suspended machine's included (CLOCK_BOOTTIME,
    clock_gettime(2)): a permission must not outlive the night that a board slept through,
    nor a reading look fresh after it. Nobody can set this clock.
    """

    def __init__(self, *, trusted: bool = False, sync_file: Path = SYNCHRONISED_FILE) -> None:
        """trusted: the owner vouches for the clock (a battery clock, another time daemon)."""
        self._trusted = trusted
        self._sync_file = sync_file

    def now(self) -> Now:
        return Now(self.mono_s(), time.time(), self._trusted or self._sync_file.exists())

    def mono_s(self) -> float:
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    def wait_until(self, mono_s: float, wake: threading.Event) -> None:
        wake.wait(max(0.0, mono_s - self.mono_s()))


class HandClock:
    """Time that moves only when somebody turns it, for tests and rehearsals.

    Waiting turns it to the awaited moment. With a speed it also lets real time pass,
    so that people can watch: speed 600 shows ten minutes in a second.
    """

    def __init__(
        self,
        *,
        utc_s: float,
        mono_s: float = 1000.0,
        speed: float | None = None,
        clock_trusted: bool = True,
    ) -> None:
        self._mono_s = mono_s
        self._utc_minus_mono_s = utc_s - mono_s
        self._speed = speed
        self.clock_trusted = clock_trusted

    def now(self) -> Now:
        return Now(self._mono_s, self._mono_s + self._utc_minus_mono_s, self.clock_trusted)

    def mono_s(self) -> float:
        return self._mono_s

    def wait_until(self, mono_s: float, wake: threading.Event) -> None:
        ahead_s = max(0.0, mono_s - self._mono_s)
        if self._speed is not None:
            wake.wait(ahead_s / self._speed)
        self._mono_s += ahead_s

    def advance(self, seconds: float) -> None:
        if seconds < 0.0:
            raise ValueError("monotonic time never runs backwards")
        self._mono_s += seconds

    def set_civil(self, utc_s: float) -> None:
        """Step the civil clock, as a time daemon or a person would."""
        self._utc_minus_mono_s = utc_s - self._mono_s
