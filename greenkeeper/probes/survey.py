"""What hangs on the 1-Wire bus just now, known to the settings or not.

Lives here: listing the kernel's folder and reading every probe in it, one after the
other, each with a thread of its own, so that a hung one hides no other. Does not live
here: control's readings (onewire.py, collector.py), and how a survey looks to people.
"""

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from greenkeeper.clock import Clock
from greenkeeper.model import Reading
from greenkeeper.probes.collector import Collector
from greenkeeper.probes.onewire import OnewireGroup, master_of
from greenkeeper.probes.sysfs import KernelFiles, read_number

_MASTER = re.compile(r"w1_bus_master\d+")
_THERMOMETER = re.compile(r"(10|22|28|3b|42)-[0-9a-f]{12}")
_DEVICE = re.compile(r"[0-9a-f]{2}-[0-9a-f]{12}")

# One plain conversion, and one more for a value left over from long ago, and patience
# for the keeper's own reads on the same bus.
_DEADLINE_S = 4.0


class Found(NamedTuple):
    """One probe. What its kernel does not tell is None."""

    rom: str
    bus: str | None  # its master's name; None: it is not on any bus now
    bits: int | None  # resolution, 9 to 12
    external_supply: bool | None  # False: it feeds on the data wire
    reading: Reading

    @property
    def step_k(self) -> float:
        """One step of its measurement; of 12 bits where the kernel does not tell."""
        return 0.0625 * (1 << (12 - (self.bits or 12)))


class Survey(NamedTuple):
    folder: Path
    trouble: str  # why the folder cannot be listed, in the system's words; "": it can
    masters: tuple[str, ...]
    probes: tuple[Found, ...]
    noise: tuple[str, ...]  # what a bus without a pull-up resistor makes up: 00-...
    others: tuple[str, ...]  # devices that are no thermometers


class Surveyor:
    """Looks at one bus folder, again and again. Close it in the end."""

    def __init__(self, folder: Path, clock: Clock, deadline_s: float = _DEADLINE_S) -> None:
        """deadline_s: real seconds to wait at most for one probe."""
        self._folder = folder
        self._clock = clock
        self._deadline_s = deadline_s
        self._files = KernelFiles()
        self._readers: dict[str, Collector] = {}

    def look(
        self, expected: Collection[str] = (), progress: Callable[[int, int], None] | None = None
    ) -> Survey:
        """Read everything there is, and what the settings expect besides.

        expected: ROMs; progress: told how many of how many are read, before each and
        in the end.
        """
        entries, trouble = self._listed()
        roms = sorted({*_thermometers(entries), *expected})
        probes = []
        for done, rom in enumerate(roms):
            if progress is not None:
                progress(done, len(roms))
            probes.append(self.one(rom))
        if progress is not None:
            progress(len(roms), len(roms))
        others = sorted(set(filter(_DEVICE.fullmatch, entries)).difference(roms))
        return Survey(
            folder=self._folder,
            trouble=trouble,
            masters=tuple(filter(_MASTER.fullmatch, entries)),
            probes=tuple(probes),
            noise=tuple(name for name in others if name.startswith("00-")),
            others=tuple(name for name in others if not name.startswith("00-")),
        )

    def one(self, rom: str) -> Found:
        """Read this probe alone, whether the bus shows it or not."""
        master = master_of(rom, self._folder, self._files)
        supply = read_number(self._files, self._folder / rom / "ext_power")
        bits = read_number(self._files, self._folder / rom / "resolution")
        return Found(
            rom=rom,
            bus=None if master is None else master.name,
            bits=bits if bits is not None and 9 <= bits <= 12 else None,
            external_supply={0: False, 1: True}.get(supply) if supply is not None else None,
            reading=self._reader(rom).collect()[rom],
        )

    def roms(self) -> list[str]:
        """The thermometers that the bus shows, unread."""
        return _thermometers(self._listed()[0])

    def _listed(self) -> tuple[list[str], str]:
        """The folder's entries in order, or why there are none."""
        try:
            return sorted(entry.name for entry in self._folder.iterdir()), ""
        except OSError as error:
            return [], error.strerror or str(error)

    def close(self) -> None:
        for reader in self._readers.values():
            reader.close()

    def _reader(self, rom: str) -> Collector:
        """Never with a shared conversion: the running keeper may be at one of its own."""
        if rom not in self._readers:
            group = OnewireGroup({rom: rom}, self._folder, "off", self._clock)
            self._readers[rom] = Collector([group], self._clock, self._deadline_s)
        return self._readers[rom]


def _thermometers(entries: Iterable[str]) -> list[str]:
    return list(filter(_THERMOMETER.fullmatch, entries))


def changes_k(first: Mapping[str, float], survey: Survey) -> dict[str, float]:
    """How far each probe that reads now has moved from its first temperature."""
    return {
        found.rom: found.reading.temp_c - first[found.rom]
        for found in survey.probes
        if found.reading.temp_c is not None and found.rom in first
    }
