"""Thermostat: heat, cool, deadband and ceiling of one zone fit each other.

    heat on <= setpoint ... heat off ... deadband_k ... cool on ... ceiling_c
Heat goes off at setpoint + hysteresis_k; cooling at its setpoint - hysteresis_k, which
must not lie below heat-off, or the zone would cool what it has just heated.
"""

from collections.abc import Iterator
from typing import NamedTuple

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import SAME_K, Finding, celsius, is_written
from greenkeeper.settings.faults import NOTHING, Path, number
from greenkeeper.settings.schema import Settings, Zone


class Band(NamedTuple):
    """One zone's switching points in one part of the day, in °C; None: no such mode."""

    when: str  # " by day", " by night", or empty where both are the same
    night: bool
    heat_on_c: float | None
    heat_off_c: float | None
    cool_on_c: float | None
    cool_off_c: float | None


def bands(settings: Settings, zone_id: str) -> list[Band]:
    """One for the whole day where night changes nothing, else one for each."""
    day, night = (
        Band(
            when,
            at_night,
            derived.heat_setpoint_c(settings, zone_id, at_night),
            derived.heat_off_c(settings, zone_id, at_night),
            derived.cool_setpoint_c(settings, zone_id, at_night),
            derived.cool_off_c(settings, zone_id, at_night),
        )
        for when, at_night in ((" by day", False), (" by night", True))
    )
    return [day._replace(when="")] if day[2:] == night[2:] else [day, night]


def faults(settings: Settings) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        yield from _setpoint_choice(settings, zone_id, zone)
        for band in bands(settings, zone_id):
            yield from _gap(zone_id, zone, band)
            yield from _below_ceiling(zone_id, zone, band)
        yield from _ceiling_in_range(settings, zone_id, zone)


def remarks(settings: Settings) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        if zone.heat and zone.heat.setpoint is None and is_written(zone.heat, "margin_k"):
            path = ("zones", zone_id, "heat", "margin_k")
            yield Finding(path, "counts only with setpoint: from-plants")
    yield from _night_without_time_zone(settings)


def heat_path(zone_id: str, zone: Zone, night: bool) -> Path:
    """The key that decides where heat goes on."""
    heat = zone.heat
    if heat is not None and heat.setpoint is not None:
        return ("zones", zone_id, "heat", "setpoint")
    at_night = night and heat is not None and heat.night_setpoint_c is not None
    return ("zones", zone_id, "heat", "night_setpoint_c" if at_night else "setpoint_c")


def heat_leans(zone_id: str) -> tuple[Path, ...]:
    """All keys that a heating setpoint may come from."""
    keys = ("setpoint", "setpoint_c", "night_setpoint_c", "margin_k", "hysteresis_k")
    return (*(("zones", zone_id, "heat", key) for key in keys), ("plants",))


def cool_path(zone_id: str, zone: Zone, night: bool) -> Path:
    at_night = night and zone.cool is not None and zone.cool.night_setpoint_c is not None
    return ("zones", zone_id, "cool", "night_setpoint_c" if at_night else "setpoint_c")


def cool_leans(zone_id: str) -> tuple[Path, ...]:
    keys = ("setpoint_c", "night_setpoint_c", "hysteresis_k")
    return tuple(("zones", zone_id, "cool", key) for key in keys)


def _setpoint_choice(settings: Settings, zone_id: str, zone: Zone) -> Iterator[Finding]:
    heat = zone.heat
    path: Path = ("zones", zone_id, "heat")
    if heat is None:
        return
    leans_on = ((*path, "setpoint"), (*path, "setpoint_c"))
    if heat.setpoint is None:
        if heat.setpoint_c is None:
            yield Finding(path, NOTHING, "setpoint_c, or setpoint: from-plants", "", leans_on)
        return
    if heat.setpoint_c is not None:
        yield Finding(
            (*path, "setpoint"), "setpoint beside setpoint_c", "one of them", "", leans_on
        )
    if heat.night_setpoint_c is not None:
        found = f"{celsius(heat.night_setpoint_c)} beside setpoint: from-plants"
        hint = "Plants stand no less by night: from-plants holds day and night."
        allowed = "a night setpoint beside setpoint_c only"
        yield Finding((*path, "night_setpoint_c"), found, allowed, hint, leans_on)
    if derived.plants_minimum_c(settings, zone_id) is None:
        allowed = f"it with a plant in {zone_id} that has min_c or rating"
        leaning = (*leans_on, ("plants",))
        yield Finding((*path, "setpoint"), "from-plants, and no plant", allowed, "", leaning)


def _gap(zone_id: str, zone: Zone, band: Band) -> Iterator[Finding]:
    if band.heat_off_c is None or band.cool_on_c is None or band.cool_off_c is None:
        return
    leans_on = (*heat_leans(zone_id), *cool_leans(zone_id), ("zones", zone_id, "deadband_k"))
    heat_off = f"Heat goes off at {celsius(band.heat_off_c)}{band.when}"
    if band.cool_on_c - band.heat_off_c < zone.deadband_k - SAME_K:
        path = cool_path(zone_id, zone, band.night)
        least = celsius(band.heat_off_c + zone.deadband_k)
        hint = f"{heat_off}, and deadband_k ({number(zone.deadband_k)} K) must lie between."
        yield Finding(path, celsius(band.cool_on_c), f"{least} or more", hint, leans_on)
    elif band.cool_off_c < band.heat_off_c - SAME_K:
        path = ("zones", zone_id, "cool", "hysteresis_k")
        most = f"at most {number(band.cool_on_c - band.heat_off_c)} (kelvin)"
        hint = f"{heat_off}, cooling only at {celsius(band.cool_off_c)}: one would undo the other."
        yield Finding(path, number(band.cool_on_c - band.cool_off_c), most, hint, leans_on)


def _below_ceiling(zone_id: str, zone: Zone, band: Band) -> Iterator[Finding]:
    ceiling: Path = ("zones", zone_id, "ceiling_c")
    below = f"below the ceiling_c of {celsius(zone.ceiling_c)}"
    if band.heat_off_c is not None and band.heat_off_c >= zone.ceiling_c - SAME_K:
        path = heat_path(zone_id, zone, band.night)
        found = f"heat-off at {celsius(band.heat_off_c)}{band.when}"
        yield Finding(path, found, below, leans_on=(*heat_leans(zone_id), ceiling))
    if band.cool_on_c is not None and band.cool_on_c >= zone.ceiling_c - SAME_K:
        path = cool_path(zone_id, zone, band.night)
        found = f"cool-on at {celsius(band.cool_on_c)}"
        yield Finding(path, found, below, leans_on=(*cool_leans(zone_id), ceiling))


def _ceiling_in_range(settings: Settings, zone_id: str, zone: Zone) -> Iterator[Finding]:
    """A probe that is out of range is no longer trusted, and could not trip the ceiling."""
    for name in derived.ceiling_probes(settings, zone_id):
        probe = settings.probes.get(name)
        if probe is not None and zone.ceiling_c >= probe.highest_c:
            allowed = f"below {celsius(probe.highest_c)}, the highest_c of {name}"
            hint = "Above its highest_c a probe is not believed: it could not lock heat out."
            path = ("zones", zone_id, "ceiling_c")
            leans_on = (("probes", name, "highest_c"),)
            yield Finding(path, celsius(zone.ceiling_c), allowed, hint, leans_on)


def _night_without_time_zone(settings: Settings) -> Iterator[Finding]:
    differs = any(len(bands(settings, zone_id)) > 1 for zone_id in settings.zones)
    if differs and not is_written(settings.site, "timezone"):
        hint = "Night setpoints follow civil time: name your zone, such as Europe/Brussels."
        yield Finding(("site",), "no timezone, so night goes by UTC", hint=hint)
