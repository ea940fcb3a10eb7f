"""Probes, hygrometers and contacts that follow a script: a CSV file instead of a wire.

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
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Generic, NamedTuple, TypeVar

from greenkeeper.clock import Clock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import ContactReading, Fault, HumidityReading, Reading

_NO_VALUE = "the script has no value here"

V = TypeVar("V")


class ScriptError(GreenkeeperError):
    """A script cannot be followed; the message names file, line and column."""


class Script(NamedTuple, Generic[V]):
    """What is said, and from which second on."""

    starts_s: tuple[float, ...]
    values: tuple[V | None, ...]

    def value(self, elapsed_s: float) -> V | None:
        row = bisect_right(self.starts_s, elapsed_s) - 1
        return self.values[row] if row >= 0 else None


class Column(NamedTuple, Generic[V]):
    """The script's second column. parse takes the text and where it stands, for errors."""

    name: str
    parse: Callable[[str, str], V]
    example: str


class ScriptedGroup:
    """Scripted probes, all started at the same moment."""

    blocking = False

    def __init__(self, files: Mapping[str, Path], clock: Clock) -> None:
        """files: probe name -> its script. Raises ScriptError."""
        self._clock = clock
        self._scripts = {name: load_script(path, TEMP_C) for name, path in files.items()}
        self._started_s = clock.mono_s()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._scripts)

    def read(self) -> Mapping[str, Reading]:
        now_s = self._clock.mono_s()
        elapsed_s = now_s - self._started_s
        return {
            name: _reading(now_s, script.value(elapsed_s)) for name, script in self._scripts.items()
        }

    def close(self) -> None:
        """Nothing is held open: the scripts are read once, at the start."""


def _reading(now_s: float, temp_c: float | None) -> Reading:
    if temp_c is None:
        return Reading(now_s, None, Fault.MISSING, _NO_VALUE)
    return Reading(now_s, temp_c)


class ScriptedHygrometers:
    """Scripted hygrometers, all started at the same moment."""

    blocking = False

    def __init__(self, files: Mapping[str, Path], clock: Clock) -> None:
        """files: hygrometer name -> its script. Raises ScriptError."""
        self._clock = clock
        self._scripts = {name: load_script(path, RH_PCT) for name, path in files.items()}
        self._started_s = clock.mono_s()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._scripts)

    def read(self) -> Mapping[str, HumidityReading]:
        now_s = self._clock.mono_s()
        said = {n: script.value(now_s - self._started_s) for n, script in self._scripts.items()}
        return {
            name: HumidityReading(now_s, None, Fault.MISSING, _NO_VALUE)
            if rh_pct is None
            else HumidityReading(now_s, rh_pct)
            for name, rh_pct in said.items()
        }

    def close(self) -> None:
        """Nothing is held open, as with probes."""


class ScriptedContacts:
    """Scripted contacts, all started at the same moment."""

    blocking = False

    def __init__(self, files: Mapping[str, Path], clock: Clock) -> None:
        """files: contact name -> its script. Raises ScriptError."""
        self._clock = clock
        self._scripts = {name: load_script(path, ACTIVE) for name, path in files.items()}
        self._started_s = clock.mono_s()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._scripts)

    def read(self) -> Mapping[str, ContactReading]:
        now_s = self._clock.mono_s()
        said = {n: script.value(now_s - self._started_s) for n, script in self._scripts.items()}
        return {
            name: ContactReading(now_s, active, _NO_VALUE if active is None else "")
            for name, active in said.items()
        }

    def close(self) -> None:
        """Nothing is held open, as with probes."""


def load_script(path: Path, column: Column[V]) -> Script[V]:
    """The script in a CSV file. Raises ScriptError."""
    lines = _lines(path)
    head = next(lines, None)
    if head is None or head[1] != ["seconds", column.name]:
        line = 1 if head is None else head[0]
        raise ScriptError(f"{path}, line {line}: expected the header 'seconds,{column.name}'")
    starts_s: list[float] = []
    values: list[V | None] = []
    for line, row in lines:
        where = f"{path}, line {line}"
        if len(row) != 2:
            raise ScriptError(
                f"{where}: expected 2 columns, seconds and {column.name}, found {len(row)}"
            )
        start_s = _number(row[0], f"{where}, column seconds")
        if start_s < 0.0:
            raise ScriptError(
                f"{where}, column seconds: {start_s:g} is before the start; 0 or more"
            )
        if starts_s and start_s <= starts_s[-1]:
            raise ScriptError(
                f"{where}, column seconds: {start_s:g} does not come after {starts_s[-1]:g} "
                "of the row before; order the rows by time"
            )
        starts_s.append(start_s)
        text = row[1]
        values.append(column.parse(text, f"{where}, column {column.name}") if text else None)
    if not starts_s:
        example = f"0,{column.example}"
        raise ScriptError(
            f"{path}: no rows after the header; write at least one, such as {example}"
        )
    return Script(tuple(starts_s), tuple(values))


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


def _number(text: str, where: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ScriptError(f"{where}: {text!r} is no number; write it like 4.25")
    return number


def _flag(text: str, where: str) -> bool:
    if text not in ("0", "1"):
        raise ScriptError(f"{where}: {text!r} is neither 1 nor 0")
    return text == "1"


TEMP_C = Column("temp_c", _number, "5.0")
RH_PCT = Column("rh_pct", _number, "85")
ACTIVE = Column("active", _flag, "1")
