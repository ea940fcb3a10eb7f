"""Damp: what hygrometers and airing need beside them to have any effect."""

from collections.abc import Iterator

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding, celsius, is_written, written
from greenkeeper.settings.damp import Airing
from greenkeeper.settings.faults import Path, number
from greenkeeper.settings.schema import Settings

# As control/gear.py has it: a motor is given so much more than its measured time.
_TRAVEL_SHARE = 1.2


def faults(settings: Settings) -> Iterator[Finding]:
    for zone_id, air in _airings(settings):
        path = ("zones", zone_id, "air")
        yield from _needs(settings, zone_id, path)
        yield from _too_short(settings, air, path)


def remarks(settings: Settings) -> Iterator[Finding]:
    yield from _without_effect(settings)
    for zone_id, air in _airings(settings):
        minimum_c = derived.plants_minimum_c(settings, zone_id)
        least_c = air.outdoor_least_c
        if least_c is not None and minimum_c is not None and least_c < minimum_c:
            found = f"{celsius(least_c)} is below what the plants stand, {celsius(minimum_c)}"
            hint = "The probes cannot see what a draught does to the plant beside the vent."
            yield Finding(("zones", zone_id, "air", "outdoor_least_c"), found, hint=hint)
        if settings.site.outdoor_hygrometer is None:
            found = "outdoor air is taken to carry all the water it can"
            hint = "With site.outdoor_hygrometer it is aired more often."
            yield Finding(("zones", zone_id, "air"), found, hint=hint)


def _needs(settings: Settings, zone_id: str, path: Path) -> Iterator[Finding]:
    name = settings.zones[zone_id].hygrometer
    if name is None:
        leans_on: tuple[Path, ...] = (("zones", zone_id, "hygrometer"),)
        yield Finding(path, "no hygrometer in the zone", "it beside hygrometer:", "", leans_on)
    elif name in settings.hygrometers and settings.hygrometers[name].beside is None:
        leans_on = (("hygrometers", name, "beside"),)
        found = f"{name}, which hangs beside no probe"
        yield Finding(path, found, "a hygrometer with beside:", "", leans_on)
    if settings.site.outdoor_probe is None:
        leans_on = (("site", "outdoor_probe"),)
        hint = "Whether outdoor air can take up damp depends on how cold it is."
        yield Finding(path, "no outdoor probe", "it with site.outdoor_probe", hint, leans_on)
    if derived.airing_least_c(settings, zone_id) is None:
        leans_on = (("plants",), ("zones", zone_id, "heat"))
        allowed = "it where plants have a minimum, or the zone has heat"
        yield Finding(path, "nothing says how cold the zone may get", allowed, "", leans_on)


def _too_short(settings: Settings, air: Airing, path: Path) -> Iterator[Finding]:
    if air.output in settings.vents:
        least_s = _TRAVEL_SHARE * settings.vents[air.output].run_s
        of: Path = ("vents", air.output, "run_s")
        words = "the time the vent takes to open"
    elif air.output in settings.outputs:
        least_s = settings.outputs[air.output].min_on_s
        of, words = ("outputs", air.output, "min_on_s"), f"the min_on_s of {air.output}"
    else:
        return
    if air.for_s < least_s:
        allowed = f"at least {number(least_s)} (seconds), {words}"
        yield Finding((*path, "for_s"), written(air, "for_s"), allowed, leans_on=(of,))


def _without_effect(settings: Settings) -> Iterator[Finding]:
    used = {zone.hygrometer for zone in settings.zones.values()}
    used.add(settings.site.outdoor_hygrometer)
    for name, hygrometer in settings.hygrometers.items():
        if name not in used:
            yield Finding(("hygrometers", name), "in no zone", hint="It is recorded, no more.")
        elif hygrometer.beside is None:
            hint = "Name the probe at the same spot under beside:, best the same chip's."
            yield Finding(("hygrometers", name), "has no dew point", hint=hint)
    for zone_id, zone in settings.zones.items():
        if zone.hygrometer is None and is_written(zone, "damp"):
            yield Finding(("zones", zone_id, "damp"), "counts only with a hygrometer")


def _airings(settings: Settings) -> list[tuple[str, Airing]]:
    return [(zone_id, zone.air) for zone_id, zone in settings.zones.items() if zone.air is not None]
