"""Which cover or lining is due: to be hung, laid, taken down or left off, by season and frost.

Lives here: when a word is due, and the word. Does not live here: whether covers are worth
laying in one night (outlook/advice.py), what they save (season.py).

A lining goes by its days in the settings and by what really happens: frost that comes
before its first day, a fortnight without frost or heat before its last. Each word is said
for some days and then no more: what is told for ever is overlooked.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from greenkeeper.house.seasonal import day_of_year, in_force
from greenkeeper.journal.reader import Journal
from greenkeeper.reports import winters
from greenkeeper.settings.house import Improvement
from greenkeeper.settings.schema import Settings
from greenkeeper.units import shown_c

# Common practice, no source.
SOON_DAYS = 14  # to buy and hang it
LATE_DAYS = 7  # so long it is said after its day
QUIET_NIGHTS = 14  # without frost and without heat: the season is over
_SAID_NIGHTS = 7  # so long that is said
_FROST_C = 0.0


class Reminder(NamedTuple):
    cover: str  # its name in the settings
    text: str  # one sentence


class Lately(NamedTuple):
    """The nights before. None: not in the last three weeks, or not known."""

    frost: date | None  # the evening of the last night with frost outdoors
    quiet_nights: int | None  # since the last with frost or heat


def lately(journal: Journal, settings: Settings, evening: date) -> Lately:
    """evening: of the last night that is over. Raises JournalError."""
    reach = QUIET_NIGHTS + _SAID_NIGHTS
    until = evening + timedelta(days=1)
    rows = winters.by_night(journal, settings, until - timedelta(days=reach), until)
    frosty = [
        day
        for day, each in rows
        if each.outdoor_low_c is not None and each.outdoor_low_c < _FROST_C
    ]
    stirred = [day for day, each in rows if day in frosty or each.heat_s]
    known = all(each.recorded_h and each.outdoor_low_c is not None for _, each in rows)
    quiet = (evening - stirred[-1]).days if stirred and known else None
    return Lately(frosty[-1] if frosty else None, quiet)


def due(
    settings: Settings, today: date, before: Lately, least_c: float | None = None
) -> list[Reminder]:
    """least_c: how low the coming night may get outdoors, if somebody reckoned it."""
    house, found = settings.house, []
    for name, each in house.improvements.items():
        if not each.fitted and not each.nights_only:
            continue  # somebody thinks about it
        there = name in in_force(house, [name], day_of_year(today), dark=True)
        if each.from_ is not None and each.to is not None:
            first, last = _nearest(each.from_, today), _nearest(each.to, today)
            said = _seasonal(name, each, today, there, (first, last), before, least_c)
        else:
            said = _undated(name, each, today, before, least_c, settings)
        found += [Reminder(name, text) for text in said]
    return found


def _seasonal(
    name: str,
    each: Improvement,
    today: date,
    there: bool,
    season: tuple[date, date],
    before: Lately,
    least_c: float | None,
) -> Iterator[str]:
    """At most one sentence. season: its first and last day, each as near to today as may be."""
    first, last = season
    to_first, to_last = (first - today).days, (last - today).days
    hang, off = ("lay", "leave off") if each.nights_only else ("hang", "take down")
    if not there and least_c is not None and least_c < _FROST_C:
        yield (
            f"{_capital(hang)} {name} now: the night may fall to {shown_c(least_c)} outdoors, and "
            f"by the settings it is not there before {_day(first)}."
            if 0 < to_first < abs(to_last)
            else f"{_capital(hang)} {name} once more: the night may fall to {shown_c(least_c)} "
            f"outdoors, and its season ended on {_day(last)}."
        )
    elif not there and 0 < to_first <= SOON_DAYS:
        yield f"{_capital(hang)} {name} by {_day(first)}, in {_days(to_first)}."
    elif there and -LATE_DAYS < to_first <= 0:
        yield f"{_capital(name)} has its season since {_day(first)}: {hang} it, if you have not."
    elif not there and -LATE_DAYS < to_last < 0:
        yield f"{_capital(name)} had its last day on {_day(last)}: {off.replace(' ', ' it ', 1)}."
    elif there and 0 <= to_last <= SOON_DAYS and before.frost is not None:
        yield (
            f"{_capital(name)} has its last day on {_day(last)}, but there was frost in the night "
            f"of {_day(before.frost)}: do not hurry."
        )
    elif there and 0 <= to_last <= SOON_DAYS:
        yield f"{_capital(name)} has its last day on {_day(last)}, in {_days(to_last)}."
    elif there and to_last < -to_first and _is_quiet(before):
        yield (
            f"There was neither frost nor heat for {before.quiet_nights} nights: {name} may go "
            f"before {_day(last)}."
        )


def _undated(
    name: str,
    each: Improvement,
    today: date,
    before: Lately,
    least_c: float | None,
    settings: Settings,
) -> Iterator[str]:
    """A cover that is laid by night, all year as far as the settings say."""
    if not each.nights_only:
        return
    if least_c is not None and least_c < _FROST_C and before.frost is None:
        yield (
            f"Have {name} at hand: the night may fall to {shown_c(least_c)} outdoors, the first "
            "frost for three weeks."
        )
    elif _is_quiet(before) and _is_spring(today, settings):
        yield (
            f"There was neither frost nor heat for {before.quiet_nights} nights: {name} need not "
            "be laid any more."
        )


def _is_quiet(before: Lately) -> bool:
    return before.quiet_nights is not None and before.quiet_nights >= QUIET_NIGHTS


def _is_spring(today: date, settings: Settings) -> bool:
    """From a month after midwinter on, half a year."""
    southern = settings.site.latitude is not None and settings.site.latitude < 0.0
    months = range(8, 14) if southern else range(2, 8)
    return today.month in [(month - 1) % 12 + 1 for month in months]


def _nearest(day: str, today: date) -> date:
    """This day of the year, as near to today as may be."""
    month, of_month = (int(part) for part in day.split("-"))
    years = (today.year - 1, today.year, today.year + 1)
    return min((date(year, month, of_month) for year in years), key=lambda on: abs(on - today))


def _day(on: date) -> str:
    return f"{on:%-d %B}"


def _days(count: int) -> str:
    return "a day" if count == 1 else f"{count} days"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
