"""Thermometers on a 1-Wire bus, through the kernel's files and the library w1thermsensor.

Lives here: the one adapter to that library, and the group of probes that share a bus.
The library names the files and computes the number; it has one error for a silent, a
damaged and a shorted probe, so that frame.py is asked first. Does not live here: the
trick of one conversion for all (bulk.py), and whether a number is plausible (judge).
"""

import math
import os
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Literal, Protocol

from greenkeeper.clock import Clock
from greenkeeper.model import Fault, Reading
from greenkeeper.probes.bulk import Bulk
from greenkeeper.probes.frame import Refusal, refusal
from greenkeeper.probes.sysfs import Files, KernelFiles

BulkSetting = Literal["auto", "off"]

_MASTER = re.compile(r"w1_bus_master\d+")


class OnewireGroup:
    """Probes of one bus, read one after another by one thread.

    A reading's taken_s is the moment its conversion was asked for: a read that hung
    for minutes returns a value as old as that.
    """

    blocking = True

    def __init__(
        self,
        probes: Mapping[str, str],
        folder: Path,
        bulk: BulkSetting,
        clock: Clock,
        files: Files | None = None,
    ) -> None:
        """probes: name -> ROM ('28-0316a2795a01'); folder: /sys/bus/w1/devices."""
        self._folder = folder
        self._clock = clock
        self._files = files or KernelFiles()
        self._share = bulk == "auto"
        self._bulk = Bulk(self._files, clock)
        self._roms = dict(probes)
        self._thermometers = _thermometers(self._roms.values(), folder, self._files)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._roms)

    def read(self) -> Mapping[str, Reading]:
        readings: dict[str, Reading] = {}
        for master, names in self._by_master().items():
            if master is None:
                readings.update({name: self._take(name) for name in names})
            else:
                readings.update(self._read_bus(master, names))
        return {name: readings[name] for name in self._roms}

    def close(self) -> None:
        """Nothing is held open between two reads."""

    def _by_master(self) -> dict[Path | None, list[str]]:
        """Asked anew each time: a probe may come, go, or be moved to another bus."""
        found: dict[Path | None, list[str]] = {}
        for name, rom in self._roms.items():
            found.setdefault(master_of(rom, self._folder, self._files), []).append(name)
        return found

    def _read_bus(self, master: Path, names: list[str]) -> dict[str, Reading]:
        self._bulk.settle(master)
        asked_s = self._clock.mono_s()
        places = [master / self._roms[name] for name in names]
        # For a single probe a shared conversion saves nothing.
        if self._share and len(names) > 1 and self._bulk.convert(master, places):
            return {name: self._take(name, asked_s) for name in names}
        return {name: self._take_plainly(master, name) for name in names}

    def _take_plainly(self, master: Path, name: str) -> Reading:
        place = master / self._roms[name]
        if self._bulk.holds_old_value(master, place):
            self._take(name)
        reading = self._take(name)
        self._bulk.drained(place)
        return reading

    def _take(self, name: str, asked_s: float | None = None) -> Reading:
        taken_s = self._clock.mono_s() if asked_s is None else asked_s
        try:
            found = self._thermometers[self._roms[name]].read()
        except OSError as error:
            return Reading(taken_s, None, Fault.MISSING, _os_detail(error))
        if isinstance(found, Refusal):
            return Reading(taken_s, None, found.fault, found.detail)
        return Reading(taken_s, found)


def onewire_groups(
    probes: Mapping[str, str],
    folder: Path,
    bulk: BulkSetting,
    clock: Clock,
    files: Files | None = None,
) -> list[OnewireGroup]:
    """One group for each bus, so that a hung bus does not hold up another.

    A probe that is not there yet could turn up on any bus; then all are one group,
    because two groups that trigger the same bus would spoil each other's conversions.
    """
    if not probes:
        return []
    buses: dict[Path | None, dict[str, str]] = {}
    for name, rom in probes.items():
        buses.setdefault(master_of(rom, folder, files or KernelFiles()), {})[name] = rom
    if None in buses:
        return [OnewireGroup(probes, folder, bulk, clock, files)]
    return [OnewireGroup(bus, folder, bulk, clock, files) for bus in buses.values()]


def master_of(rom: str, folder: Path, files: Files) -> Path | None:
    """The folder of the bus master that a probe hangs on; None when it shows nowhere."""
    try:
        master = files.real(folder / rom).parent
    except OSError:
        return None
    return master if _MASTER.fullmatch(master.name) else None


def _os_detail(error: OSError) -> str:
    reason = error.strerror or str(error)
    if isinstance(error, FileNotFoundError):
        return f"the bus does not show it: {reason}"
    return f"its file cannot be read: {reason}"


class _Thermometer(Protocol):
    def read(self) -> float | Refusal:
        """Degrees Celsius, or why there are none. Raises OSError."""


def _thermometers(roms: Iterable[str], folder: Path, files: Files) -> dict[str, _Thermometer]:
    """The library's sensors, made to say what they saw."""
    # Without this the library's import runs modprobe in a shell and waits for a second.
    os.environ["W1THERMSENSOR_NO_KERNEL_MODULE"] = "1"
    from w1thermsensor import Sensor, W1ThermSensor

    class Thermometer(W1ThermSensor):  # type: ignore[misc] # the library ships no types
        BASE_DIRECTORY = folder
        SENSOR_RESET_VALUE = math.nan  # it would refuse a true 85.0 as well: frame.py knows
        _text = ""

        def exists(self) -> bool:
            return True  # it may come to the bus later

        def get_raw_sensor_strings(self) -> list[str]:
            return self._text.splitlines()

        def read(self) -> float | Refusal:
            self._text = files.read(self.sensorpath).decode("ascii", "replace")
            refused = refusal(self._text, self.slave_prefix[:2])
            if refused is not None:
                return refused
            # Exact for every chip: for a DS18S20 the library has only the driver's
            # millidegrees, which are truncated sixteenths.
            return round(float(self.get_temperature()) * 16) / 16

    return {rom: Thermometer(Sensor.from_id_string(rom[:2]), rom[3:]) for rom in roms}
