"""Degree days: how much warmth a spell of weather asks for, where nobody kept the hours.

Lives here: the UK's formulas for a day's low and high, and Hitchin's for a month's mean.
Does not live here: what a house makes of them (seasonal.py). Base and temperatures in °C,
results in K d: kelvin below (or above) the base, times days.
"""

import math
from typing import NamedTuple

# Per kelvin, for the UK: Hitchin 1983, as in CIBSE TM41:2006, from memory. It stands for the
# spread of a month's temperatures, 2.5 over their standard deviation (the same). Held in
# tests/house/test_degree_days.py against the published standard year.
HITCHIN_PER_K = 0.71

_SAME_K = 1e-6  # nearer the base than this, its limit is as good


class DegreeDays(NamedTuple):
    heating_kd: float
    cooling_kd: float


def of_day(low_c: float, high_c: float, base_c: float) -> DegreeDays:
    """A day's degree days from its low and high, by the UK Met Office's four cases.

    Source: UKCP09 FAQ 22715 and Degree Days Direct. In every case heating less cooling is
    the base less the mean. Raises ValueError for a high below the low.
    """
    if high_c < low_c:
        raise ValueError("a day's high lies below its low")
    mean_c = (low_c + high_c) / 2.0
    if high_c <= base_c:
        return DegreeDays(base_c - mean_c, 0.0)
    if low_c >= base_c:
        return DegreeDays(0.0, mean_c - base_c)
    above, below = high_c - base_c, base_c - low_c
    if mean_c <= base_c:
        return DegreeDays(below / 2.0 - above / 4.0, above / 4.0)
    return DegreeDays(below / 4.0, above / 2.0 - below / 4.0)


def of_month(mean_c: float, base_c: float, days: float, per_k: float = HITCHIN_PER_K) -> float:
    """A month's heating degree days from its mean alone, by Hitchin's formula.

    Some days of a month whose mean lies above the base are below it all the same: about
    42 K d in a month that lies right at it.
    """
    colder_k = base_c - mean_c
    if abs(colder_k) < _SAME_K:
        return days / per_k
    if per_k * colder_k < -500.0:  # beyond what exp can hold
        return 0.0
    return days * colder_k / -math.expm1(-per_k * colder_k)
