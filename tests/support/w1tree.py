"""Makes trees of files such as the kernel's 1-Wire drivers show, good ones and broken ones.

Lives here: the exact text of `w1_slave` and its neighbours, as drivers/w1/slaves/w1_therm.c
of Linux 5.8 and later writes it, and Documentation/w1/slaves/w1_therm.rst describes it.
Does not live here: time. Files answer at once; tests/support/w1kernel.py adds the
conversion times and the memory of a bulk conversion.

The layout is the kernel's: each probe's folder lies under its bus master, and a link
to it under `folder`. Files are replaced whole, so that a reader in another thread never
sees half of one. Temperatures are in °C, and are rounded to the nearest sixteenth.
"""

import os
from pathlib import Path

MASTER = "w1_bus_master1"
CONFIG_BYTE = {9: 0x1F, 10: 0x3F, 11: 0x5F, 12: 0x7F}  # DS18B20 data sheet, by resolution
CONVERSION_MS = {9: 95, 10: 190, 11: 375, 12: 750}  # the driver's fixed waits, w1_therm.c
POWER_ON = bytes.fromhex("50 05 4b 46 7f ff 0c 10 1c")
POWER_ON_DS18S20 = bytes.fromhex("aa 00 4b 46 ff ff 0c 10 87")


class W1Tree:
    """One pretend `/sys/bus/w1/devices`. Probes are addressed by their ROM, '28-0316a2795a01'."""

    def __init__(self, folder: Path, *, master: str = MASTER) -> None:
        """folder: created if need be, with one empty bus master in it."""
        self.folder = folder
        self._devices = folder.parent / f".{folder.name}-devices"
        self._frames: dict[str, bytes] = {}
        folder.mkdir(parents=True, exist_ok=True)
        self.add_master(master)

    # --- the bus ---

    def add_master(self, master: str) -> None:
        """Another bus of its own, as a second w1-gpio overlay gives."""
        (self._devices / master).mkdir(parents=True, exist_ok=True)
        self._link(master, self._devices / master)
        self._list_slaves(master)

    def add(
        self,
        rom: str,
        temp_c: float = 20.0,
        *,
        bits: int = 12,
        ext_power: int = 1,
        master: str = MASTER,
    ) -> None:
        """A probe with every file a kernel of 5.10 or later shows."""
        place = self._devices / master / rom
        place.mkdir(parents=True)
        self._link(rom, place)
        self._list_slaves(master)
        self.put(rom, "resolution", f"{bits}\n")
        self.put(rom, "conv_time", f"{CONVERSION_MS[bits]}\n")
        self.put(rom, "ext_power", f"{ext_power}\n")
        self.set_temp(rom, temp_c)

    def bulk_file(self, content: str = "0\n", *, master: str = MASTER) -> Path:
        """Offer `therm_bulk_read`, as kernels of 5.8 and later do: '-1', '0' or '1'."""
        path = self._devices / master / "therm_bulk_read"
        _replace(path, content.encode())
        return path

    def vanish(self, rom: str) -> None:
        """The kernel has dropped the probe after ten searches in vain."""
        (self.folder / rom).unlink()
        place = self._place(rom)
        place.rename(place.parent / f".gone-{rom}")
        self._list_slaves(place.parent.name)

    def appear(self, rom: str) -> None:
        """A vanished probe was found again. Its register holds the power-on value."""
        gone = next(self._devices.glob(f"*/.gone-{rom}"))
        place = gone.rename(gone.parent / rom)
        self._link(rom, place)
        self._list_slaves(place.parent.name)
        self.power_on(rom)

    # --- what the probe says ---

    def set_temp(self, rom: str, temp_c: float) -> None:
        """A good measurement; a true 85.0 differs from the power-on value in byte 6."""
        bits = int(self.get(rom, "resolution"))
        self.frame(rom, frame(round(temp_c * 16), bits=bits, family=rom[:2]))

    def frame(self, rom: str, data: bytes) -> None:
        """These nine bytes, with the driver's own verdict on their checksum.

        A frame that fails gives the two contradicting lines of kernels before 5.8:
        the second shows the last good bytes beside the damaged temperature.
        """
        passed = crc8(data[:8]) == data[8]
        if passed:
            self._frames[rom] = data
        last_good = self._frames.get(rom, bytes(9))
        self.text(rom, slave_text(data, family=rom[:2], last_good=last_good))
        self.put(rom, "temperature", f"{milli_c(data, rom[:2])}\n" if passed else "")

    def power_on(self, rom: str) -> None:
        """85.000 °C: no conversion has run since the probe got its supply."""
        self.frame(rom, POWER_ON_DS18S20 if rom.startswith("10") else POWER_ON)

    def conversion_failed(self, rom: str) -> None:
        """127.9375 °C: the supply failed during the conversion."""
        self.frame(rom, with_crc(bytes.fromhex("ff 07 4b 46 7f ff 0c 10")))

    def all_zero(self, rom: str) -> None:
        """The data wire is held low: nine zeros, whose checksum is right."""
        self.frame(rom, bytes(9))

    def all_ones(self, rom: str) -> None:
        """Nobody answers: the pull-up resistor alone is read, as ones."""
        self.frame(rom, b"\xff" * 9)

    def crc_no(self, rom: str) -> None:
        """One bit of the last good frame arrives flipped."""
        good = self._frames[rom]
        self.frame(rom, bytes([good[0] ^ 0x04]) + good[1:])

    def empty(self, rom: str) -> None:
        """What kernels of 5.8 and later give when a read failed for any reason."""
        self.text(rom, "")
        self.put(rom, "temperature", "")

    def short(self, rom: str) -> None:
        """Only the first of the two lines."""
        self.text(rom, self.get(rom, "w1_slave").splitlines()[0] + "\n")

    def garbage(self, rom: str) -> None:
        """Text, but none of a probe's."""
        self.text(rom, "the quick brown fox : YES\njumps t=over\n")

    def rubbish(self, rom: str, data: bytes = b"\x00\xfe\xff\x80YES\x9f\n\x01t=1\n") -> None:
        """Bytes that are not even text."""
        _replace(self._place(rom) / "w1_slave", data)

    def text(self, rom: str, text: str) -> None:
        """Any text whatever in w1_slave."""
        self.put(rom, "w1_slave", text)

    # --- a read that hangs ---

    def hang(self, rom: str) -> None:
        """From now on, opening w1_slave blocks until `release`."""
        path = self._place(rom) / "w1_slave"
        path.unlink()
        os.mkfifo(path)

    def release(self, rom: str, temp_c: float) -> None:
        """Let one blocked reader go with this temperature, and every later one read a file.

        Raises OSError when no reader is waiting.
        """
        path = self._place(rom) / "w1_slave"
        writer = os.open(path, os.O_WRONLY | os.O_NONBLOCK)
        try:
            self.set_temp(rom, temp_c)
            os.write(writer, self.get(rom, "w1_slave").encode())
        finally:
            os.close(writer)

    # --- single files ---

    def put(self, rom: str, name: str, text: str) -> None:
        _replace(self._place(rom) / name, text.encode())

    def get(self, rom: str, name: str) -> str:
        return (self._place(rom) / name).read_text(encoding="ascii")

    def take_away(self, rom: str, name: str) -> None:
        """As on a kernel too old to have this file."""
        (self._place(rom) / name).unlink()

    def _place(self, rom: str) -> Path:
        return next(self._devices.glob(f"*/{rom}"))

    def _link(self, name: str, place: Path) -> None:
        link = self.folder / name
        if not link.is_symlink():
            link.symlink_to(place.resolve())

    def _list_slaves(self, master: str) -> None:
        place = self._devices / master
        roms = sorted(entry.name for entry in place.iterdir() if entry.name[2:3] == "-")
        text = "".join(f"{rom}\n" for rom in roms or ["not found."])
        _replace(place / "w1_master_slaves", text.encode())


def frame(sixteenths: int, *, bits: int = 12, family: str = "28") -> bytes:
    """The nine bytes of a good measurement by a genuine part.

    Reserved byte 6 of a genuine DS18B20 is 0x10 less the low half of byte 0 (C. Petrich,
    "Your DS18B20 temperature sensor is likely a fake, counterfeit, clone", 2024).
    """
    if family == "10":
        return _frame_ds18s20(sixteenths)
    low, high = (sixteenths & 0xFFFF).to_bytes(2, "little")
    reserved = 0x10 - (low & 0x0F)
    return with_crc(bytes([low, high, 0x4B, 0x46, CONFIG_BYTE[bits], 0xFF, reserved, 0x10]))


def _frame_ds18s20(sixteenths: int) -> bytes:
    """Half degrees in bytes 0 and 1; what refines them is COUNT REMAIN in byte 6.

    T = whole degrees - 0.25 + (16 - COUNT REMAIN) / 16, DS18S20 data sheet (from memory).
    """
    whole = -((11 - sixteenths) // 16)
    remain = 16 * whole + 12 - sixteenths
    low, high = (2 * whole & 0xFFFF).to_bytes(2, "little")
    return with_crc(bytes([low, high, 0x4B, 0x46, 0xFF, 0xFF, remain, 0x10]))


def with_crc(eight: bytes) -> bytes:
    return eight + bytes([crc8(eight)])


def crc8(data: bytes) -> int:
    """Maxim's 1-Wire CRC by polynomial division, x^8 + x^5 + x^4 + 1, as note 27 draws it.

    Written apart from the package's own, so that one checks the other.
    """
    register = 0
    for byte in data:
        for place in range(8):
            feedback = (register ^ (byte >> place)) & 1
            register >>= 1
            if feedback:
                register ^= 0b1000_1100
    return register


def milli_c(data: bytes, family: str = "28") -> int:
    """Millidegrees as the driver computes them: C integers, which truncate toward zero."""
    if family == "10":
        whole = int.from_bytes(data[:2], "little", signed=True) >> 1
        return whole * 1000 - 250 + int(1000 * (data[7] - data[6]) / data[7]) if data[7] else 0
    sixteenths = int.from_bytes(data[:2], "little", signed=True)
    return int(sixteenths * 1000 / 16)


def slave_text(data: bytes, *, family: str = "28", last_good: bytes | None = None) -> str:
    """The two lines of w1_slave."""
    passed = crc8(data[:8]) == data[8]
    second = data if passed or last_good is None else last_good
    return (
        f"{data.hex(' ')} : crc={crc8(data[:8]):02x} {'YES' if passed else 'NO'}\n"
        f"{second.hex(' ')} t={milli_c(data, family)}\n"
    )


def _replace(path: Path, data: bytes) -> None:
    new = path.with_name(f".{path.name}.new")
    new.write_bytes(data)
    new.replace(path)
