"""The living view: the board, redrawn in place on a terminal.

Lives here: what is painted, the last events, and the strip of the last hours.
Does not live here: what the board says (board.py, words.py), the painting itself (easel.py).
Drawing is limited to a few times a second of real time, however fast the ticks come.
"""

import os
import shutil
import time
from collections import deque
from typing import IO

from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Event, Tick
from greenkeeper.reports import board, words
from greenkeeper.reports.easel import Easel
from greenkeeper.status import StatusDocument

_DRAW_EVERY_S = 0.15
_PATIENCE_S = 2.0
_COLUMNS = 40
_LATELY = 6


def wants_colour(stream: IO[str]) -> bool:
    return stream.isatty() and "NO_COLOR" not in os.environ


class LiveView:
    """Shows the house as of the newest tick it is told of, and never waits for the terminal."""

    def __init__(self, out: IO[str], *, span_s: float = 12 * 3600.0) -> None:
        """span_s: how much time the strip covers."""
        self._colour = wants_colour(out)
        self._easel = Easel(out.fileno())
        self._course = Course(span_s)
        self._lately: deque[tuple[float, str]] = deque(maxlen=_LATELY)
        self._drawn_s = float("-inf")

    def show(self, tick: Tick, document: StatusDocument) -> None:
        self._course.take(tick)
        for event in tick.events:
            self._lately.append((event.utc_s, _event_line(event)))
        if time.monotonic() - self._drawn_s >= _DRAW_EVERY_S:
            self._draw(document)
            self._drawn_s = time.monotonic()

    def _draw(self, document: StatusDocument) -> None:
        lines = board.lines(document, colour=self._colour, strip=self._course.strip(document))
        if self._lately:
            lines += ["", "lately"]
            for utc_s, text in self._lately:
                when = words.moment(utc_s, document["timezone"], with_day=False)
                lines.append(f"  {when}  {text}"[: board.WIDTH])
        self._easel.put(_picture(lines))

    def finish(self) -> None:
        """Before anything else is printed: the last board is whole, or the terminal is stuck."""
        self._easel.finish(_PATIENCE_S)


def redraw(out: IO[str], lines: list[str]) -> None:
    out.write(_picture(lines))
    out.flush()


def _picture(lines: list[str]) -> str:
    """Painted over what was there, without flicker, clipped to the terminal's height."""
    height = shutil.get_terminal_size().lines
    shown = lines[: max(1, height - 1)]
    return "\x1b[H" + "".join(f"{line}\x1b[K\n" for line in shown) + "\x1b[J"


def clear(out: IO[str]) -> None:
    out.write("\x1b[2J\x1b[H")
    out.flush()


def _event_line(event: Event) -> str:
    return f"{event.subject}: {CATALOGUE[event.code].title}, {event.phase.value} ({event.text})"


class Course:
    """The recent course of the first zone, in as many columns as the strip has."""

    def __init__(self, span_s: float) -> None:
        self._column_s = span_s / _COLUMNS
        self._span_s = span_s
        self._columns: deque[_Column] = deque(maxlen=_COLUMNS)

    def take(self, tick: Tick) -> None:
        index = int(tick.now.mono_s // self._column_s)
        if not self._columns or self._columns[-1].index != index:
            self._columns.append(_Column(index))
        self._columns[-1].add(tick)

    def strip(self, document: StatusDocument) -> board.Strip | None:
        if len(self._columns) < 2:
            return None
        return board.Strip(
            label=next(iter(document["zones"])),
            temps_c=[column.low_c for column in self._columns],
            heated=[column.heated for column in self._columns],
            span=f"each column {words.duration(self._column_s)}, the newest at the right",
        )


class _Column:
    def __init__(self, index: int) -> None:
        self.index = index
        self.low_c: float | None = None
        self._ticks = 0
        self._heated_ticks = 0

    @property
    def heated(self) -> float:
        return self._heated_ticks / self._ticks

    def add(self, tick: Tick) -> None:
        coldest_c = tick.zones[0].coldest_c
        if coldest_c is not None:
            self.low_c = coldest_c if self.low_c is None else min(self.low_c, coldest_c)
        heat_outputs = {
            wish.output for view in tick.zones for wish in view.wishes if wish.mode == "heat"
        }
        self._ticks += 1
        self._heated_ticks += any(c.on and c.output in heat_outputs for c in tick.commands)


class HourlyView:
    """One line an hour, for a log or a pipe instead of a terminal."""

    def __init__(self, out: IO[str]) -> None:
        self._out = out
        self._hour: int | None = None

    def show(self, tick: Tick, document: StatusDocument) -> None:  # noqa: ARG002 - a Viewer's
        hour = int(document["utc_s"] // 3600)
        if hour != self._hour:
            self._hour = hour
            self._out.write(_hour_line(document) + "\n")
            self._out.flush()

    def finish(self) -> None:
        """Each line was written when it was shown."""


def _hour_line(document: StatusDocument) -> str:
    when = words.moment(document["utc_s"], document["timezone"])
    zones = [
        f"{name} {words.temperature(zone['coldest_c'])}" for name, zone in document["zones"].items()
    ]
    outdoor = document["outdoor_probe"]
    if outdoor is not None:
        zones.append(f"{outdoor} {words.temperature(document['probes'][outdoor]['temp_c'])}")
    outputs = [f"{name} {words.switch(each)}" for name, each in document["outputs"].items()]
    return f"{when}   {'   '.join([*zones, *outputs])}"
