"""Probes that follow a script: a CSV file instead of a wire, for trying things out.

Lives here: the file's format and its faults. Does not live here: the modelled house,
whose probes answer to the heater (modelled.py).

    # invented: a cold hour with a loose joint
    seconds,temp_c
    0,6.5
    600,4.25
    900,
    1200,4.0

Seconds count from the start of the group. A value holds until the next row, the last
one for ever. An empty temp_c is a missing reading, and so is the time before the first
row: a script says nothing that is not written in it. A line that begins with # is a note.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from greenkeeper.clock import Clock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Fault, Reading

HEADER = ["seconds", "temp_c"]


class ScriptError(GreenkeeperError):
    """A script cannot be followed; the message names file, line and column."""


class Script(NamedTuple):
    """What a probe says, and from which second on."""

    starts_s: tuple[float, ...]
    temps_c: tuple[float | None, ...]

    def temp_c(self, elapsed_s: float) -> float | None:
        row = bisect_right(self.starts_s, elapsed_s) - 1
        return self.temps_c[row] if row >= 0 else None


class ScriptedGroup:
    """Scripted probes, all started at the same moment."""

    blocking = False

    def __init__(self, files: Mapping[str, Path], clock: Clock) -> None:
        """files: probe name -> its script. Raises ScriptError."""
        self._clock = clock
        self._scripts = {name: load_script(path) for name, path in files.items()}
        self._started_s = clock.mono_s()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._scripts)

    def read(self) -> Mapping[str, Reading]:
        now_s = self._clock.mono_s()
        elapsed_s = now_s - self._started_s
        return {
            name: _reading(now_s, script.temp_c(elapsed_s))
            for name, script in self._scripts.items()
        }

    def close(self) -> None:
        """Nothing is held open: the scripts are read once, at the start."""


def _reading(now_s: float, temp_c: float | None) -> Reading:
    if temp_c is None:
        return Reading(now_s, None, Fault.MISSING, "the script has no value here")
    return Reading(now_s, temp_c)


def load_script(path: Path) -> Script:
    """The script in a CSV file. Raises ScriptError."""
    lines = _lines(path)
    head = next(lines, None)
    if head is None or head[1] != HEADER:
        line = 1 if head is None else head[0]
        raise ScriptError(f"{path}, line {line}: expected the header 'seconds,temp_c'")
    starts_s: list[float] = []
    temps_c: list[float | None] = []
    for line, row in lines:
        where = f"{path}, line {line}"
        start_s, temp_c = _row(row, where)
        if starts_s and start_s <= starts_s[-1]:
            raise ScriptError(
                f"{where}, column seconds: {start_s:g} does not come after {starts_s[-1]:g} "
                "of the row before; order the rows by time"
            )
        starts_s.append(start_s)
        temps_c.append(temp_c)
    if not starts_s:
        raise ScriptError(f"{path}: no rows after the header; write at least one, such as 0,5.0")
    return Script(tuple(starts_s), tuple(temps_c))


def _lines(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Line number and columns of every line that is neither blank nor a note."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise ScriptError(f"{path}: cannot be read as a script: {reason}") from error
    for line, content in enumerate(text.splitlines(), start=1):
        if content.strip() and not content.startswith("#"):
            yield line, [column.strip() for column in content.split(",")]


def _row(row: list[str], where: str) -> tuple[float, float | None]:
    if len(row) != len(HEADER):
        raise ScriptError(f"{where}: expected 2 columns, seconds and temp_c, found {len(row)}")
    seconds, temp = row
    start_s = _number(seconds, f"{where}, column seconds")
    if start_s < 0.0:
        raise ScriptError(f"{where}, column seconds: {start_s:g} is before the start; 0 or more")
    return start_s, _number(temp, f"{where}, column temp_c") if temp else None


def _number(text: str, where: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ScriptError(f"{where}: {text!r} is no number; write it like 4.25")
    return number
