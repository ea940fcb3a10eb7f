"""What is wanted now: day or night, and the setpoint that follows.

Lives here: civil time, from the Now it is given. Does not live here: durations of any
kind. Night is a window that is tested afresh each tick, never an alarm set for its
edges, so a skipped or doubled hour does no harm.
"""

from datetime import UTC, datetime, tzinfo
from functools import lru_cache

from greenkeeper.control.plan import Plan, Points
from greenkeeper.model import Now

DAY = "day"
NIGHT = "night"


def is_night(plan: Plan, now: Now) -> bool:
    """Whether civil time lies in the night window; it may cross midnight.

    Until the clock is trusted it counts as night, the careful choice.
    """
    if not now.clock_trusted:
        return True
    minute = _minute_of_day(plan.timezone, int(now.utc_s // 60.0))
    if plan.night_from_minute <= plan.night_to_minute:
        return plan.night_from_minute <= minute < plan.night_to_minute
    return minute >= plan.night_from_minute or minute < plan.night_to_minute


@lru_cache(maxsize=16)  # six ticks fall into the same minute
def _minute_of_day(timezone: tzinfo, utc_minute: int) -> int:
    local = datetime.fromtimestamp(utc_minute * 60, UTC).astimezone(timezone)
    return local.hour * 60 + local.minute


def setpoint_c(
    points: Points,
    night: bool,
    clock_trusted: bool,
    ordered_c: float | None = None,
    shifted_k: float = 0.0,
) -> float:
    """ordered_c: one that somebody ordered for a while; it needs no civil time.
    shifted_k: how far it is moved for a while (shifts.py), by the clock's hours."""
    if ordered_c is not None:
        return ordered_c
    if not clock_trusted:
        return points.unsure_c
    return (points.night_c if night else points.day_c) + shifted_k
