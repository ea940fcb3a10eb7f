"""Lines through gpiozero: any of its pin factories, each line an OutputDevice or InputDevice.

Lives here: turning gpiozero's devices into Line and Backend, and gpiozero's own
pretend pins for `backend: mock`. Does not live here: the pin factory for real lines
(lgpio_pins.py). A factory is always named: gpiozero's own search falls back from one
to the next with only a warning.
"""

import errno
import traceback
from pathlib import Path
from typing import Any

from greenkeeper.gpio.chips import HEADER_LINES, Chip
from greenkeeper.gpio.library import gpiozero
from greenkeeper.pins import Pull

# The header's names and numbers are the same on every board with 40 pins, so one board's
# table serves: a Zero 2 W's. Reading the true revision from /proc would fail off a Pi, and
# in a unit that hides it (ProcSubset=pid).
BOARD_REVISION = 0x902120


class GpiozeroLine:
    """One device; only an output's is ever driven."""

    def __init__(self, device: Any) -> None:
        self._device = device

    def drive(self, level: bool) -> None:
        self._device.value = level

    def read(self) -> bool:
        # The pin's state is a level; an input device's value would say "active", which
        # gpiozero takes to be low where it pulls up.
        return bool(self._device.pin.state)

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
        # active_high stays True: a value is then a level.
        return self._made(gpiozero.OutputDevice, pin, initial_value=level)

    def claim_input(self, pin: int, pull: Pull) -> GpiozeroLine:
        if pull == "none":
            return self._made(gpiozero.InputDevice, pin, pull_up=None, active_state=True)
        return self._made(gpiozero.InputDevice, pin, pull_up=pull == "up")

    def _made(self, device: Any, pin: int, **arguments: Any) -> GpiozeroLine:
        try:
            return GpiozeroLine(device(pin, pin_factory=self._factory, **arguments))
        except OSError as error:
            refused = OSError(error.errno, error.strerror)
            # The first error's traceback holds the half-made device, and gpiozero counts the
            # pin as taken for as long as that device lives; from Python 3.13 on it outlives
            # the error itself.
            traceback.clear_frames(error.__traceback__)
        except gpiozero.GPIOZeroError as error:
            refused = OSError(errno.EINVAL, str(error))
        raise refused

    def idle(self) -> None:
        self._factory.close()


def mock_backend() -> GpiozeroBackend:
    """Pretend pins, for trying things out: they remember their level and move nothing."""
    from gpiozero.pins.mock import MockFactory, MockPin  # real lines need none of it

    factory = MockFactory(revision=f"{BOARD_REVISION:x}", pin_class=MockPin)
    return GpiozeroBackend(factory, Chip(Path("mock"), "pretend pins", HEADER_LINES))
