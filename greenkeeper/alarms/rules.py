"""The owner's wishes about being told, boiled down from the settings.

Lives here: what follows from the `alarms:` group, and whether a moment is quiet. Does
not live here: deciding by it (ledger.py). Pure.
"""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime, tzinfo
from typing import NamedTuple

from greenkeeper.errors import Level
from greenkeeper.model import Now
from greenkeeper.settings.derived import plants_maximum_c, plants_minimum_c
from greenkeeper.settings.schema import Settings

_LEVELS = {"notice": Level.NOTICE, "warning": Level.WARNING, "alarm": Level.ALARM}


class Rules(NamedTuple):
    site: str
    timezone: tzinfo
    tell_from: Level  # below this nobody is told
    quiet: tuple[int, int] | None  # from and to, minutes of the day; None: never quiet
    gather_s: float  # what is below an alarm waits so long for more of its kind
    repeat_s: float  # an alarm is told again this often until somebody has seen it
    over_after_s: float  # gone for so long counts as over
    most_an_hour: int  # letters, but for the first word of an alarm
    minimum_c: Mapping[str, float]  # by zone: its tenderest plant's
    maximum_c: Mapping[str, float]


def make_rules(settings: Settings) -> Rules:
    """Raises ValueError without an alarms group."""
    alarms = settings.alarms
    if alarms is None:
        raise ValueError("the settings tell nobody")
    quiet = alarms.quiet
    return Rules(
        site=settings.site.name,
        timezone=settings.site.zone,
        tell_from=_LEVELS[alarms.tell_from],
        quiet=None if quiet is None else (quiet.from_minute, quiet.to_minute),
        gather_s=alarms.gather_s,
        repeat_s=alarms.repeat_s,
        over_after_s=alarms.over_after_s,
        most_an_hour=alarms.most_an_hour,
        minimum_c=_limits(settings, plants_minimum_c),
        maximum_c=_limits(settings, plants_maximum_c),
    )


def is_quiet(rules: Rules, now: Now) -> bool:
    """Whether only an alarm may disturb. While civil time is unknown nothing is held back."""
    if rules.quiet is None or not now.clock_trusted:
        return False
    local = datetime.fromtimestamp(now.utc_s, UTC).astimezone(rules.timezone)
    minute, (begin, end) = local.hour * 60 + local.minute, rules.quiet
    return begin <= minute < end if begin <= end else minute >= begin or minute < end


def _limits(
    settings: Settings, limit_c: Callable[[Settings, str], float | None]
) -> dict[str, float]:
    found = {zone: limit_c(settings, zone) for zone in settings.zones}
    return {zone: temp_c for zone, temp_c in found.items() if temp_c is not None}
