"""The pretend kernel's lines with a clock beside them, and a way to break each operation.

Lives here: when a relay was driven where, and faults of single calls. Does not live here:
the kernel itself and its libraries (tests/support/fakekernel.py).
"""

import errno
import os
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from greenkeeper.clock import Clock
from tests.support.fakekernel import FakeKernel, Line


class Switched(NamedTuple):
    mono_s: float
    level: int


class Board(FakeKernel):
    """Its lines are kept in memory, for they need not outlive this process."""

    clock: Clock

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._lines: dict[int, Line] = {}
        self._forced: dict[int, int] = {}
        self.switched: dict[int, list[Switched]] = {}
        self._hooks: dict[tuple[str, int], Callable[[], None]] = {}

    # --- breaking it -------------------------------------------------------------------

    def hook(self, operation: str, pin: int, act: Callable[[], None]) -> None:
        """Before every such operation ("request", "write", "read", "free") act() is called.
        It may raise OSError."""
        self._hooks[operation, pin] = act

    def refuse(self, operation: str, pin: int, number: int = errno.EIO) -> None:
        def raise_it() -> None:
            raise OSError(number, os.strerror(number))

        self.hook(operation, pin, raise_it)

    def mend(self) -> None:
        self._hooks.clear()
        self._forced.clear()

    def force(self, pin: int, level: int) -> None:
        self._forced[pin] = level

    def let_be(self, pin: int) -> None:
        self._forced.pop(pin, None)

    # --- what the libraries call ----------------------------------------------------------

    def request(self, pin: int, level: int) -> None:
        self._meet("request", pin)
        super().request(pin, level)
        self._note(pin, level)

    def request_input(self, pin: int, pull: str) -> None:
        self._meet("request", pin)
        super().request_input(pin, pull)

    def write(self, pin: int, level: int) -> None:
        self._meet("write", pin)
        super().write(pin, level)
        self._note(pin, level)

    def read(self, pin: int) -> int:
        self._meet("read", pin)
        return self._forced[pin] if pin in self._forced else super().read(pin)

    def free(self, pin: int) -> None:
        self._meet("free", pin)
        super().free(pin)

    def _meet(self, operation: str, pin: int) -> None:
        act = self._hooks.get((operation, pin))
        if act is not None:
            act()

    def _note(self, pin: int, level: int) -> None:
        seen = self.switched.setdefault(pin, [])
        if not seen or seen[-1].level != level:
            seen.append(Switched(self.clock.mono_s(), level))

    def _load(self, pin: int) -> Line:
        return self._lines.get(pin, Line(0, None, []))

    def _save(self, pin: int, line: Line) -> None:
        self._lines[pin] = line
