"""Lines through gpiod 2.x, the kernel's own library for its GPIO character device.

Lives here: loading gpiod, and its requests as Line and Backend. Does not live here:
which chip, and the words for refusals (chips.py). A request holds its line without the
chip's file, so there is nothing to keep open between claims.
"""

import importlib
from pathlib import Path
from typing import Any

from greenkeeper.gpio import LineError, chips
from greenkeeper.pins import Pull

CONSUMER = "greenkeeper"  # what `gpioinfo` shows beside the line


def load() -> Any:
    """The gpiod module. Raises LineError: not installed, or of the 1.x kind."""
    try:
        gpiod = importlib.import_module("gpiod")
    except ImportError as error:
        raise LineError(f"gpiod is not installed ({error})") from error
    if not hasattr(gpiod, "request_lines"):
        raise LineError("the gpiod installed here is of the old 1.x kind; 2.1 or later is needed")
    return gpiod


class GpiodLine:
    """A request of one line; only an output's is ever driven."""

    def __init__(self, gpiod: Any, request: Any, pin: int) -> None:
        self._value = gpiod.line.Value
        self._request = request
        self._pin = pin

    def drive(self, level: bool) -> None:
        self._request.set_value(self._pin, self._value.ACTIVE if level else self._value.INACTIVE)

    def read(self) -> bool:
        return bool(self._request.get_value(self._pin) is self._value.ACTIVE)

    def release(self) -> None:
        self._request.release()


class GpiodBackend:
    """Raises LineError when the chip cannot be had."""

    def __init__(self, gpiod: Any, wanted: str) -> None:
        self._gpiod = gpiod
        self._chip = chips.find(wanted, self._look)

    @property
    def chip(self) -> chips.Chip:
        return self._chip

    def claim(self, pin: int, level: bool) -> GpiodLine:
        line = self._gpiod.line
        value = line.Value.ACTIVE if level else line.Value.INACTIVE
        return self._request(pin, direction=line.Direction.OUTPUT, output_value=value)

    def claim_input(self, pin: int, pull: Pull) -> GpiodLine:
        line = self._gpiod.line
        bias = {
            "up": line.Bias.PULL_UP,
            "down": line.Bias.PULL_DOWN,
            "none": line.Bias.DISABLED,
        }[pull]
        return self._request(pin, direction=line.Direction.INPUT, bias=bias)

    def _request(self, pin: int, **settings: Any) -> GpiodLine:
        # active_low stays off: a value is then a level.
        request = self._gpiod.request_lines(
            str(self._chip.path),
            consumer=CONSUMER,
            config={pin: self._gpiod.LineSettings(**settings)},
        )
        return GpiodLine(self._gpiod, request, pin)

    def idle(self) -> None:
        """Nothing is open but the requests themselves."""

    def _look(self, path: Path) -> chips.Chip:
        with self._gpiod.Chip(str(path)) as chip:
            info = chip.get_info()
        return chips.Chip(path, info.label, info.num_lines)
