"""What a rehearsal comes down to, in a few sentences, and what to do about it.

Lives here: whether every plant was kept, and if not, for which of three reasons, each of
which asks for another remedy. Does not live here: tables (rehearse_sheet.py), any figure.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from greenkeeper.rehearsal.ledger import Hour, Result, ZoneFigures
from greenkeeper.reports import words
from greenkeeper.settings import derived
from greenkeeper.settings.schema import Heat, Plant, Settings
from greenkeeper.units import shown_c

_LOCKS = ("over-ceiling", "stuck-on", "runaway")  # what a person has to clear
_FULL = 0.95  # of the time: from here on a heater is at its limit
_SHOWN_K = 0.05  # less is no figure to act on


class _Cold(NamedTuple):
    """How long a zone was below its minimum, in seconds, and why."""

    locked_s: float
    at_limit_s: float
    dips_s: float
    deepest_dip_k: float


def paragraphs(result: Result, settings: Settings) -> list[str]:
    kept = [zone for zone in result.zones if zone.minimum_c is not None]
    found = [text for zone in kept if (text := _cold(zone, settings)) is not None]
    if kept and not found:
        found.append(_all_kept(kept, settings))
    found += [text for zone in result.zones if (text := _warm(zone, settings)) is not None]
    found += _locked(result, settings)
    return found


def _all_kept(zones: Sequence[ZoneFigures], settings: Settings) -> str:
    near = min(zones, key=lambda zone: zone.low_c - (zone.minimum_c or 0.0))
    by_k = near.low_c - (near.minimum_c or 0.0)
    return (
        f"Every plant was kept. {_tenderest(near, settings).name} in {near.name} came nearest "
        f"to its minimum of {shown_c(near.minimum_c or 0.0)}, and stayed {by_k:.1f} K above it."
    )


# --- too cold --------------------------------------------------------------------------


def _cold(zone: ZoneFigures, settings: Settings) -> str | None:
    if zone.minimum_c is None or zone.minimum_c - zone.low_c < _SHOWN_K:
        return None
    plant = _tenderest(zone, settings)
    text = (
        f"NOT KEPT: {zone.name} was below the {shown_c(zone.minimum_c)} of {plant.name} for "
        f"{words.duration(zone.below_s)}, by up to {zone.minimum_c - zone.low_c:.1f} K."
    )
    heat = settings.zones[zone.name].heat
    if heat is None:
        return f"{text} Nothing heats this zone."
    return " ".join([text, *_why(_reasons(zone, zone.minimum_c), zone, heat)])


def _reasons(zone: ZoneFigures, minimum_c: float) -> _Cold:
    locked_s = at_limit_s = dips_s = deepest_k = 0.0
    before: Sequence[Hour] = (zone.hours[0], *zone.hours)
    for last, hour in pairwise(before):
        if hour.below_s == 0.0:
            continue
        if hour.locked or last.locked:
            locked_s += hour.below_s
        elif max(hour.heated, last.heated) >= _FULL:
            at_limit_s += hour.below_s
        else:
            dips_s += hour.below_s
            deepest_k = max(deepest_k, minimum_c - hour.low_c)
    return _Cold(locked_s, at_limit_s, dips_s, deepest_k)


def _why(cold: _Cold, zone: ZoneFigures, heat: Heat) -> Iterator[str]:
    if cold.locked_s > 0.0:
        yield (
            f"In {words.duration(cold.locked_s)} of that all heat was locked out, until somebody "
            "came to clear it."
        )
    if cold.at_limit_s > 0.0:
        yield (
            f"In {words.duration(cold.at_limit_s)} of that the heater ran without a pause and was "
            "not enough: greenkeeper season says what a stronger one, or less loss, would do."
        )
    if cold.deepest_dip_k >= _SHOWN_K:
        whole = cold.locked_s == cold.at_limit_s == 0.0
        beginning = "The" if whole else f"In {words.duration(cold.dips_s)} of that the"
        yield f"{beginning} air dips so far before the heat arrives: {_higher(cold, zone, heat)}."


def _higher(cold: _Cold, zone: ZoneFigures, heat: Heat) -> str:
    by_k = math.ceil(round(10.0 * cold.deepest_dip_k, 6)) / 10.0
    where = f"zones.{zone.name}.heat"
    if heat.setpoint is not None:
        do = f"write {where}.margin_k: {heat.margin_k + by_k:.1f}"
    else:
        do = f"raise the setpoints of {where} by {by_k:.1f} K"
    if heat.strategy == "proportion":
        return do
    return f"{do}, or let heat come in proportion, which dips less (strategy: proportion)"


# --- too warm --------------------------------------------------------------------------


def _warm(zone: ZoneFigures, settings: Settings) -> str | None:
    if zone.maximum_c is None or zone.high_c - zone.maximum_c < _SHOWN_K:
        return None
    plant = min(
        (each for each in derived.plants_of(settings, zone.name) if each.max_c is not None),
        key=lambda each: each.max_c or 0.0,
    )
    return (
        f"TOO WARM: {zone.name} was above the {shown_c(zone.maximum_c)} that {plant.name} stands "
        f"for {words.duration(zone.above_s)}, by up to {zone.high_c - zone.maximum_c:.1f} K: "
        "shade it, or air it sooner."
    )


def _locked(result: Result, settings: Settings) -> Iterator[str]:
    """What it takes to live with lock-outs, which wait for a person."""
    if result.cleared == 0 or not any(each.code in _LOCKS for each in result.told):
        return
    times = "once" if result.cleared == 1 else f"{result.cleared} times"
    text = (
        f"All heat was locked out {times}, and the rehearsal had somebody clear it twelve hours "
        "later each time; in life it stays out until you do."
    )
    over = [each.subject for each in result.told if each.code == "over-ceiling"]
    if over:
        zone = over[0]
        text += (
            f" {zone} went over its ceiling of {shown_c(settings.zones[zone].ceiling_c)}: where "
            f"the sun does that, shade or open it by day, or write zones.{zone}.ceiling_clears: "
            "by-itself."
        )
    yield text


def _tenderest(zone: ZoneFigures, settings: Settings) -> Plant:
    plants = [
        plant for plant in derived.plants_of(settings, zone.name) if plant.lowest_c is not None
    ]
    return max(plants, key=lambda plant: plant.lowest_c or 0.0)
