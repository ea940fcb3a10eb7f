"""What was rehearsed, as every sheet of `greenkeeper rehearse` begins.

Lives here: site, span and weather in words, and how figures are written. Does not live here:
what came of it (rehearse_sheet.py, rehearse_several.py).
"""

import textwrap
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import NamedTuple

from greenkeeper.house.records.record import Record
from greenkeeper.learned import Learned
from greenkeeper.rehearsal.run import Span
from greenkeeper.reports import weather_words, words
from greenkeeper.settings.schema import Settings

WIDTH = 80

_INVENTED_FORECASTS = (
    "Forecasts of clear dawns (leave_dawn_to_sun) are invented from this weather's own sun; real "
    "ones may be better or worse."
)


class About(NamedTuple):
    """What was rehearsed, beside its result."""

    settings: Settings
    weather_file: object  # a path, or None for the invented year
    record: Record | None
    span: Span
    learned: Learned | None = None  # what the keeper would go by

    @property
    def timezone(self) -> str:
        return self.settings.site.timezone


def head(about: About, *, foretold: bool = False) -> Iterator[str]:
    """foretold: what was rehearsed went by forecasts that no weather file holds."""
    days = (about.span.to_utc_s - about.span.from_utc_s) / 86_400.0
    yield (
        f"{about.settings.site.name}, {_day(about.span.from_utc_s, about)} to "
        f"{_day(about.span.to_utc_s - 1.0, about)}: {words.count(days, 'day')}, rehearsed"
    )
    yield from textwrap.wrap(_weather(about), WIDTH)
    if foretold:
        yield from textwrap.wrap(_INVENTED_FORECASTS, WIDTH)


def _weather(about: About) -> str:
    if about.record is None:
        whose = "of no real place"
        if about.settings.site.monthly_mean_c is not None:
            whose = "as warm on average as your months (site.monthly_mean_c)"
        return (
            f"Weather: invented, {whose}. It is good for comparing settings; for a bill, give "
            "your own place's with --weather FILE."
        )
    if about.record.place is None:
        return f"Weather: {about.weather_file}"
    place = about.record.place
    north = f"{abs(place.latitude):.1f}° {'N' if place.latitude >= 0 else 'S'}"
    east = f"{abs(place.longitude):.1f}° {'E' if place.longitude >= 0 else 'W'}"
    site = about.settings.site
    far = weather_words.far(place, site, f"your timezone ({site.timezone})")
    told = f"Weather: a typical year of {place.name} ({north}, {east}), {about.weather_file}"
    return f"{told}. {far}" if far else told


def kwh_words(kwh: float) -> str:
    """No digit that nobody could tell from weather to weather."""
    return words.figure(kwh, 1)


def cost_words(cost: float) -> str:
    return words.figure(cost, 2)


def local(utc_s: float, about: About) -> datetime:
    return datetime.fromtimestamp(utc_s, UTC).astimezone(about.settings.site.zone)


def _day(utc_s: float, about: About) -> str:
    return local(utc_s, about).strftime("%-d %b %Y")
