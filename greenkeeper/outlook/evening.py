"""The night's low from the evening's air, by coefficients of the place itself.

Lives here: the method of the FAO's book on frost protection, its fit and its prediction.
Does not live here: which evenings it is fitted to (reports/outlook_data.py).

Source: Snyder & de Melo-Abreu, Frost Protection: fundamentals, practice and economics,
vol. 1, FAO 2005, ch. 5, as restated in the manual of the CRAN package "frost". Made for
clear, calm nights: wind, cloud or fog lift the low above what it says, and another air
mass makes it worthless.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

AFTER_SUNSET_S = 2 * 3600.0  # when the evening's air is taken
LEAST_EVENINGS = 10  # the book's own number


class Evening(NamedTuple):
    start_c: float  # of the air outdoors, two hours after sunset
    dew_point_c: float | None
    low_c: float  # of that night


class Fit(NamedTuple):
    slope: float  # K of low for each K of the evening's air
    dew_slope: float | None  # None: fitted without dew points
    offset_c: float
    spread_k: float  # root mean square of what it missed its own evenings by
    evenings: int

    def low_c(self, start_c: float, dew_point_c: float | None = None) -> float:
        """Raises ValueError for a fit by dew points and no dew point."""
        if self.dew_slope is None:
            return self.slope * start_c + self.offset_c
        if dew_point_c is None:
            raise ValueError("this fit goes by the dew point as well")
        return self.slope * start_c + self.dew_slope * dew_point_c + self.offset_c


def fit(evenings: Sequence[Evening]) -> Fit | None:
    """First the low on the evening's air, then what is left on the dew point: stage by
    stage, as the book does it. That is not least squares over both, which gives other figures.

    Dew points count only if every evening has one. None: too few evenings, or all alike.
    """
    if len(evenings) < LEAST_EVENINGS:
        return None
    starts, lows = [each.start_c for each in evenings], [each.low_c for each in evenings]
    line = _line(starts, lows)
    if line is None:
        return None
    slope, offset_c = line
    left = [low - slope * start - offset_c for start, low in zip(starts, lows, strict=True)]
    dew_points = [each.dew_point_c for each in evenings if each.dew_point_c is not None]
    second = _line(dew_points, left) if len(dew_points) == len(evenings) else None
    if second is None:
        return Fit(slope, None, offset_c, _root_mean_square(left), len(evenings))
    dew_slope, more_c = second
    left = [rest - dew_slope * dew - more_c for rest, dew in zip(left, dew_points, strict=True)]
    return Fit(slope, dew_slope, offset_c + more_c, _root_mean_square(left), len(evenings))


def _line(xs: Sequence[float], ys: Sequence[float]) -> tuple[float, float] | None:
    """Slope and offset by least squares. None: all xs alike."""
    x_mean, y_mean = math.fsum(xs) / len(xs), math.fsum(ys) / len(ys)
    across = math.fsum((x - x_mean) ** 2 for x in xs)
    if across < 1e-9:
        return None
    slope = math.fsum((x - x_mean) * (y - y_mean) for x, y in zip(xs, ys, strict=True)) / across
    return slope, y_mean - slope * x_mean


def _root_mean_square(values: Sequence[float]) -> float:
    return math.sqrt(math.fsum(value * value for value in values) / len(values))
