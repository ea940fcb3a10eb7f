"""Temperature and humidity chips that the kernel has a driver for: found, and read.

Lives here: the two kinds of files such drivers show (IIO and hwmon), how a chip is told
from another although its number changes from one start to the next, and every way in
which reading one fails. Does not live here: groups and threads (kernel.py, collector.py),
and whether a number is plausible (judge).

Units of the files, all of them thousandths: degrees Celsius and per cent.
Source: Linux, Documentation/ABI/testing/sysfs-bus-iio (in_temp_raw, _input, _scale,
_offset and the same of humidityrelative: "(raw + offset) * scale") and
Documentation/hwmon/sysfs-interface.rst (temp1_input, temp1_fault, humidity1_input).
"""

import errno
import math
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from greenkeeper.model import Fault
from greenkeeper.probes.sysfs import Files

_THOUSANDTHS = 1000.0
_MOST_CHANNELS = 16  # as many as the settings allow
# The bus said so itself: a checksum of the chip's answer was wrong.
_DAMAGED = {errno.EBADMSG, errno.EILSEQ}


class Quantity(StrEnum):
    """What is measured, by its name in IIO's files."""

    TEMPERATURE = "temp"
    HUMIDITY = "humidityrelative"


_IN_HWMON = {Quantity.TEMPERATURE: "temp", Quantity.HUMIDITY: "humidity"}


class Folders(NamedTuple):
    """Where the kernel shows its chips: /sys/bus/iio/devices and /sys/class/hwmon."""

    iio: Path
    hwmon: Path


class Chip(NamedTuple):
    """One chip as the kernel shows it just now."""

    name: str  # its driver's word: 'bme280'
    at: str  # where it sits: '1-0076' is address 0x76 of I2C bus 1
    folder: Path  # numbered anew at each start: iio:device0, hwmon2
    files: tuple[str, ...]

    def file_of(self, quantity: Quantity, channel: int | None) -> str | None:
        """The stem of its files for this: 'in_temp', 'temp1'; None: it has none."""
        if self.folder.name.startswith("hwmon"):
            stem = f"{_IN_HWMON[quantity]}{1 if channel is None else channel}"
        else:
            stem = f"in_{quantity}{'' if channel is None else channel}"
        return stem if {f"{stem}_input", f"{stem}_raw"} & set(self.files) else None

    def channels(self, quantity: Quantity) -> list[int | None]:
        """What of this it can be asked for; None is the one that needs no number."""
        found = [None, *range(_MOST_CHANNELS)]
        if self.folder.name.startswith("hwmon"):
            found.remove(1)  # the same as None
        return [each for each in found if self.file_of(quantity, each) is not None]


class Wanted(NamedTuple):
    """Which chip the settings mean. at: None where its name is enough."""

    name: str
    at: str | None = None
    channel: int | None = None


class ChipFault(NamedTuple):
    fault: Fault
    detail: str


def listed(folders: Folders, files: Files) -> Iterator[Chip]:
    """Every chip there is. A chip that goes while it is looked at is left out."""
    for folder in (folders.iio, folders.hwmon):
        try:
            entries = sorted(folder.iterdir())
        except OSError:
            continue  # this kernel has no such chips at all
        for entry in entries:
            chip = _chip(entry, files)
            if chip is not None:
                yield chip


def _chip(entry: Path, files: Files) -> Chip | None:
    try:
        place = files.real(entry)
        name = files.read(place / "name").decode("ascii", "replace").strip()
        names = tuple(file.name for file in place.iterdir())
    except OSError:
        return None
    # .../i2c-1/1-0076/iio:device0, and .../i2c-1/1-0044/hwmon/hwmon2
    above = place.parent.parent if place.parent.name == "hwmon" else place.parent
    return Chip(name, above.name, place, names)


def measured(
    wanted: Wanted, quantity: Quantity, folders: Folders, files: Files
) -> float | ChipFault:
    """Degrees Celsius or per cent as the chip says it, or why there is none."""
    named = [
        chip
        for chip in listed(folders, files)
        if chip.name == wanted.name and wanted.at in (None, chip.at)
    ]
    able = [chip for chip in named if chip.file_of(quantity, wanted.channel) is not None]
    if not able:
        return ChipFault(Fault.MISSING, _absent(wanted, quantity, named))
    places = sorted({chip.at for chip in able})
    if len(places) > 1:
        # Never guess: it may be the chip that hangs outdoors.
        return ChipFault(Fault.MISSING, f"there are several: write at: {' or at: '.join(places)}")
    chip = able[0]
    stem = chip.file_of(quantity, wanted.channel) or ""
    try:
        return _value(chip, quantity, stem, files)
    except OSError as error:
        reason = error.strerror or str(error)
        if error.errno in _DAMAGED:
            return ChipFault(Fault.CHECKSUM, f"its answer arrived damaged: {reason}")
        return ChipFault(Fault.MISSING, f"it cannot be read: {reason}")


def _absent(wanted: Wanted, quantity: Quantity, named: list[Chip]) -> str:
    where = wanted.name if wanted.at is None else f"{wanted.name} at {wanted.at}"
    if not named:
        return f"the kernel shows no chip {where}"
    number = "" if wanted.channel is None else f" of channel {wanted.channel}"
    what = "temperature" if quantity is Quantity.TEMPERATURE else "humidity"
    return f"the chip {where} gives no {what}{number}"


def _value(chip: Chip, quantity: Quantity, stem: str, files: Files) -> float | ChipFault:
    if f"{stem}_fault" in chip.files and _number(chip, f"{stem}_fault", files) == 1.0:
        return ChipFault(Fault.MISSING, "the chip says that its sensor is broken or not joined")
    if f"{stem}_input" in chip.files:
        thousandths = _number(chip, f"{stem}_input", files)
    else:
        thousandths = _from_raw(chip, quantity, stem, files)
    if thousandths is None:
        return ChipFault(Fault.UNREADABLE, f"{chip.folder.name}: its files hold no number")
    return thousandths / _THOUSANDTHS


def _from_raw(chip: Chip, quantity: Quantity, stem: str, files: Files) -> float | None:
    raw = _number(chip, f"{stem}_raw", files)
    offset = _part(chip, quantity, stem, "offset", 0.0, files)
    scale = _part(chip, quantity, stem, "scale", 1.0, files)
    if raw is None or offset is None or scale is None:
        return None
    return (raw + offset) * scale


def _part(
    chip: Chip, quantity: Quantity, stem: str, part: str, without: float, files: Files
) -> float | None:
    """Its own, or the one that all channels share; `without` where there is neither."""
    for name in (f"{stem}_{part}", f"in_{quantity}_{part}"):
        if name in chip.files:
            return _number(chip, name, files)
    return without


def _number(chip: Chip, name: str, files: Files) -> float | None:
    """None: what it says is no finite number. Raises OSError."""
    text = files.read(chip.folder / name)
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) else None
