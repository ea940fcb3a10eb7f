"""When a night is coldest outdoors, counted from sunrise.

Lives here: the offset and its uncertainty. Does not live here: when the sun rises.
"""

import math
from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

from greenkeeper.learned import Estimate, Figure, Unknown

LEAST_DAWNS = 5
AROUND_S = 3 * 3600.0  # a low further from sunrise came with another air mass
_SMOOTHED_MINUTES = 15
_LEAST_SHARE = 0.8  # of the minutes about sunrise must have been measured
_SHORTEST_SIGMA_S = 300.0
_MAD_TO_SIGMA = 1.4826  # of a normal distribution
_MEDIAN_OVER_MEAN = 1.2533  # of its standard error


class Dawn(NamedTuple):
    """Outdoors by minutes, from AROUND_S before sunrise to AROUND_S after it."""

    outdoor_c: Sequence[float | None]


def dawn_offset_s(dawns: Sequence[Dawn]) -> Figure:
    """The median of the mornings; a morning without a low inside its hours does not count."""
    offsets = [found for dawn in dawns if (found := _offset_s(dawn)) is not None]
    if len(offsets) < LEAST_DAWNS:
        return Unknown(
            f"{len(offsets)} mornings with their low near sunrise; it takes {LEAST_DAWNS}"
        )
    middle = median(offsets)
    apart = _MAD_TO_SIGMA * median(abs(offset - middle) for offset in offsets)
    sigma = _MEDIAN_OVER_MEAN * apart / math.sqrt(len(offsets))
    return Estimate(middle, max(sigma, _SHORTEST_SIGMA_S))


def _offset_s(dawn: Dawn) -> float | None:
    smooth = _smoothed(dawn.outdoor_c)
    known = [(temp_c, minute) for minute, temp_c in enumerate(smooth) if temp_c is not None]
    if not known or len(known) < _LEAST_SHARE * len(smooth):
        return None
    _, minute = min(known)
    at_an_end = min(minute, len(smooth) - 1 - minute) < _SMOOTHED_MINUTES
    return None if at_an_end else 60.0 * minute - AROUND_S


def _smoothed(minutes: Sequence[float | None]) -> list[float | None]:
    half = _SMOOTHED_MINUTES // 2
    found: list[float | None] = []
    for middle in range(len(minutes)):
        around = minutes[max(0, middle - half) : middle + half + 1]
        known = [temp_c for temp_c in around if temp_c is not None]
        found.append(sum(known) / len(known) if len(known) > half else None)
    return found
