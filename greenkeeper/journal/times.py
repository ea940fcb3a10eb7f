"""Minutes, hours and days of UTC, as the journal counts and writes them.

Lives here: arithmetic on POSIX seconds, which know no summer time. Does not live here:
civil time and nights (control/schedule.py).
"""

from datetime import UTC, datetime

MINUTE_S = 60
HOUR_S = 3600
DAY_S = 86_400


def minute_of(utc_s: float) -> int:
    """Start of the minute this moment lies in."""
    return int(utc_s // MINUTE_S) * MINUTE_S


def hour_of(utc_s: float) -> int:
    """Start of the hour this moment lies in."""
    return int(utc_s // HOUR_S) * HOUR_S


def utc_text(utc_s: float) -> str:
    """ISO 8601 in UTC: '2031-01-14T05:40:00Z', with milliseconds only where there are some."""
    moment = datetime.fromtimestamp(round(utc_s, 3), UTC)
    form = "seconds" if moment.microsecond == 0 else "milliseconds"
    return moment.isoformat(timespec=form).replace("+00:00", "Z")
