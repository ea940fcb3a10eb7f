"""The nine bytes of a 1-Wire thermometer: may they be believed?

Lives here: pure functions over the text of the kernel's w1_slave file, and the failure
signatures a frame can show. Does not live here: reading files (onewire.py), the number
itself (the library's), and any opinion on what is plausible in a greenhouse (judge).

Text format: Linux, drivers/w1/slaves/w1_therm.c. Frame: DS18B20 data sheet, "Memory".
Byte 6: C. Petrich, "Your DS18B20 temperature sensor is likely a fake, counterfeit,
clone", 2024.
"""

import re
from typing import NamedTuple

from greenkeeper.model import Fault

_NINE = r"(?:[0-9a-f]{2} ){9}"
_TEXT = re.compile(
    rf"(?P<bytes>{_NINE}): crc=[0-9a-f]{{2}} (?P<word>YES|NO)\n"
    rf"(?P<again>{_NINE})t=-?[0-9]{{1,9}}\n"
)

_POWER_ON = b"\x50\x05"  # 85.000 in sixteenths
_POWER_ON_DS18S20 = b"\xaa\x00"  # 85.0 in half degrees
_FAILED = b"\xff\x07"  # 127.9375: the supply failed during the conversion
_CONVERTED_85 = 0x10  # byte 6 after a real conversion that gave 85.000


class Refusal(NamedTuple):
    """Why a frame is no measurement, and what was seen."""

    fault: Fault
    detail: str


def refusal(text: str, family: str) -> Refusal | None:
    """None when the text of w1_slave holds a believable measurement.

    text: the whole file; family: the first two characters of the ROM, lower case.
    """
    if not text.strip():
        # Kernels of 5.8 and later give no other sign of either (w1_therm.c), so that
        # telling them apart here would be guessing.
        return Refusal(
            Fault.MISSING, "empty answer: it does not respond, or its data came damaged five times"
        )
    match = _TEXT.fullmatch(text)
    if match is None:
        return Refusal(Fault.UNREADABLE, f"not a probe's answer: {text[:40]!r}")
    data = bytes.fromhex(match["bytes"])
    return (
        _line_refusal(data, vouched=match["word"] == "YES")
        or _torn(match)
        or _value_refusal(data, family)
    )


def _line_refusal(data: bytes, *, vouched: bool) -> Refusal | None:
    """What the wire did to it."""
    if data == bytes(9):
        # Its CRC is right, and it would pass for 0.000 °C and call for heat for ever.
        return Refusal(Fault.ALL_ZERO, "nine zero bytes: the data wire is held low")
    if data == b"\xff" * 9:
        return Refusal(Fault.MISSING, "nobody answers on the bus: all bits read as ones")
    if not vouched or crc8(data) != 0:
        return Refusal(Fault.CHECKSUM, f"checksum wrong: {data.hex(' ')}")
    return None


def _torn(match: re.Match[str]) -> Refusal | None:
    """The number comes from the second line: it must be the one that was checked."""
    if match["bytes"] == match["again"]:
        return None
    return Refusal(Fault.UNREADABLE, "the two lines of its answer differ")


def _value_refusal(data: bytes, family: str) -> Refusal | None:
    """What the chip says of itself."""
    if family == "10":
        return _ds18s20_refusal(data)
    # MAX31850 and DS1825 share a family; only the former sets this bit, and its first
    # bytes are no sixteenths (data sheets, from memory).
    if family == "3b" and data[4] & 0x80:
        return Refusal(Fault.UNREADABLE, "a thermocouple converter, not a probe this keeper reads")
    if data[:2] == _FAILED:
        return Refusal(Fault.CONVERSION, "127.9375 °C: its supply failed while it measured")
    # Byte 6 of a clone may never change. A doubtful 85 is then no measurement: heat is
    # off either way, but a blind zone ends by itself and a ceiling trip does not.
    if data[:2] == _POWER_ON and data[6] != _CONVERTED_85:
        return _power_on()
    return None


def _ds18s20_refusal(data: bytes) -> Refusal | None:
    if data[7] == 0:  # COUNT PER °C: the driver then gives up and says 0 °C
        return Refusal(Fault.UNREADABLE, f"impossible count in its answer: {data.hex(' ')}")
    if data[:2] == _POWER_ON_DS18S20 and data[6] == 0x0C:
        return _power_on()  # a true 85.0 looks the same on this chip
    return None


def _power_on() -> Refusal:
    return Refusal(Fault.POWER_ON, "85.000 °C, its power-on value: no measurement was made")


def crc8(data: bytes) -> int:
    """Maxim's 1-Wire CRC: x^8 + x^5 + x^4 + 1, least bit first, starting at 0.

    Over data followed by their own CRC it is 0. Source: Maxim application note 27.
    """
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0x8C if crc & 1 else crc >> 1
    return crc
