"""GPIO lines: claimed as outputs at a level or as inputs with a pull, driven, read, let go.

Lives here: what a back end offers (Line, OutputLine, Backend) and the one class that
keeps the book of claimed lines over whichever back end was opened (open_lines.py). Does
not live here: any GPIO library, what a level means, or when to switch.

A level is electrical: True is high. Claiming sets the level in the same kernel
request, because a line that is made an output first and gets its level afterwards
blinks in between, and an active-low relay board switches on for that blink.
Letting go leaves the line as it is. Raspberry Pi's kernels then keep driving the last
level (Raspberry Pi Ltd, "GPIO Usage on Raspberry Pi Devices"), so the owner must have
driven the safe level before.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

from greenkeeper.gpio import LineError, chips
from greenkeeper.pins import Pull


class Line(Protocol):
    """One claimed line. Every method raises OSError with the kernel's errno."""

    def read(self) -> bool: ...

    def release(self) -> None:
        """Let go without touching the level or the bias. Called once."""


class OutputLine(Line, Protocol):
    def drive(self, level: bool) -> None: ...


class Backend(Protocol):
    """One chip, reached through one library."""

    @property
    def chip(self) -> chips.Chip: ...

    def claim(self, pin: int, level: bool) -> OutputLine:
        """The line as an output, at that level from the first moment. Raises OSError."""

    def claim_input(self, pin: int, pull: Pull) -> Line:
        """The line as an input, its own resistor as told. Raises OSError."""

    def idle(self) -> None:
        """No line is held any more: let go of the chip until the next claim."""


class Lines:
    """The lines of one chip that this process holds."""

    def __init__(self, backend: Backend) -> None:
        self._backend = backend
        self._outputs: dict[int, OutputLine] = {}
        self._inputs: dict[int, Line] = {}

    @property
    def chip(self) -> chips.Chip:
        return self._backend.chip

    def claim(self, pin: int, level: bool) -> None:
        """As an output. Raises LineError: out of range, held by another program, or claimed
        before."""
        self._check_free(pin)
        with self._claiming(pin):
            self._outputs[pin] = self._backend.claim(pin, level)

    def claim_input(self, pin: int, pull: Pull) -> None:
        """As an input; otherwise like claim."""
        self._check_free(pin)
        with self._claiming(pin):
            self._inputs[pin] = self._backend.claim_input(pin, pull)

    def drive(self, pin: int, level: bool) -> None:
        """Raises LineError."""
        if pin in self._inputs:
            raise LineError(f"GPIO{pin} is an input: it is never driven")
        line = self._outputs.get(pin)
        if line is None:
            raise _unclaimed(pin)
        try:
            line.drive(level)
        except OSError as error:
            raise chips.line_trouble(pin, error) from error

    def read(self, pin: int) -> bool:
        """The level on the pin itself, not the one it was told. Raises LineError."""
        line = self._outputs.get(pin) or self._inputs.get(pin)
        if line is None:
            raise _unclaimed(pin)
        try:
            return line.read()
        except OSError as error:
            raise chips.line_trouble(pin, error) from error

    def release(self, pin: int) -> None:
        """Let go; nothing happens when it was not held. Raises LineError."""
        line = self._outputs.pop(pin, None) or self._inputs.pop(pin, None)
        if line is None:
            return
        try:
            line.release()
        except OSError as error:
            raise chips.line_trouble(pin, error) from error
        finally:
            self._rest()

    def close(self) -> None:
        """Let go of every line, also when some fail. Safe to call twice. Raises LineError."""
        failures = []
        for pin in (*self._outputs, *self._inputs):
            try:
                self.release(pin)
            except LineError as error:
                failures.append(str(error))
        if failures:
            raise LineError("; ".join(failures))

    def _check_free(self, pin: int) -> None:
        count = min(self.chip.lines, chips.HEADER_LINES)
        if not 0 <= pin < count:
            raise LineError(
                f"GPIO{pin} is out of range: {self.chip.path} has GPIO0 to GPIO{count - 1}"
            )
        if pin in self._outputs or pin in self._inputs:
            raise LineError(f"GPIO{pin} is claimed already: nothing can share a pin")

    @contextmanager
    def _claiming(self, pin: int) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            self._rest()
            raise chips.line_trouble(pin, error) from error

    def _rest(self) -> None:
        if self._outputs or self._inputs:
            return
        try:
            self._backend.idle()
        except OSError as error:
            raise LineError(f"{self.chip.path} cannot be closed: {error.strerror}") from error


def _unclaimed(pin: int) -> LineError:
    # Told here, because lgpio claims an unclaimed line of its own accord: as an input when
    # read, and as an output when written (lgGpio.c, release 0.2.2).
    return LineError(f"GPIO{pin} is not claimed")
