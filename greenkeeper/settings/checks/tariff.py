"""The tariff: no hour at two prices, and a price for every hour.

An hour without a price cannot be: what no list names costs tariff.per_kwh.
"""

from collections.abc import Iterator

from greenkeeper.settings.checks.finding import Finding, is_written
from greenkeeper.settings.faults import Path, number
from greenkeeper.settings.prices import (
    DAY_MINUTES,
    WEEKDAY,
    WEEKEND,
    kinds_of_day,
    minutes_of_day,
)
from greenkeeper.settings.schema import Settings, TariffHours

_WORDS = {WEEKDAY: "Monday to Friday", WEEKEND: "Saturday and Sunday"}


def faults(settings: Settings) -> Iterator[Finding]:
    tariff = settings.tariff
    if tariff is None:
        return
    for index, hours in enumerate(tariff.hours):
        path: Path = ("tariff", "hours", index)
        if hours.from_ == hours.to != "00:00":
            key = "to" if is_written(hours, "to") else "from"
            allowed = "two different times, or '00:00' twice for the whole day"
            yield Finding((*path, key), f"'{hours.to}' twice", allowed)
            continue
        for before, other in enumerate(tariff.hours[:index]):
            shared = _shared(hours, other)
            if shared is not None:
                allowed = f"hours that tariff.hours[{before + 1}] does not have"
                beside: Path = ("tariff", "hours", before)
                yield Finding(path, shared, allowed, leans_on=(beside,))
                break


def remarks(settings: Settings) -> Iterator[Finding]:
    tariff = settings.tariff
    if tariff is None or not tariff.hours:
        return
    named = {
        (kind, minute)
        for hours in tariff.hours
        for kind in kinds_of_day(hours)
        for minute in minutes_of_day(hours)
    }
    if len(named) == len(_WORDS) * DAY_MINUTES:
        found = f"{number(tariff.per_kwh)}, a price that never holds: hours names every hour"
        yield Finding(("tariff", "per_kwh"), found)


def _shared(hours: TariffHours, other: TariffHours) -> str | None:
    """The first hours that both have, in words."""
    theirs = set(minutes_of_day(other))
    for kind in kinds_of_day(hours):
        if kind not in kinds_of_day(other):
            continue
        ours = sorted(theirs.intersection(minutes_of_day(hours)))
        if ours:
            last = next(minute for minute in ours if minute + 1 not in ours)
            return f"{_clock(ours[0])} to {_clock(last + 1)}, {_WORDS[kind]}, a second time"
    return None


def _clock(minute: int) -> str:
    """The end of a day is 24:00 here."""
    return f"{minute // 60:02d}:{minute % 60:02d}"
