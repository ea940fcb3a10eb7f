"""The record of a span, a day at a time: a year of it never stands in memory at once.

Lives here: minutes as far back as they are kept, hours before that, and the days a span is
cut into. Does not live here: what is made of them (night.py, night_picture.py).
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple, TypeVar

from greenkeeper.journal.answers import Temperatures
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import DAY_S, HOUR_S, MINUTE_S

# A day of a probe's minutes is 1440 rows; so are sixty days of its hours.
_DAYS_OF_HOURS = 60


Row = TypeVar("Row")


class Stretch(NamedTuple):
    """A part of the span. The rows of each probe are in the order of their time."""

    ends_utc_s: float
    step_s: int  # what a row stands for: 60 or, where the minutes are gone, 3600
    rows: Mapping[str, Sequence[Temperatures]]


def stretches(
    journal: Journal, probes: Sequence[str], from_utc_s: float, to_utc_s: float
) -> Iterator[Stretch]:
    """The whole span in the order of its time; stretches without a row of any probe are left
    out. Raises JournalError."""
    kept_from_s = min(max(from_utc_s, journal.minutes_from(to_utc_s)), to_utc_s)
    for ask, step_s, begins_s, ends_s, days in (
        (journal.hours, HOUR_S, from_utc_s, kept_from_s, _DAYS_OF_HOURS),
        (journal.minutes, MINUTE_S, kept_from_s, to_utc_s, 1),
    ):
        for piece in cut(begins_s, ends_s, days):
            rows = {name: ask(name, *piece) for name in probes}
            if any(rows.values()):
                yield Stretch(piece[1], step_s, rows)


def rows(
    ask: Callable[[str, float, float], Iterable[Row]],
    name: str,
    from_utc_s: float,
    to_utc_s: float,
    days: int = 1,
) -> Iterator[Row]:
    """The rows of one probe or output, so many days of them at a time in memory. ask: a method
    of the journal. Raises JournalError."""
    for piece in cut(from_utc_s, to_utc_s, days):
        yield from ask(name, *piece)


def cut(from_utc_s: float, to_utc_s: float, days: int = 1) -> Iterator[tuple[float, float]]:
    """The span cut into so many days at a time, at whole hours."""
    begins_s = from_utc_s
    while begins_s < to_utc_s:
        ends_s = min(to_utc_s, begins_s // HOUR_S * HOUR_S + days * DAY_S)
        yield begins_s, ends_s
        begins_s = ends_s
