"""Where the lines of a picture's grid stand, and what is written beside them.

Lives here: round steps of temperature and of time. Does not live here: drawing (chart.py).
"""

import math
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from greenkeeper.page.figures import Figures
from greenkeeper.reports.night import Span

_HOUR_S = 3600.0
_DAY_S = 24 * _HOUR_S
_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
_MOST_LINES = 6


def degrees(low: float, high: float) -> list[float]:
    """Round figures that enclose low and high, a few steps from one to the next."""
    step = next(
        (each for each in _STEPS if (high - low) / each <= _MOST_LINES - 1), _STEPS[-1] * 2.0
    )
    first, last = math.floor(low / step), math.ceil(high / step)
    if first == last:
        last += 1
    return [step * i for i in range(first, last + 1)]


def moments(span: Span, figures: Figures) -> list[tuple[float, str]]:
    """POSIX seconds and words: hours of a day, days of a week, months of a winter."""
    length_s = span.to_utc_s - span.from_utc_s
    if length_s <= 1.5 * _DAY_S:
        return [(utc_s, figures.time(utc_s)) for utc_s in _hours(span, figures, 6)]
    if length_s <= 10.0 * _DAY_S:
        every = 2 if length_s > 4.5 * _DAY_S else 1
        return [(utc_s, figures.short_day(day)) for utc_s, day in _days(span, figures, every)]
    if length_s <= 70.0 * _DAY_S:
        return [(utc_s, figures.day(day)) for utc_s, day in _days(span, figures, 14)]
    every = max(1, round(length_s / (_DAY_S * 30.0 * 6.0)))
    return [
        (utc_s, figures.month(day))
        for utc_s, day in _days(span, figures, 1)
        if day.day == 1 and (day.month - 1) % every == 0
    ]


def _hours(span: Span, figures: Figures, every: int) -> Iterator[float]:
    """Whole hours of the wall's clock."""
    utc_s = math.ceil(span.from_utc_s / _HOUR_S) * _HOUR_S
    while utc_s < span.to_utc_s:
        if datetime.fromtimestamp(utc_s, UTC).astimezone(figures.zone).hour % every == 0:
            yield utc_s
        utc_s += _HOUR_S


def _days(span: Span, figures: Figures, every: int) -> Iterator[tuple[float, datetime]]:
    """Midnights; counted from the first."""
    local = datetime.fromtimestamp(span.from_utc_s, UTC).astimezone(figures.zone)
    day = local.replace(hour=0, minute=0, second=0, microsecond=0)
    count = 0
    while day.timestamp() < span.to_utc_s:
        if day.timestamp() >= span.from_utc_s:
            if count % every == 0:
                yield day.timestamp(), day
            count += 1
        day += timedelta(days=1)
