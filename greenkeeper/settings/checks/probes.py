"""Probes beside each other: what a comparison of them needs to make sense."""

from collections.abc import Iterator

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding, is_written
from greenkeeper.settings.faults import number
from greenkeeper.settings.schema import Settings

# Air that is neither heated nor shone on may well stay within one step of a probe this long.
_SOONEST_FROZEN_S = 1800.0
_SOUND_APART_K = 1.0  # DS18B20 data sheet: each within 0.5 °C, from -10 to +85 °C


def faults(settings: Settings) -> Iterator[Finding]:
    for name, probe in settings.probes.items():
        if 0.0 < probe.frozen_s < _SOONEST_FROZEN_S:
            allowed = f"0 for never, or {number(_SOONEST_FROZEN_S)} or more (seconds)"
            hint = "Calm air may well stand still for a quarter of an hour."
            path = ("probes", name, "frozen_s")
            yield Finding(path, number(probe.frozen_s), allowed, hint)


def remarks(settings: Settings) -> Iterator[Finding]:
    yield from _nobody_to_compare_with(settings)
    yield from _single_probe_zones(settings)
    yield from _too_fine(settings)


def _nobody_to_compare_with(settings: Settings) -> Iterator[Finding]:
    for name, probe in settings.probes.items():
        written = [key for key in ("frozen_s", "frozen_k") if is_written(probe, key)]
        # Who switches the judgement off needs not be told that there is none.
        if not written or probe.frozen_s == 0.0 or derived.neighbours(settings, name):
            continue
        outdoors = name == settings.site.outdoor_probe
        hint = "Air outside may stand still while heat moves the air inside." if outdoors else ""
        found = f"{'the outdoor probe' if outdoors else 'the only probe'} is never called frozen"
        yield Finding(("probes", name, written[0]), found, hint=hint)


def _single_probe_zones(settings: Settings) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        for key in ("disagree_k", "disagree_s"):
            if len(zone.probes) == 1 and is_written(zone, key):
                yield Finding(("zones", zone_id, key), "counts only with two probes or more")


def _too_fine(settings: Settings) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        if zone.disagree_k < _SOUND_APART_K:
            found = f"{number(zone.disagree_k)} K is less than two sound probes may differ by"
            hint = f"Each may be half a kelvin off: {number(_SOUND_APART_K)} between them."
            yield Finding(("zones", zone_id, "disagree_k"), found, hint=hint)
