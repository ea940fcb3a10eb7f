"""Makes trees of files such as the kernel's IIO and hwmon drivers show.

Lives here: folders, links and attribute files, as Documentation/ABI/testing/sysfs-bus-iio
and Documentation/hwmon/sysfs-interface.rst describe them: each chip's folder lies under
its bus device, and a link with a number under the class folder. Files are replaced whole.
"""

import os
import shutil
from pathlib import Path

from greenkeeper.probes.chips import Folders


class ChipTree:
    """One pretend /sys with both kinds of chips. A chip is meant by where it sits, '1-0076'."""

    def __init__(self, root: Path) -> None:
        self.folders = Folders(root / "bus/iio/devices", root / "class/hwmon")
        self._devices = root / "devices"
        for folder in self.folders:
            folder.mkdir(parents=True)

    def add_iio(self, name: str, at: str, number: int = 0, **files: str) -> None:
        """An IIO chip. files: attribute -> its text without the newline."""
        place = self._devices / "i2c-1" / at / f"iio:device{number}"
        self._add(place, self.folders.iio, name, files)

    def add_hwmon(self, name: str, at: str, number: int = 0, **files: str) -> None:
        place = self._devices / "i2c-1" / at / "hwmon" / f"hwmon{number}"
        self._add(place, self.folders.hwmon, name, files)

    def add_bme280(
        self, at: str = "1-0076", number: int = 0, temp: str = "5130", rh: str = "87331"
    ) -> None:
        """As drivers/iio/pressure/bmp280-core.c shows it: values ready for use."""
        self.add_iio(
            "bme280",
            at,
            number,
            in_temp_input=temp,
            in_humidityrelative_input=f"{rh}.000000000",
            in_pressure_input="101.325000000",
        )

    def add_si7020(self, at: str = "1-0040", number: int = 0) -> None:
        """As drivers/iio/humidity/si7020.c shows it (from memory): fourteen bits of the
        chip's number, with the offset rounded to a whole one. 4.998 °C and 85.007 %."""
        self.add_iio(
            "si7020",
            at,
            number,
            in_temp_raw="4834",
            in_temp_offset="-4368",
            in_temp_scale="10.725097656",
            in_humidityrelative_raw="11928",
            in_humidityrelative_offset="-786",
            in_humidityrelative_scale="7.629394531",
        )

    def put(self, at: str, name: str, text: str) -> None:
        file = self._place(at) / name
        new = file.with_name(f".{name}.new")
        new.write_text(f"{text}\n", encoding="ascii")
        new.replace(file)

    def file(self, at: str, name: str) -> Path:
        return self._place(at) / name

    def rubbish(self, at: str, name: str, data: bytes) -> None:
        (self._place(at) / name).write_bytes(data)

    def broken(self, at: str, name: str) -> None:
        """A file whose read fails with a true EIO: the first page of no process's memory."""
        file = self._place(at) / name
        file.unlink()
        file.symlink_to("/proc/self/mem")

    def hang(self, at: str, name: str) -> Path:
        """From now on, opening this file blocks until somebody writes into it."""
        file = self._place(at) / name
        file.unlink()
        os.mkfifo(file)
        return file

    def vanish(self, at: str) -> None:
        place = self._place(at)
        for folder in self.folders:
            for link in folder.iterdir():
                if link.resolve() == place.resolve():
                    link.unlink()
        shutil.rmtree(place)

    def _add(self, place: Path, folder: Path, name: str, files: dict[str, str]) -> None:
        place.mkdir(parents=True)
        for attribute, text in {"name": name, **files}.items():
            (place / attribute).write_text(f"{text}\n", encoding="ascii")
        (folder / place.name).symlink_to(place.resolve())

    def _place(self, at: str) -> Path:
        return next(file.parent for file in self._devices.glob(f"*/{at}/**/name"))
