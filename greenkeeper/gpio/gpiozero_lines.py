"""Lines through gpiozero: any of its pin factories, each line a DigitalOutputDevice.

Lives here: turning gpiozero's devices into Line and Backend, and gpiozero's own
pretend pins for `backend: mock`. Does not live here: the pin factory for real lines
(lgpio_pins.py). A factory is always named: gpiozero's own search falls back from one
to the next with only a warning.
"""

import traceback
from pathlib import Path
from typing import Any

from gpiozero import DigitalOutputDevice
from gpiozero.pins.mock import MockFactory, MockPin

from greenkeeper.gpio.chips import HEADER_LINES, Chip

# The header's names and numbers are the same on every board with 40 pins, so one board's
# table serves: a Zero 2 W's. Reading the true revision from /proc would fail off a Pi, and
# in a unit that hides it (ProcSubset=pid).
BOARD_REVISION = 0x902120


class GpiozeroLine:
    def __init__(self, device: Any) -> None:
        self._device = device

    def drive(self, level: bool) -> None:
        self._device.value = level

    def read(self) -> bool:
        return bool(self._device.value)

    def release(self) -> None:
        self._device.close()


class GpiozeroBackend:
    """Lines of one chip. factory: a gpiozero pin factory for it, and for nobody else."""

    def __init__(self, factory: Any, chip: Chip) -> None:
        self._factory = factory
        self._chip = chip

    @property
    def chip(self) -> Chip:
        return self._chip

    def claim(self, pin: int, level: bool) -> GpiozeroLine:
        try:
            # active_high stays True: a value is then a level.
            return GpiozeroLine(
                DigitalOutputDevice(pin, initial_value=level, pin_factory=self._factory)
            )
        except OSError as error:
            refused = OSError(error.errno, error.strerror)
            # The first error's traceback holds the half-made device, and gpiozero counts the
            # pin as taken for as long as that device lives; from Python 3.13 on it outlives
            # the error itself.
            traceback.clear_frames(error.__traceback__)
        raise refused

    def idle(self) -> None:
        self._factory.close()


def mock_backend() -> GpiozeroBackend:
    """Pretend pins, for trying things out: they remember their level and move nothing."""
    factory = MockFactory(revision=f"{BOARD_REVISION:x}", pin_class=MockPin)
    return GpiozeroBackend(factory, Chip(Path("mock"), "pretend pins", HEADER_LINES))
