"""A dawn that is left to the sun: what it takes.

Lives here: the strategy, the plants and the forecast without which nothing would come of it. Does
not live here: whether the forecast's own keys are whole (upkeep.py).
"""

from collections.abc import Iterator

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding
from greenkeeper.settings.schema import Settings

_KEY = "leave_dawn_to_sun"
# As control/dawn.py has it: half of less is not worth a word.
_LEAST_K = 0.1


def faults(settings: Settings) -> Iterator[Finding]:
    for zone_id, zone in settings.zones.items():
        heat = zone.heat
        if heat is None or not heat.leave_dawn_to_sun:
            continue
        path = ("zones", zone_id, "heat", _KEY)
        if heat.strategy != "proportion":
            leans_on = (("zones", zone_id, "heat", "strategy"),)
            found, allowed = f"true, with strategy: {heat.strategy}", "with strategy: proportion"
            yield Finding(path, found, allowed, leans_on=leans_on)
        if derived.plants_minimum_c(settings, zone_id) is None:
            found = "true, where no plant of the zone has a min_c"
            yield Finding(path, found, "with plants that say their min_c", leans_on=(("plants",),))
        if settings.forecast is None:
            hint = "Nothing else knows of the coming morning."
            allowed = "with forecast: in the settings"
            yield Finding(path, "true, and no forecast", allowed, hint)


def remarks(settings: Settings) -> Iterator[Finding]:
    """Where nothing could be let go, because nothing is in reserve."""
    for zone_id, zone in settings.zones.items():
        if zone.heat is None or not zone.heat.leave_dawn_to_sun:
            continue
        minimum_c = derived.plants_minimum_c(settings, zone_id)
        setpoint_c = derived.heat_setpoint_c(settings, zone_id, night=True)
        if minimum_c is not None and setpoint_c is not None and setpoint_c - minimum_c < _LEAST_K:
            path = ("zones", zone_id, "heat", _KEY)
            yield Finding(path, "lets nothing go: the setpoint is at the plants' minimum")
