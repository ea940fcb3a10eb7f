"""A relay on a GPIO line, as an OutputDriver.

Lives here: which level is on, the read-back, and going off before letting go. Does not
live here: the line itself (gpio/lines.py), or when to switch.
"""

import weakref

from greenkeeper.gpio import LineError
from greenkeeper.gpio.lines import Lines
from greenkeeper.outputs import OutputError
from greenkeeper.pins import Level
from greenkeeper.settings.switches import GpioOutput


class GpioOutputDriver:
    """Claims its line at the off level when made, and holds it until closed.

    Raises OutputError from every method, naming the output and its pin. A driver that is
    forgotten, or left open when the program ends, goes off as well.
    """

    def __init__(self, name: str, output: GpioOutput, lines: Lines) -> None:
        self._relay = _Relay(name, output.pin, output.on_level is Level.HIGH, lines)
        self._relay.claim()
        # Not __del__: gpiozero's own would let go of the line first, and with it still on.
        self._close = weakref.finalize(self, self._relay.close)

    @property
    def name(self) -> str:
        return self._relay.name

    def switch(self, *, on: bool) -> None:
        self._relay.switch(on=on)

    def close(self) -> None:
        self._close()


class _Relay:
    """All but the driver's own life, so that it can be closed after it."""

    def __init__(self, name: str, pin: int, on_is_high: bool, lines: Lines) -> None:
        self.name = name
        self._pin = pin
        self._on_is_high = on_is_high
        self._lines = lines

    def claim(self) -> None:
        try:
            self._lines.claim(self._pin, self._level(on=False))
        except LineError as error:
            raise self._named(error) from error

    def switch(self, *, on: bool) -> None:
        """Drive it, and look at the pin: a short or another program may hold it elsewhere."""
        level = self._level(on=on)
        try:
            self._lines.drive(self._pin, level)
            found = self._lines.read(self._pin)
        except LineError as error:
            raise self._named(error) from error
        if found is not level:
            raise OutputError(
                f"output {self.name}: GPIO{self._pin} was driven {_word(level)} but reads "
                f"{_word(found)}: look for a short, or another program on this pin"
            )

    def close(self) -> None:
        """Off, then let go: on Raspberry Pi's kernels the line stays as it is then."""
        try:
            self.switch(on=False)
        finally:
            self._release()

    def _release(self) -> None:
        try:
            self._lines.release(self._pin)
        except LineError as error:
            raise self._named(error) from error

    def _level(self, *, on: bool) -> bool:
        return on is self._on_is_high

    def _named(self, error: LineError) -> OutputError:
        return OutputError(f"output {self.name}: {error}")


def _word(level: bool) -> str:
    return "high" if level else "low"
