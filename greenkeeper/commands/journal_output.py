"""Where an export goes, and the sign of life while something takes long.

Lives here: a file that appears whole or not at all, and one line on a terminal's stderr.
Does not live here: what is written.
"""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import IO, Self

from greenkeeper.errors import GreenkeeperError

_QUIET_S = 2.0  # what takes no longer needs no sign of life
_EVERY_S = 0.2
_BAR = 30  # columns


@contextmanager
def opened(out: Path | None) -> Iterator[IO[str]]:
    """Standard output, or a file that takes its name only once it is complete.

    Raises GreenkeeperError when it cannot be written.
    """
    if out is None:
        yield sys.stdout
        return
    beside = out.with_name(f".{out.name}.new")
    try:
        with beside.open("w", encoding="utf-8", newline="") as file:
            yield file
        beside.replace(out)
    except OSError as error:
        raise GreenkeeperError(f"{out} cannot be written: {error.strerror}") from error
    finally:
        beside.unlink(missing_ok=True)


class Progress:
    """One line on stderr, if that is a terminal and the work takes over two seconds."""

    def __init__(self, doing: str, *, quiet: bool = False) -> None:
        self._doing = doing
        self._quiet = quiet or not sys.stderr.isatty()
        self._began_s = time.monotonic()
        self._next_s = self._began_s + _QUIET_S
        self._drawn = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._drawn:
            self._draw("")

    def share(self, done: float) -> None:
        """So much is done, 0 to 1."""
        if self._due():
            filled = round(_BAR * done)
            bar = "=" * filled + " " * (_BAR - filled)
            self._draw(f"{self._doing}  [{bar}] {done:4.0%}")

    def alive(self) -> None:
        """Still at it; nobody knows how much is left."""
        if self._due():
            self._draw(f"{self._doing} for {time.monotonic() - self._began_s:.0f} s ...")

    def _due(self) -> bool:
        if self._quiet or time.monotonic() < self._next_s:
            return False
        self._next_s = time.monotonic() + _EVERY_S
        return True

    def _draw(self, text: str) -> None:
        sys.stderr.write(f"\r\x1b[K{text}")
        sys.stderr.flush()
        self._drawn = True
