"""The outlook in eighty columns.

Lives here: words and layout. Does not live here: the figures (outlook.py).
"""

import textwrap
from collections.abc import Iterator, Sequence

from greenkeeper.outlook.advice import LEAST_KWH
from greenkeeper.outlook.ahead import Night
from greenkeeper.outlook.course import EVENING, FORECAST, NIGHTS
from greenkeeper.reports import outlook_score, words
from greenkeeper.reports.outlook import Outlook
from greenkeeper.reports.outlook_score import Scored, Worth
from greenkeeper.settings.schema import Settings
from greenkeeper.units import shown, shown_c

_NAME = 22
_WIDTH = 80
_SHOWN_K = 0.05
_WAYS = (
    (FORECAST, "by forecast"),
    (NIGHTS, "by the last nights"),
    (EVENING, "by the evening's air"),
)


def sheet(zones: Sequence[Outlook], settings: Settings) -> list[str]:
    """Of every zone that was looked ahead for, the first of them first."""
    first, timezone = zones[0], settings.site.timezone
    told = [title(first, timezone), ""]
    for each in zones:
        told += textwrap.wrap(said(each, alone=len(zones) == 1), _WIDTH)
    told += ["", *_outdoors(first, timezone)]
    for each in zones:
        told += _inside(each, settings, timezone)
    for reminder in first.reminders:
        told += _rows("by season", reminder.text)
    for note in first.notes:
        told += _rows("note", note)
    told += _rows("the house", f"{first.house}: {first.loss_w_per_k:.0f} W/K")
    return told


def title(found: Outlook, timezone: str) -> str:
    return f"{found.site}, the night from {words.moment(found.sunset_utc_s, timezone)} on"


def said(found: Outlook, *, alone: bool) -> str:
    """The advice; of several zones each with its name."""
    return found.advice.text if alone else f"{found.zone}: {found.advice.text}"


def _outdoors(found: Outlook, timezone: str) -> Iterator[str]:
    least_c, most_c = found.outdoor_band_c
    at = words.moment(found.outdoor_low.utc_s, timezone, with_day=False)
    yield _row("outdoors", f"{shown_c(found.outdoor_c)} now")
    yield _row("  lowest", f"{shown_c(found.outdoor_low.temp_c)} about {at}")
    yield _row("", f"{shown_c(least_c)} to {shown_c(most_c)} eight nights in ten")
    yield from _rows("  reckoned by", found.source)
    if found.morning is not None:
        yield _row("  at sunrise", f"{found.morning.cloud_share:.0%} of the sky clouded")


def _inside(found: Outlook, settings: Settings, timezone: str) -> Iterator[str]:
    ways, covers = found.ways, found.limits.covers
    yield _row(found.zone, f"{shown_c(found.inside_c)} now")
    yield _row("  without heat", _night(ways.cold, timezone))
    if ways.kept is not None:
        yield from _rows("  with the heater", _heated(ways.kept, found, settings, timezone))
    if ways.covered_cold is not None:
        yield _row(f"  under {covers}"[: _NAME - 1], _night(ways.covered_cold, timezone))
    if ways.covered_kept is not None:
        kept = _heated(ways.covered_kept, found, settings, timezone)
        yield from _rows("    and heated", kept)
    if found.inside_band_c is not None:
        least_c, most_c = found.inside_band_c
        yield _row(
            "  eight nights in ten", f"{shown_c(least_c)} to {shown_c(most_c)}, as it stands"
        )
    yield _row("  one night in ten", f"{shown_c(ways.harsh.low_c)}, as it stands")
    yield _row("  limit", found.limits.wants)


def _night(night: Night, timezone: str) -> str:
    return f"{shown_c(night.low_c)} by {words.moment(night.low_utc_s, timezone, with_day=False)}"


def _heated(night: Night, found: Outlook, settings: Settings, timezone: str) -> str:
    if night.kwh < LEAST_KWH:
        return "not needed"
    if found.hold_c is not None and not night.limit_s:
        told = f"held at {shown_c(found.hold_c)}"
        if night.low_c < found.hold_c - _SHOWN_K:
            told += f", dips to {shown_c(night.low_c)}"
    else:
        told = _night(night, timezone)
    told += f", {night.kwh:.1f} kWh"
    if night.cost is not None and settings.tariff is not None:
        told += f", {night.cost:.2f} {settings.tariff.currency}"
    if night.limit_s:
        told += f", at its limit for {words.duration(night.limit_s)}"
    return told


def _rows(name: str, text: str) -> Iterator[str]:
    for line in textwrap.wrap(text, _WIDTH - _NAME - 2):
        yield _row(name, line)
        name = ""


def _row(name: str, text: str) -> str:
    return f"  {name:<{_NAME}}{text}"


def score(past: Sequence[Scored], settings: Settings) -> list[str]:
    """The outlooks of late, and what came."""
    if not past:
        return ["No outlook has been kept yet whose night is over: greenkeeper tonight --keep"]
    zones = list(dict.fromkeys(each.said.zone for each in past))
    told = [f"{'':<19}{'outdoors':>24}{'at the plants':>24}"]
    told.append(f"{'made':<19}{'said':>8}{'came':>8}{'off':>8}{'said':>8}{'came':>8}{'off':>8}")
    for each in past:
        when = words.moment(each.said.made_utc_s, settings.site.timezone)
        outside = _pair(each.said.outdoor_low_c, each.outdoor_c)
        line = f"{when:<19}{outside}{_pair(each.said.inside_low_c, each.inside_c)}"
        told.append(line if len(zones) == 1 else f"{line}  {each.said.zone[:11]}")
    return [*told, "", *worths(past)]


def worths(past: Sequence[Scored]) -> list[str]:
    """What each way of reckoning was worth, a sentence for each that was used."""
    zones = list(dict.fromkeys(each.said.zone for each in past))
    told: list[str] = []
    for kind, name in _WAYS:
        mine = [each for each in past if each.said.source == kind]
        told += _worth(f"outdoors, {name}", outlook_score.outdoors(mine))
        for zone in zones:
            there = "at the plants" if len(zones) == 1 else zone
            own = [each for each in mine if each.said.zone == zone]
            told += _worth(f"{there}, {name}", outlook_score.inside(own))
    return told


def _pair(said_c: float, came_c: float | None) -> str:
    cells = [shown(said_c), words.NOTHING, words.NOTHING]
    if came_c is not None:
        cells[1:] = [shown(came_c), shown(came_c - said_c, signed=True)]
    return "".join(f"{cell:>8}" for cell in cells)


def _worth(name: str, found: Worth | None) -> Iterator[str]:
    if found is None:
        return
    within = "" if found.within is None else f", {100.0 * found.within:.0f} % inside the band"
    yield (
        f"{name}: {found.nights} nights, {found.error_k:.1f} K out on average, "
        f"{shown(found.bias_k, signed=True)} K bias{within}"
    )
