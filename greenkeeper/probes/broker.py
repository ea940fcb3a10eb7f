"""Probes and hygrometers that somebody else reads and publishes on the broker.

Lives here: taking a number out of a payload, its unit, and how old it is. Does not live
here: the connection (the broker's room), and whether a number is plausible (judge).

A reading is as old as its arrival, since nobody knows when it was measured. What a broker
kept (a retained message) may be from last summer: it is never a reading, only a sign that
the topic is right. So after a start nothing counts before the next report.
"""

import json
import math
import threading
from collections.abc import Callable, Mapping
from typing import Any, Generic, NamedTuple, Protocol, TypeVar

from greenkeeper import pointer
from greenkeeper.clock import Clock
from greenkeeper.model import Fault, HumidityReading, Reading
from greenkeeper.units import K_PER_F

LARGEST_PAYLOAD = 16 * 1024  # bytes: a sensor's report, not a book
_SHOWN = 40  # characters of what was found

R = TypeVar("R")
Written = Callable[[float, float | None, Fault | None, str], R]

TO_CELSIUS: Mapping[str, Callable[[float], float]] = {
    "°C": lambda number: number,
    "°F": lambda number: (number - 32.0) * K_PER_F,
    "K": lambda number: number - 273.15,
}
TO_PERCENT: Mapping[str, Callable[[float], float]] = {
    "%": lambda number: number,
    "share": lambda number: number * 100.0,
}


class Mail(Protocol):
    """What the broker's room offers to whoever reads a topic."""

    def subscribe(self, topic: str, reader: Callable[[bytes, bool], None]) -> Callable[[], None]:
        """Call reader(payload, retained) from another thread. Returns what ends it."""


class Source(NamedTuple):
    """Where one number comes from."""

    topic: str
    field: str  # JSON pointer; empty: the payload is the number itself
    convert: Callable[[float], float]


class _Group(Generic[R]):
    """All of one kind. Reading takes no time: the newest report lies here already."""

    blocking = False

    def __init__(
        self, sources: Mapping[str, Source], mail: Mail, clock: Clock, written: Written[R]
    ) -> None:
        self._clock = clock
        self._written = written
        self._lock = threading.Lock()
        silent = "no report yet since the start"
        # One moment for all of them: what is not news must not look like another failure.
        nothing = written(clock.mono_s(), None, Fault.MISSING, silent)
        self._newest: dict[str, R] = dict.fromkeys(sources, nothing)
        self._live: set[str] = set()  # those that reported since the start
        self._ends = [
            mail.subscribe(source.topic, self._reader(name, source))
            for name, source in sources.items()
        ]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._newest)

    def read(self) -> Mapping[str, R]:
        with self._lock:
            return dict(self._newest)

    def close(self) -> None:
        for end in self._ends:
            end()
        self._ends = []

    def _reader(self, name: str, source: Source) -> Callable[[bytes, bool], None]:
        way = pointer.tokens(source.field)

        def reader(payload: bytes, retained: bool) -> None:
            taken_s = self._clock.mono_s()
            if retained:
                self._old_news(name, taken_s)
                return
            number, fault, detail = _number(payload, way, source.convert)
            with self._lock:
                self._live.add(name)
                self._newest[name] = self._written(taken_s, number, fault, detail)

        return reader

    def _old_news(self, name: str, taken_s: float) -> None:
        kept = "only an old report, kept by the broker; waiting for a new one"
        with self._lock:
            if name not in self._live:
                self._newest[name] = self._written(taken_s, None, Fault.MISSING, kept)


class BrokerProbes(_Group[Reading]):
    def __init__(self, sources: Mapping[str, Source], mail: Mail, clock: Clock) -> None:
        super().__init__(sources, mail, clock, Reading)


class BrokerHygrometers(_Group[HumidityReading]):
    def __init__(self, sources: Mapping[str, Source], mail: Mail, clock: Clock) -> None:
        super().__init__(sources, mail, clock, HumidityReading)


def _number(
    payload: bytes, way: tuple[str, ...], convert: Callable[[float], float]
) -> tuple[float | None, Fault | None, str]:
    """The number in a payload, or why there is none. Raises nothing for any bytes."""
    if len(payload) > LARGEST_PAYLOAD:
        return None, Fault.UNREADABLE, f"a report of {len(payload)} bytes"
    try:
        document = json.loads(payload, parse_constant=_refused)
        found = pointer.value_at(document, way)
    except LookupError as error:
        return None, Fault.UNREADABLE, f"in its report {error.args[0]}"
    except (ValueError, RecursionError):
        return None, Fault.UNREADABLE, f"its report is no JSON: {_shown(payload)}"
    if isinstance(found, bool) or not isinstance(found, int | float):
        return None, Fault.UNREADABLE, f"its report holds no number there: {_cut(str(found))}"
    try:
        number = convert(float(found))
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        return None, Fault.UNREADABLE, "its report holds a number beyond all numbers"
    return number, None, ""


def _refused(word: str) -> Any:
    raise ValueError(f"{word} is no number")


def _shown(payload: bytes) -> str:
    return _cut(ascii(payload.decode("utf-8", "replace")))


def _cut(text: str) -> str:
    return text if len(text) <= _SHOWN else text[:_SHOWN] + "…"
