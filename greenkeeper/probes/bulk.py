"""One conversion for every probe of a bus, where the kernel offers it and it can be trusted.

Lives here: writing to therm_bulk_read and the guards against what that file does not
say. A trigger that reached nobody "succeeds", and a probe left unread after a trigger
hands over that old value at its next read, however late. Does not live here: reading
the probes (onewire.py).

Source: Linux, Documentation/w1/slaves/w1_therm.rst and drivers/w1/slaves/w1_therm.c.
"""

import threading
from collections.abc import Sequence
from pathlib import Path

from greenkeeper.clock import Clock
from greenkeeper.probes.sysfs import Files, read_number

FILE = "therm_bulk_read"
CONVERTING, UNREAD = -1, 1  # what the file says; 0: idle

# Eight bytes: without the newline the driver does nothing, and still reports success.
_TRIGGER = b"trigger\n"

# DS18B20 data sheet, longest conversion by resolution.
_CONVERSION_S = {9: 0.09375, 10: 0.1875, 11: 0.375, 12: 0.75}
# The driver sleeps through the whole conversion, so that a write which returns sooner
# met a bus without presence, or was interrupted. A tenth is left for coarse timers.
_TRUSTED_SHARE = 0.9

_SETTLE_S = 1.0  # longer than any conversion
_SETTLE_STEP_S = 0.05
_RETRY_S = 600.0  # a missing or locked file may appear with a udev rule, not by itself


class Bulk:
    """The bulk conversions of one group. A bus is named by the folder of its master."""

    def __init__(self, files: Files, clock: Clock) -> None:
        self._files = files
        self._clock = clock
        self._refused_until_s: dict[Path, float] = {}
        # Invariant: a probe in here was read since our last trigger on its bus.
        self._drained: set[Path] = set()

    def convert(self, master: Path, probes: Sequence[Path]) -> bool:
        """Have all of the bus measure. True: each probe's next read gives that value.

        probes: the folders of those that will now be read. False: read them plainly.
        """
        if self._clock.mono_s() < self._refused_until_s.get(master, 0.0):
            return False
        shortest_s = _TRUSTED_SHARE * max(self._conversion_s(probe) for probe in probes)
        started_s = self._clock.mono_s()
        try:
            self._files.write(master / FILE, _TRIGGER)
        except OSError:
            self._refused_until_s[master] = self._clock.mono_s() + _RETRY_S
            return False
        self._drained.difference_update(probes)
        return self._clock.mono_s() - started_s >= shortest_s

    def settle(self, master: Path) -> None:
        """Wait for a conversion that another program began: reads are empty meanwhile."""
        give_up_s = self._clock.mono_s() + _SETTLE_S
        while self._state(master) == CONVERTING and self._clock.mono_s() < give_up_s:
            self._clock.wait_until(self._clock.mono_s() + _SETTLE_STEP_S, threading.Event())

    def holds_old_value(self, master: Path, probe: Path) -> bool:
        """The probe's next plain read may hand over a conversion of long ago.

        The file says only that some probe of the bus is unread, perhaps one that nobody
        ever reads; a probe that was read since our last trigger is clean for good.
        """
        return probe not in self._drained and self._state(master) == UNREAD

    def drained(self, probe: Path) -> None:
        """It has just been read plainly."""
        self._drained.add(probe)

    def _state(self, master: Path) -> int | None:
        return read_number(self._files, master / FILE)

    def _conversion_s(self, probe: Path) -> float:
        waits_ms = read_number(self._files, probe / "conv_time")
        if waits_ms is not None and waits_ms > 0:
            return waits_ms / 1000.0
        bits = read_number(self._files, probe / "resolution")
        return _CONVERSION_S.get(bits or 12, _CONVERSION_S[12])
