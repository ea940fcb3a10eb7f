"""Names: everything referred to exists, and what exists is referred to."""

from collections.abc import Collection, Iterator
from typing import NamedTuple

from greenkeeper.settings.checks.finding import Finding, listed
from greenkeeper.settings.faults import Path, plain
from greenkeeper.settings.guesses import did_you_mean, nearest
from greenkeeper.settings.schema import Settings


class Names(NamedTuple):
    """The names the owner has chosen, those of faulty groups among them."""

    probes: Collection[str]
    outputs: Collection[str]
    zones: Collection[str]
    vents: Collection[str]
    hygrometers: Collection[str]


def faults(settings: Settings, chosen: Names) -> Iterator[Finding]:
    yield from _unknown_probes(settings, chosen.probes)
    yield from _repeated_probes(settings)
    yield from _unknown_outputs(settings, chosen)
    yield from _unknown_zones(settings, chosen.zones)
    yield from _hygrometers(settings, chosen)
    yield from _unknown_subjects(settings, chosen)


def remarks(settings: Settings) -> Iterator[Finding]:
    yield from _unused_probes(settings)
    yield from _idle_zones(settings)
    yield from _outdoors_in_a_zone(settings)


def _unknown_probes(settings: Settings, known: Collection[str]) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        for index, name in enumerate(zone.probes):
            if name not in known:
                yield _unknown(("zones", zone_id, "probes", index), name, "probes", known)
    outdoor = settings.site.outdoor_probe
    if outdoor is not None and outdoor not in known:
        yield _unknown(("site", "outdoor_probe"), outdoor, "probes", known)


def _repeated_probes(settings: Settings) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        for index, name in enumerate(zone.probes):
            if name in zone.probes[:index]:
                path = ("zones", zone_id, "probes", index)
                yield Finding(path, f"{name} again", "each probe once in a zone")


def _unknown_outputs(settings: Settings, chosen: Names) -> Iterator[Finding]:
    for path, name in _named_outputs(settings):
        if name not in chosen.outputs:
            yield _unknown(path, name, "outputs", chosen.outputs)
    for zone_id, zone in settings.zones.items():
        for key, part in (("cool", zone.cool), ("air", zone.air)):
            if part is not None and part.output not in {*chosen.outputs, *chosen.vents}:
                path = ("zones", zone_id, key, "output")
                yield _unknown(path, part.output, "outputs", chosen.outputs, chosen.vents)


def _unknown_zones(settings: Settings, known: Collection[str]) -> Iterator[Finding]:
    for index, plant in enumerate(settings.plants):
        if plant.zone not in known:
            yield _unknown(("plants", index, "zone"), plant.zone, "zones", known)


def _hygrometers(settings: Settings, chosen: Names) -> Iterator[Finding]:
    for name in settings.hygrometers:
        if name in chosen.probes:
            found = f"{name}, which is a probe's name too"
            hint = "Messages and the record call both by their names."
            yield Finding(("hygrometers", name), found, "a name of its own", hint)
    named: list[tuple[Path, str | None]] = [
        (("site", "outdoor_hygrometer"), settings.site.outdoor_hygrometer),
        *((("zones", id_, "hygrometer"), zone.hygrometer) for id_, zone in settings.zones.items()),
    ]
    for path, hygrometer in named:
        if hygrometer is not None and hygrometer not in chosen.hygrometers:
            yield _unknown(path, hygrometer, "hygrometers", chosen.hygrometers)
    for name, each in settings.hygrometers.items():
        beside = each.beside
        if beside is not None and beside not in chosen.probes:
            yield _unknown(("hygrometers", name, "beside"), beside, "probes", chosen.probes)


def _unknown_subjects(settings: Settings, chosen: Names) -> Iterator[Finding]:
    """What contacts are about: a zone's door, a heater's everything else."""
    for name, contact in settings.inputs.items():
        section = "zones" if contact.tells == "door-open" else "outputs"
        known = chosen.zones if section == "zones" else chosen.outputs
        if contact.of is not None and contact.of not in known:
            found = _unknown(("inputs", name, "of"), contact.of, section, known)
            yield found._replace(leans_on=(*found.leans_on, ("inputs", name, "tells")))


def _unused_probes(settings: Settings) -> Iterator[Finding]:
    used = {name for zone in settings.zones.values() for name in zone.probes}
    for name in settings.probes:
        if name not in used and name != settings.site.outdoor_probe:
            hint = "It is recorded, and counts for the ceilings of every zone, no more."
            yield Finding(("probes", name), "in no zone, and not site.outdoor_probe", hint=hint)


def _idle_zones(settings: Settings) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        if zone.heat is None and zone.cool is None:
            yield Finding(("zones", zone_id), "neither heat nor cool: it is only watched")


def _outdoors_in_a_zone(settings: Settings) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        for index, name in enumerate(zone.probes):
            if name == settings.site.outdoor_probe:
                path = ("zones", zone_id, "probes", index)
                found = f"{name} is the outdoor probe, and this zone's too"
                yield Finding(path, found, hint="Heat would follow the air outside.")


def _named_outputs(settings: Settings) -> Iterator[tuple[Path, str]]:
    """Where a name must be an output's. What cools may be a vent as well."""
    for zone_id, zone in settings.zones.items():
        if zone.heat is not None:
            yield ("zones", zone_id, "heat", "output"), zone.heat.output
            if zone.heat.second_output is not None:
                yield ("zones", zone_id, "heat", "second_output"), zone.heat.second_output
            if zone.heat.with_ is not None:
                yield ("zones", zone_id, "heat", "with"), zone.heat.with_
    for vent_id, vent in settings.vents.items():
        yield ("vents", vent_id, "open"), vent.open
        yield ("vents", vent_id, "close"), vent.close
    for name, output in settings.outputs.items():
        for index, heater in enumerate(output.isolates):
            yield ("outputs", name, "isolates", index), heater


def _unknown(
    path: Path, name: str, section: str, known: Collection[str], vents: Collection[str] = ()
) -> Finding:
    names = sorted(map(plain, {*known, *vents}))
    where = f"{section} or vents" if vents else section
    allowed = f"a name under {where} ({listed(names)})" if names else "one you define"
    return Finding(path, name, allowed, did_you_mean(nearest(name, names)), ((section, name),))
