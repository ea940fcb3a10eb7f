"""The GPIO chip with the header's lines: found by its label, never by its number.

Lives here: choosing the chip, and the words for what the kernel answers when a chip
or a line cannot be had. Does not live here: any library; a back end brings its own
way to look at one chip.
The number is no guide: on a Pi 5 the header moved from gpiochip4 to gpiochip0
(Raspberry Pi Ltd, white paper "GPIO Usage on Raspberry Pi Devices", 2024).
"""

import errno
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from greenkeeper.gpio import LineError

AUTO = "auto"
HEADER_LABELS = ("pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835")
HEADER_LINES = 28  # GPIO0 to GPIO27 in Broadcom's numbering
DEVICE_FOLDER = Path("/dev")


class Chip(NamedTuple):
    path: Path
    label: str
    lines: int


Look = Callable[[Path], Chip]
"""How a back end learns about one chip. Raises OSError, its errno as the kernel gave it."""


def find(wanted: str, look: Look) -> Chip:
    """The chip the settings name, or with "auto" the one the header hangs on.

    Raises LineError: no such chip, not allowed, not a chip, or none with a known label.
    """
    if wanted != AUTO:
        try:
            return look(Path(wanted))
        except OSError as error:
            raise LineError(_chip_trouble(Path(wanted), error)) from error
    return _by_label(_candidates(), look)


def _candidates() -> list[Path]:
    found = sorted(DEVICE_FOLDER.glob("gpiochip*"))
    if not found:
        raise LineError(
            f"this machine shows no GPIO chip ({DEVICE_FOLDER}/gpiochip*): is it a Raspberry Pi, "
            "and may this process see its devices? To try things without relays, set "
            "'backend: mock' under 'gpio:' in the settings"
        )
    return found


def _by_label(candidates: list[Path], look: Look) -> Chip:
    others, troubles = [], []
    for path in candidates:
        try:
            chip = look(path)
        except OSError as error:
            troubles.append(_chip_trouble(path, error))
            continue
        if chip.label in HEADER_LABELS:
            return chip
        others.append(f"{path} is {chip.label!r}")
    if not others:
        raise LineError("; ".join(troubles))
    raise LineError(
        f"no GPIO chip here is a Raspberry Pi's header ({'; '.join(others + troubles)}). "
        "If one of them is right all the same, name it as 'chip:' under 'gpio:' in the settings"
    )


def _chip_trouble(path: Path, error: OSError) -> str:
    if error.errno == errno.ENOENT:
        return f"GPIO chip {path} does not exist"
    if error.errno in (errno.EACCES, errno.EPERM):
        return (
            f"GPIO chip {path} may not be opened by this user: it needs to be in the group 'gpio' "
            "(`sudo usermod -aG gpio NAME`, then log in again)"
        )
    if error.errno in (errno.ENODEV, errno.ENOTTY, errno.EINVAL):
        return f"{path} is not a GPIO chip"
    return f"GPIO chip {path} cannot be opened: {error.strerror}"


def line_trouble(pin: int, error: OSError) -> LineError:
    """What to tell a person when the kernel refuses a line."""
    if error.errno == errno.EBUSY:
        why = (
            "is busy: another program or a kernel driver holds it. Is another keeper running? "
            "`gpioinfo` names the holder"
        )
    else:
        why = f"cannot be used: {error.strerror}"
    return LineError(f"GPIO{pin} {why}")
