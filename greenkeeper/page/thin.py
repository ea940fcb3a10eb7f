"""A long record thinned to as many columns as a picture has.

Lives here: minutes and hours into columns, so that no low and no high is lost however many
there are, and silence stays silence. Does not live here: drawing (chart.py).
"""

from collections.abc import Iterable, Sequence
from math import inf
from typing import NamedTuple

from greenkeeper.journal.answers import OnTimes, Temperatures
from greenkeeper.reports.night import Span


class Column(NamedTuple):
    low_c: float
    mean_c: float
    high_c: float


class Grid(NamedTuple):
    """A span cut into columns of the same width."""

    span: Span
    columns: int

    @property
    def width_s(self) -> float:
        return (self.span.to_utc_s - self.span.from_utc_s) / self.columns

    def begins_s(self, column: int) -> float:
        return self.span.from_utc_s + column * self.width_s

    def of(self, utc_s: float) -> int | None:
        """None: outside."""
        column = int((utc_s - self.span.from_utc_s) // self.width_s)
        return column if 0 <= column < self.columns else None


def temperatures(rows: Iterable[Temperatures], grid: Grid) -> list[Column | None]:
    """None: nothing was believed in that column."""
    lows = [inf] * grid.columns
    highs = [-inf] * grid.columns
    sums = [0.0] * grid.columns
    counts = [0] * grid.columns
    for row in rows:
        column = grid.of(row.utc_s)
        if column is None or row.low_c is None or row.mean_c is None or row.high_c is None:
            continue
        lows[column] = min(lows[column], row.low_c)
        highs[column] = max(highs[column], row.high_c)
        sums[column] += row.mean_c
        counts[column] += 1
    return [
        Column(low, total / count, high) if count else None
        for low, total, count, high in zip(lows, sums, counts, highs, strict=True)
    ]


def together(courses: Sequence[Sequence[Column | None]]) -> list[Column | None]:
    """Several probes as one: their coldest, the mean of their means, their warmest."""
    return [_joined([each for each in at_once if each]) for at_once in zip(*courses, strict=True)]


def _joined(seen: Sequence[Column]) -> Column | None:
    if not seen:
        return None
    return Column(
        min(each.low_c for each in seen),
        sum(each.mean_c for each in seen) / len(seen),
        max(each.high_c for each in seen),
    )


def shares_on(rows: Iterable[OnTimes], grid: Grid, step_s: float) -> list[float | None]:
    """The share of each column's time an output was on. None: nobody watched it then.

    step_s: how long a row stands for. A row wider than a column fills all it covers.
    """
    on_s = [0.0] * grid.columns
    seen_s = [0.0] * grid.columns
    reach = max(1, round(step_s / grid.width_s))
    for row in rows:
        first = grid.of(row.utc_s)
        if first is None:
            continue
        for column in range(first, min(first + reach, grid.columns)):
            on_s[column] += row.on_s / reach
            seen_s[column] += step_s / reach
    return [
        min(1.0, on / seen) if seen > 0.0 else None for on, seen in zip(on_s, seen_s, strict=True)
    ]


def filled(course: Sequence[Column | None], grid: Grid, step_s: float) -> list[Column | None]:
    """Where a row is wider than a column, the columns it covers show it too."""
    reach = max(1, round(step_s / grid.width_s))
    out = list(course)
    for i, column in enumerate(course):
        if column is not None:
            for j in range(i + 1, min(i + reach, len(out))):
                out[j] = out[j] or column
    return out


def silences(course: Sequence[object | None]) -> list[tuple[int, int]]:
    """From where to where (not included) there is nothing."""
    found: list[tuple[int, int]] = []
    for i, each in enumerate(course):
        if each is not None:
            continue
        if found and found[-1][1] == i:
            found[-1] = (found[-1][0], i + 1)
        else:
            found.append((i, i + 1))
    return found
