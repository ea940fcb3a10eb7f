"""gpiozero's pins on lgpio, steady: an output has its level from the first moment.

Lives here: loading lgpio without its side effects, a pin factory and its pin. Does not
live here: the devices on those pins (gpiozero_lines.py).
gpiozero's own lgpio pins do not serve. They claim a line as a floating input, then as an
output at low, and write the level only then: three states where a relay may see one.
On closing they make it a floating input again, its pull resistor off until the next
boot. (gpiozero 2.0.1, pins/lgpio.py; its issue 1177.)
"""

import contextlib
import errno
import importlib
import os
import re
from pathlib import Path
from typing import Any

from greenkeeper.gpio import LineError, chips
from greenkeeper.gpio.gpiozero_lines import BOARD_REVISION, GpiozeroBackend
from greenkeeper.gpio.library import PiFactory, PiPin

_NO_PULL_YET = ""  # differs from all that gpiozero asks for
_NUMBER = re.compile(r"gpiochip(\d+)$")


def load(runtime: Path) -> Any:
    """The lgpio module. runtime: a folder that lgpio may write to.

    Importing lgpio makes a FIFO in the folder LG_WD names, else in the working directory,
    and leaves that folder as the process's working directory (lgUtil.c, lguGetWorkDir).
    Raises LineError: not installed, an empty shell, or nowhere to write.
    """
    if not os.access(runtime, os.W_OK | os.X_OK):
        raise LineError(f"lgpio needs a folder it may write to, and {runtime} is not one")
    os.environ["LG_WD"] = str(runtime.resolve())
    try:
        with contextlib.chdir(runtime):
            lgpio = importlib.import_module("lgpio")
    except ImportError as error:
        raise LineError(f"lgpio is not installed ({error})") from error
    except OSError as error:
        raise LineError(f"lgpio cannot start in {runtime}: {error}") from error
    if not hasattr(lgpio, "gpiochip_open"):
        raise LineError("the lgpio installed here is an empty shell, older than release 0.2.2")
    return lgpio


def backend(lgpio: Any, wanted: str) -> GpiozeroBackend:
    """Raises LineError when the chip cannot be had."""
    chip = chips.find(wanted, lambda path: _look(lgpio, path))
    return GpiozeroBackend(SteadyFactory(lgpio, chip), chip)


class SteadyFactory(PiFactory):  # type: ignore[misc] # gpiozero ships no types
    """Pins of one chip. The chip is open while any of its lines is claimed."""

    def __init__(self, lgpio: Any, chip: chips.Chip) -> None:
        super().__init__()
        self.pin_class = SteadyPin
        self._lgpio = lgpio
        self._chip = chip
        self._handle: int | None = None

    def claim(self, number: int, level: bool) -> None:
        self._open()
        self.call("gpio_claim_output", number, int(level))

    def claim_input(self, number: int, pull: str) -> None:
        """pull: in gpiozero's words."""
        flags = {
            "up": self._lgpio.SET_PULL_UP,
            "down": self._lgpio.SET_PULL_DOWN,
            "floating": self._lgpio.SET_PULL_NONE,
        }[pull]
        self._open()
        self.call("gpio_claim_input", number, flags)

    def call(self, name: str, *arguments: int) -> int:
        """One of lgpio's functions on this chip. Raises OSError in place of its error."""
        try:
            return int(getattr(self._lgpio, name)(self._handle, *arguments))
        except self._lgpio.error as error:
            raise _as_os_error(self._lgpio, error) from error

    def close(self) -> None:
        super().close()
        if self._handle is not None:
            self.call("gpiochip_close")
            self._handle = None

    def _open(self) -> None:
        if self._handle is None:
            self._handle = _open(self._lgpio, self._chip.path)

    def _get_revision(self) -> int:
        return BOARD_REVISION


class SteadyPin(PiPin):  # type: ignore[misc] # gpiozero ships no types
    """A line that is nothing until it is claimed, at once with its level or its pull, and is
    let go as it stands."""

    def __init__(self, factory: SteadyFactory, info: Any) -> None:
        super().__init__(factory, info)
        self._claimed = False
        self._pull = _NO_PULL_YET

    def output_with_state(self, state: bool) -> None:
        self.factory.claim(self._number, state)
        self._claimed = True

    def close(self) -> None:
        # Freed, not made an input: the line keeps its bias, and on Raspberry Pi's kernels its
        # level too, so an off relay stays driven off.
        if self._claimed:
            self._claimed = False
            self._pull = _NO_PULL_YET
            self.factory.call("gpio_free", self._number)

    # An InputDevice asks for the function, looks at the pull, and asks for another one.

    def _set_function(self, value: str) -> None:
        """Nothing yet: the line is claimed once its pull is known as well."""

    def _get_pull(self) -> str:
        return self._pull

    def _set_pull(self, value: str) -> None:
        self.factory.claim_input(self._number, value)
        self._claimed = True
        self._pull = value

    def _get_state(self) -> bool:
        return bool(self.factory.call("gpio_read", self._number))

    def _set_state(self, value: bool) -> None:
        self.factory.call("gpio_write", self._number, int(value))


def _look(lgpio: Any, path: Path) -> chips.Chip:
    handle = _open(lgpio, path)
    try:
        _, lines, _, label = lgpio.gpio_get_chip_info(handle)
    except lgpio.error as error:
        raise _as_os_error(lgpio, error) from error
    finally:
        lgpio.gpiochip_close(handle)
    return chips.Chip(path, label, lines)


def _open(lgpio: Any, path: Path) -> int:
    """A handle. lgpio opens chips by number, and never says why it could not."""
    number = _NUMBER.search(str(path.resolve()))
    try:
        if number is not None:
            return int(lgpio.gpiochip_open(int(number[1])))
    except lgpio.error as error:
        refused = _as_os_error(lgpio, error)
    else:
        refused = OSError(errno.EINVAL, "lgpio needs a name that ends in gpiochip and a number")
    os.close(os.open(path, os.O_RDWR))  # raises what the kernel has to say
    raise refused


def _as_os_error(lgpio: Any, error: Exception) -> OSError:
    # lgpio's errors carry the text alone, without its number.
    text = str(getattr(error, "value", error))
    busy = text == lgpio.error_text(lgpio.GPIO_BUSY)
    return OSError(errno.EBUSY if busy else errno.EIO, text)
