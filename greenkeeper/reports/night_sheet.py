"""A night, many nights, and winters, told in eighty columns.

Lives here: words and layout. Does not live here: the facts (night.py, winters.py).
"""

import textwrap
from collections.abc import Iterator, Sequence
from datetime import date

from greenkeeper.reports import words
from greenkeeper.reports.night import NEAR_K, Facts, Low, PlantNight, Ran, ZoneNight, is_of_years
from greenkeeper.reports.reminders import Reminder
from greenkeeper.reports.unheated import Unheated
from greenkeeper.reports.winters import NightSum, WinterSum
from greenkeeper.settings.schema import Settings
from greenkeeper.units import shown_c

_NAME = 22  # columns of the first
_WIDTH = 80
_A_NIGHT_S = 25 * 3600.0  # the longest
_BLINDNESS_S = 900.0  # a restart or a few failed readings take nothing from a verdict


def one(
    found: Facts,
    settings: Settings,
    title: str,
    without: Sequence[Unheated] = (),
    due: Sequence[Reminder] = (),
    *,
    unknown: str = "",
) -> list[str]:
    """One night or span, whole. without: what its zones would have come to without heat;
    unknown: why that is not known; due: covers and linings by season."""
    timezone = settings.site.timezone
    told = [f"{settings.site.name}, {title}"]
    for zone in found.zones:
        told += textwrap.wrap(verdict(zone), _WIDTH)
    told.append("")
    if settings.site.outdoor_probe is not None:
        told.append(_row("outdoors", _lowest(found.outdoor, found, timezone)))
    for zone in found.zones:
        told += _zone_lines(zone, found, timezone)
    told += [_row(each.output, ran_words(each, settings)) for each in found.ran]
    told += [
        _row("" if i else "without heat", _without(each, timezone))
        for i, each in enumerate(without)
    ]
    if unknown:
        told.append(_row("without heat", f"not known: {unknown}"))
    for i, each in enumerate(found.told):
        when = words.moment(each.utc_s, timezone, with_year=is_of_years(*found.span))
        told.append(_row("" if i else "told", f"{when} {each.subject}: {each.text}"))
    told += [_row("by season", each.text) for each in due]
    told += _record(found, timezone)
    return told


def verdict(zone: ZoneNight) -> str:
    """Whether the zone's plants were kept, in a sentence."""
    if zone.low is None:
        return f"{zone.name}: nothing was measured, so nobody knows."
    if zone.minimum_c is None:
        return f"{zone.name}: lowest {shown_c(zone.low.temp_c)}; no plant there has a minimum."
    spare_k = zone.low.temp_c - zone.minimum_c
    if spare_k < 0.0:
        return f"{zone.name}: fell {-spare_k:.1f} K below its tenderest plant's minimum."
    kept = f"{zone.name}: every plant stayed {spare_k:.1f} K or more above its minimum"
    if zone.unseen_s < _BLINDNESS_S:
        return f"{kept}."
    return f"{kept}, as far as was recorded: {words.duration(zone.unseen_s)} were not."


def _zone_lines(zone: ZoneNight, found: Facts, timezone: str) -> Iterator[str]:
    yield _row(zone.name, _lowest(zone.low, found, timezone, named=True))
    for plant in zone.plants:
        yield _row(f"  {plant.name}", f"minimum {shown_c(plant.min_c)}: {_plant(plant)}")
    bands = zone.bands
    if bands.below_s is not None and bands.near_s is not None and bands.seen_s:
        yield _row(
            "  hours",
            f"below the minimum {_hours(bands.below_s)}, "
            f"within {NEAR_K:.0f} K above it {_hours(bands.near_s)}, of {_hours(bands.seen_s)}",
        )
    if bands.above_s:
        yield _row("", f"above the maximum {_hours(bands.above_s)}")


def _plant(plant: PlantNight) -> str:
    if plant.below_k_h is None:
        return "not known"
    if plant.below_s == 0.0:
        return "never below it"
    return f"below it for {words.duration(plant.below_s)}, {plant.below_k_h:.1f} K\N{DOT OPERATOR}h"


def _lowest(low: Low | None, found: Facts, timezone: str, *, named: bool = False) -> str:
    if low is None:
        return "nothing was measured"
    when = words.moment(
        low.utc_s, timezone, with_day=_is_dated(found), with_year=is_of_years(*found.span)
    )
    about = "at" if low.within_s < 3600 else "in the hour from"
    by = f" ({low.probe})" if named else ""
    return f"lowest {shown_c(low.temp_c)} {about} {when}{by}"


def ran_words(ran: Ran, settings: Settings) -> str:
    if ran.on_s == 0.0 and ran.pulses == 0:
        return "never ran"
    times = "1 pulse" if ran.pulses == 1 else f"{ran.pulses} pulses"
    told = f"{words.duration(ran.on_s)} in {times}"
    if ran.kwh is not None:
        told += f", {ran.kwh:.2f} kWh"
    if ran.cost is not None and settings.tariff is not None:
        told += f", {ran.cost:.2f} {settings.tariff.currency}"
    return told


def _is_dated(found: Facts) -> bool:
    """Whether a time of day alone could be of more than one day."""
    return found.span.to_utc_s - found.span.from_utc_s > _A_NIGHT_S


def _without(each: Unheated, timezone: str) -> str:
    at = words.moment(each.night.low_utc_s, timezone, with_day=False)
    told = f"{each.zone} {shown_c(each.night.low_c)} by {at}, as reckoned"
    if each.needed is None:
        return told
    return f"{told}: heat was needed" if each.needed else f"{told}: its plants needed no heat"


def _record(found: Facts, timezone: str) -> Iterator[str]:
    if not found.gaps:
        yield _row("record", "complete" if found.step_s < 3600 else "by hours, complete")
        return
    dated, years = _is_dated(found), is_of_years(*found.span)
    for i, gap in enumerate(found.gaps):
        begin, end = (
            words.moment(utc_s, timezone, with_day=dated, with_year=years) for utc_s in gap
        )
        length = words.duration(gap.to_utc_s - gap.from_utc_s)
        yield _row("" if i else "record", f"nothing from {begin} to {end} ({length})")


# --- many nights ---------------------------------------------------------------------------


def nights(rows: Sequence[tuple[date, NightSum]], settings: Settings) -> list[str]:
    """One line for each night, named by its evening."""
    *heads, _ = night_heads(settings)
    zones = [max(8, min(10, len(zone) + 2)) for zone in settings.zones]
    widths = [10, *zones, 8, 8, 8]
    head = "".join(f"{_cut(text, wide):>{wide}}" for text, wide in zip(heads, widths, strict=True))
    lines = [
        f"{'evening':<12}{head}",
        f"{'':<12}{'°C':>10}" + "".join(f"{'°C':>{w}}" for w in zones) + f"{'h':>8}",
    ]
    for day, each in rows:
        *cells, remarks = night_cells(each, settings)
        bare = (text.removesuffix(" °C").removesuffix(" h") for text in cells)
        line = "".join(f"{text:>{wide}}" for text, wide in zip(bare, widths, strict=True))
        line = f"{day.strftime('%a %-d %b'):<12}{line}"
        if len(line) + 2 + len(remarks) <= _WIDTH:
            lines.append(f"{line}  {remarks}".rstrip())
        else:
            lines += [line, *textwrap.wrap(remarks, _WIDTH - 14, initial_indent=" " * 14)]
    return lines


def night_heads(settings: Settings) -> list[str]:
    """What the cells of a night are, the last one words."""
    return ["outdoors", *settings.zones, "heat", "kWh", _currency(settings), "remarks"]


def night_cells(each: NightSum, settings: Settings) -> list[str]:
    remarks = []
    if each.below:
        remarks.append(f"too cold: {', '.join(each.below)}")
    if not each.recorded_h:
        remarks.append("no record")
    elif each.recorded_h < each.hours - 1:
        remarks.append(f"{each.hours - each.recorded_h} h missing")
    if not each.is_over:
        remarks.append("not over yet")
    return [
        _temp(each.outdoor_low_c),
        *(_temp(each.zone_lows_c.get(zone)) for zone in settings.zones),
        _spent(each.heat_s),
        _number(each.kwh, 2),
        _number(each.cost, 2),
        "; ".join(remarks),
    ]


def winters(rows: Sequence[WinterSum], settings: Settings) -> list[str]:
    """This winter so far beside the last one up to the same day, and the last one whole."""
    return [
        f"{'':<28}" + "".join(f"{each.name:>17}" for each in rows),
        *(
            f"{label:<28}" + "".join(f"{text:>17}" for text in texts)
            for label, texts in winter_rows(rows, settings)
        ),
    ]


def winter_rows(rows: Sequence[WinterSum], settings: Settings) -> list[tuple[str, list[str]]]:
    """What is told of many nights: a label, and a text for each of the sums."""
    return [
        ("nights recorded", [f"{each.nights}" for each in rows]),
        ("of them with heat", [f"{each.with_heat}" for each in rows]),
        ("of them with frost outdoors", [_count(each.with_frost) for each in rows]),
        ("first frost, the night of", [_frost_day(each.first_frost) for each in rows]),
        ("last frost so far", [_frost_day(each.last_frost) for each in rows]),
        ("frost outdoors, K\N{DOT OPERATOR}h", [_number(each.frost_k_h, 0) for each in rows]),
        ("lowest outdoors", [_temp(each.outdoor_low_c) for each in rows]),
        *(
            (f"lowest in {zone}", [_temp(each.zone_lows_c.get(zone)) for each in rows])
            for zone in settings.zones
        ),
        ("nights below a minimum", [f"{each.below}" for each in rows]),
        ("hours of heat", [_spent(each.heat_s) for each in rows]),
        ("pulses of heat", [f"{each.pulses}" for each in rows]),
        ("kWh", [_number(each.kwh, 1) for each in rows]),
        (_currency(settings) or "cost", [_number(each.cost, 2) for each in rows]),
    ]


def _frost_day(day: str | None) -> str:
    return words.NOTHING if day is None else f"{date.fromisoformat(day):%-d %b %Y}"


def _row(name: str, text: str) -> str:
    """Filled to the width; a name too long for its column gets a line of its own."""
    label = f"  {name}"
    head = f"{label}\n" if len(label) >= _NAME + 2 else ""
    first = " " * (_NAME + 2) if head else f"{label:<{_NAME + 2}}"
    return head + textwrap.fill(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=" " * (_NAME + 2),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _cut(name: str, columns: int) -> str:
    return name if len(name) < columns else f"{name[: columns - 2]}\N{HORIZONTAL ELLIPSIS}"


def _hours(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    return f"{minutes // 60}:{minutes % 60:02d} h"


def _currency(settings: Settings) -> str:
    return "" if settings.tariff is None else settings.tariff.currency


def _temp(temp_c: float | None) -> str:
    return words.NOTHING if temp_c is None else shown_c(temp_c)


def _number(value: float | None, digits: int) -> str:
    return words.NOTHING if value is None else f"{value:.{digits}f}"


def _count(value: int | None) -> str:
    return words.NOTHING if value is None else f"{value}"


def _spent(seconds: float | None) -> str:
    return words.NOTHING if seconds is None else _hours(seconds)
