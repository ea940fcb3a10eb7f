"""What is wanted now: day or night, and the setpoint that follows.

Lives here: civil time, from the Now it is given. Does not live here: durations of any
kind. Night is a window that is tested afresh each tick, never an alarm set for its
edges, so a skipped or doubled hour does no harm.
"""

from datetime import UTC, datetime

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
    local = datetime.fromtimestamp(now.utc_s, UTC).astimezone(plan.timezone)
    minute = local.hour * 60 + local.minute
    if plan.night_from_minute <= plan.night_to_minute:
        return plan.night_from_minute <= minute < plan.night_to_minute
    return minute >= plan.night_from_minute or minute < plan.night_to_minute


def setpoint_c(points: Points, night: bool, clock_trusted: bool) -> float:
    if not clock_trusted:
        return points.unsure_c
    return points.night_c if night else points.day_c
