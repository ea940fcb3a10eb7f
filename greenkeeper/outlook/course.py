"""The outdoor air from now until the morning, from whatever source there is.

Lives here: one course of temperatures, and making one from the evening's air or from how
the last nights fell. Does not live here: the evening method itself (evening.py).
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from statistics import median, quantiles
from typing import NamedTuple

from greenkeeper.house.weather import RULE_STARTS_H, root_of_time_c
from greenkeeper.outlook.evening import Fit

EVENING, NIGHTS, FORECAST = "evening", "nights", "forecast"
LEAST_NIGHTS = 3  # whose fall says how far tonight may fall
COURSE_STEPS = 31  # moments, the first and the last included
_HARDLY_K = 1.0  # a fall of less has no shape
_STEP_S = 1800.0
_SINKS_S = 2 * 3600.0  # so long before sunset the afternoon begins to cool: no kink at dusk
_NORMAL_TENTH = 1.2816  # nine tenths of a normal distribution lie below so many deviations


class Point(NamedTuple):
    utc_s: float
    temp_c: float


class Wind(NamedTuple):
    utc_s: float
    wind_m_s: float


class Cloud(NamedTuple):
    utc_s: float
    share: float  # of the sky, from 0 to 1


class Dark(NamedTuple):
    sunset_utc_s: float
    sunrise_utc_s: float

    @property
    def hours(self) -> float:
        return (self.sunrise_utc_s - self.sunset_utc_s) / 3600.0


class Course(NamedTuple):
    """From the first of its points to the last; before and after it stands still."""

    kind: str  # EVENING, NIGHTS or FORECAST: what is scored together
    source: str  # in words, for people
    points: tuple[Point, ...]
    band_k: tuple[float, float]  # its low is so far below and above, eight nights in ten
    winds: tuple[Wind, ...] = ()  # where the source tells of any
    corrected_k: float = 0.0  # so much its low was moved by what its source always misses

    @property
    def low(self) -> Point:
        return min(self.points, key=lambda point: point.temp_c)

    def at(self, utc_s: float) -> float:
        """°C, between points by straight lines."""
        after = bisect_right(self.points, utc_s, key=lambda point: point.utc_s)
        if after == 0:
            return self.points[0].temp_c
        if after == len(self.points):
            return self.points[-1].temp_c
        (from_s, from_c), (to_s, to_c) = self.points[after - 1], self.points[after]
        return from_c + (to_c - from_c) * (utc_s - from_s) / (to_s - from_s)

    def wind_at(self, utc_s: float) -> float | None:
        """m/s, of the last moment that is told of; None: nobody tells."""
        after = bisect_right(self.winds, utc_s, key=lambda wind: wind.utc_s)
        return self.winds[max(0, after - 1)].wind_m_s if self.winds else None

    def colder(self, by_k: float) -> "Course":
        """The same course with its low so much lower, and everything before it in proportion."""
        first_c, low_c = self.points[0].temp_c, self.low.temp_c
        whole_k = first_c - low_c
        moved = tuple(
            Point(at_s, temp_c - by_k * _share(first_c - temp_c, whole_k))
            for at_s, temp_c in self.points
        )
        return self._replace(points=moved)


def _share(fallen_k: float, whole_k: float) -> float:
    return 1.0 if whole_k <= 0.1 else min(1.0, max(0.0, fallen_k / whole_k))


def by_evening(
    found: Fit, start_c: float, dew_point_c: float | None, dark: Dark, now: Point | None = None
) -> Course:
    """From two hours after sunset, whose air start_c is, by the root of time to sunrise.

    now: a later reading. Where it is colder than the course by then, all the rest is; where it
    is warmer, the course goes on to the same low from there."""
    low_c = min(found.low_c(start_c, dew_point_c if found.dew_slope is not None else None), start_c)
    starts_s = dark.sunset_utc_s + RULE_STARTS_H * 3600.0
    steps = max(1, math.ceil((dark.sunrise_utc_s - starts_s) / _STEP_S))
    points = []
    for step in range(steps + 1):
        at_s = starts_s + (dark.sunrise_utc_s - starts_s) * step / steps
        after_h = (at_s - dark.sunset_utc_s) / 3600.0
        points.append(Point(at_s, root_of_time_c(after_h, start_c, low_c, dark.hours)))
    if now is not None:
        points = _from_now(points, now)
    away_k = _NORMAL_TENTH * found.spread_k
    damp = "" if found.dew_slope is None else " and its dew point"
    return Course(
        EVENING,
        f"the air two hours after sunset{damp}, as it went in {found.evenings} nights here",
        tuple(points),
        (away_k, away_k),
    )


def _from_now(points: Sequence[Point], now: Point) -> list[Point]:
    reckoned_c = Course("", "", tuple(points), (0.0, 0.0)).at(now.utc_s)
    off_k = now.temp_c - reckoned_c
    to_come = [point for point in points if point.utc_s > now.utc_s]
    low_c = points[-1].temp_c
    left_k = reckoned_c - low_c
    moved = [
        Point(
            at_s,
            temp_c + (off_k if off_k < 0.0 else off_k * _share(temp_c - low_c, left_k)),
        )
        for at_s, temp_c in to_come
    ]
    return [now, *moved]


def by_last_nights(
    now: Point, falls_k: Sequence[float], dark: Dark, courses_k: Sequence[Sequence[float]] = ()
) -> Course | None:
    """As far down as the last nights went from this hour on, in their middle.

    falls_k: of each of them, from this hour of the day to its low; below zero where it grew
    warmer. courses_k: of those that are known whole, how far it had fallen at each of
    COURSE_STEPS from this hour to sunrise. None: too few nights.
    """
    if len(falls_k) < LEAST_NIGHTS:
        return None
    tenths = quantiles(falls_k, n=10, method="inclusive")
    middle_k = tenths[4]
    shape = _shape(courses_k)
    if shape is None or dark.sunrise_utc_s - now.utc_s < _STEP_S:
        points = _by_root_of_time(now, middle_k, dark)
    else:
        span_s = (dark.sunrise_utc_s - now.utc_s) / (COURSE_STEPS - 1)
        points = [
            Point(now.utc_s + span_s * step, now.temp_c - middle_k * share)
            for step, share in enumerate(shape)
        ]
        points[0] = now
    return Course(
        NIGHTS,
        f"how far the last {len(falls_k)} nights fell from this hour on",
        tuple(points),
        (max(0.0, tenths[8] - middle_k), max(0.0, middle_k - tenths[0])),
    )


def _shape(courses_k: Sequence[Sequence[float]]) -> list[float] | None:
    """How the last nights went down, in their middle, as shares of the whole way. None: too
    few of them, or they hardly did."""
    if len(courses_k) < LEAST_NIGHTS:
        return None
    middle_k = [median(each) for each in zip(*courses_k, strict=True)]
    deepest_k = max(middle_k)
    return None if deepest_k < _HARDLY_K else [fallen_k / deepest_k for fallen_k in middle_k]


def _by_root_of_time(now: Point, fall_k: float, dark: Dark) -> list[Point]:
    starts_s = max(now.utc_s, min(dark.sunset_utc_s - _SINKS_S, dark.sunrise_utc_s - _STEP_S))
    span_s = max(_STEP_S, dark.sunrise_utc_s - starts_s)
    begun = math.sqrt(_SINKS_S)
    steps = math.ceil(span_s / _STEP_S)
    points = [now] if starts_s > now.utc_s else []
    for step in range(steps + 1):
        share = step / steps
        fallen = (math.sqrt(_SINKS_S + share * span_s) - begun) / (
            math.sqrt(_SINKS_S + span_s) - begun
        )
        points.append(Point(starts_s + span_s * share, now.temp_c - fall_k * fallen))
    return points
