"""The purse: how many closings a relay has left, and the pulses that spend them evenly.

Lives here: what a year adds and a closing takes, and how long a pulse and a rest have to be
at least. Does not live here: when a pulse begins (proportion.py), how many closings a relay
is rated for (settings), how many it has made (guard.py counts them).
"""

from math import sqrt

from greenkeeper.control.plan import PulsePlan
from greenkeeper.model import Pulsing

_DAY_S = 86_400.0
# Of a year's closings, one in so many may be spent in a day of the heating season, and less as the
# root of what is left. Spent in proportion to it, most went in the first mild weeks, and the frosts
# after them got long pulses.
_LASTS_DAYS = 100.0
_YEAR_S = 365.25 * 86_400.0
LONGEST_PULSE_S = 1800.0

# What a period has to be multiplied with, as the mean of such a day: sqrt(share (1 - share)), half
# of its hours without heat. Found on drawn houses; where it is another one, the purse tells.
_USUAL_UNEVEN = 0.15


def counted(kept: Pulsing, pulses: PulsePlan, operations: int, poll_s: float) -> Pulsing:
    """The closings left, after those since the last tick. Without a limit nobody counts."""
    yearly = pulses.closings_a_year
    if yearly is None:
        return kept if kept.purse is None else kept._replace(purse=None)
    if kept.purse is None:
        return kept._replace(purse=yearly / 2.0, operations=operations)
    spent = max(0, operations - kept.operations)
    left = kept.purse + yearly * poll_s / _YEAR_S - spent
    return kept._replace(purse=min(yearly, max(0.0, left)), operations=operations)


def pulse_s(pulses: PulsePlan, purse: float | None, share: float) -> tuple[float, float]:
    """How long to be on and off at least, at this share of the time on.

    Without closings to save, as short as the output allows. Otherwise the period is the one
    that spends them evenly, and longer where pulse and rest are unequal: there it costs least.
    """
    yearly = pulses.closings_a_year
    if purse is None or yearly is None:
        return pulses.least_on_s, pulses.least_off_s
    scale_s = _USUAL_UNEVEN * _DAY_S / a_day(purse, yearly)
    by_rest = sqrt(max(share, 0.01) / max(1.0 - share, 0.01))
    longest_s = max(LONGEST_PULSE_S, pulses.least_on_s)
    return (
        max(pulses.least_on_s, min(longest_s, scale_s * by_rest)),
        max(pulses.least_off_s, min(longest_s, scale_s / by_rest)),
    )


def a_day(left: float, yearly: float) -> float:
    """How many closings may be spent in a day of the heating season."""
    return sqrt(max(left, 1.0) * max(yearly, 1.0)) / _LASTS_DAYS
