"""A pretend 1-Wire driver in front of a W1Tree: conversion times, and the bulk memory.

Lives here: what drivers/w1/slaves/w1_therm.c of Linux does between open and close, as
far as time and stale values go, on a clock turned by hand. A probe's register holds
what the tree said at its last conversion. Does not live here: the files (w1tree.py).
"""

from pathlib import Path

from greenkeeper.clock import HandClock
from greenkeeper.probes.sysfs import KernelFiles, read_number

SCRATCHPAD_S = 0.012  # fetching nine bytes over the bus
NO_PRESENCE_S = 0.005  # a reset that nobody answers


class PretendKernel(KernelFiles):
    """Real files, read and written as through the driver. Counts what the bus has to do."""

    def __init__(self, clock: HandClock) -> None:
        self.clock = clock
        self.conversions = 0
        self.written: list[bytes] = []
        self.reads: list[str] = []  # one probe's ROM for each read of its w1_slave
        self.presence = True
        self.trigger_s: float | None = None  # a trigger returns after this, done or not
        self.finishes_at_s: float | None = None  # of a conversion begun elsewhere
        self.locked = False  # therm_bulk_read belongs to root
        self._registers: dict[Path, bytes] = {}
        self._flags: dict[Path, int] = {}  # -1: converting, 1: converted and unread

    def read(self, path: Path) -> bytes:
        if path.name == "therm_bulk_read":
            super().read(path)  # raises when this kernel lacks it
            return f"{self.bulk_state(path.parent)}\n".encode()
        if path.name == "w1_slave":
            return self._answer(self.real(path.parent))
        return super().read(path)

    def write(self, path: Path, data: bytes) -> None:
        if self.locked:
            raise PermissionError(13, "Permission denied")
        super().read(path)
        self.written.append(data)
        if data == b"trigger\n":  # anything else "succeeds" and does nothing
            self._convert_all(path.parent)

    def bulk_state(self, master: Path) -> int:
        if self.finishes_at_s is not None and self.clock.mono_s() >= self.finishes_at_s:
            self.finishes_at_s = None
            self.finish_conversion(master)
        flags = {self._flags.get(place, 0) for place in self._places(master)}
        return -1 if -1 in flags else max(flags, default=0)

    def begin_conversion(self, master: Path) -> None:
        """Another program has triggered the bus a moment ago."""
        self._flags.update(dict.fromkeys(self._places(master), -1))

    def finish_conversion(self, master: Path) -> None:
        for place in self._places(master):
            self._registers[place] = super().read(place / "w1_slave")
            self._flags[place] = 1

    def _answer(self, place: Path) -> bytes:
        self.reads.append(place.name)
        flag = self._flags.get(place, 0)
        if flag < 0:
            return b""
        if flag == 0:
            self.conversions += 1
            self.clock.advance(self._conversion_s(place))
            self._registers[place] = super().read(place / "w1_slave")
        self._flags[place] = 0
        self.clock.advance(SCRATCHPAD_S)
        return self._registers.get(place, b"")

    def _convert_all(self, master: Path) -> None:
        places = self._places(master)
        if not self.presence:  # the driver marks them converted all the same
            self.clock.advance(NO_PRESENCE_S)
            self._flags.update(dict.fromkeys(places, 1))
            return
        longest_s = max(self._conversion_s(place) for place in places)
        self.conversions += 1
        self.clock.advance(longest_s if self.trigger_s is None else self.trigger_s)
        self.finish_conversion(master)

    def _conversion_s(self, place: Path) -> float:
        waits_ms = read_number(self, place / "conv_time")
        return 0.75 if waits_ms is None else waits_ms / 1000.0

    def _places(self, master: Path) -> list[Path]:
        return [entry for entry in self.real(master).iterdir() if entry.name[2:3] == "-"]
