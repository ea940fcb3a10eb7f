"""Two heaters for one zone, and the circuit that feeds all of them.

Lives here: a second heater is another one and belongs to one zone alone; what the circuit
bears is enough for every zone's heater, and known of each. Does not live here: an output's
other jobs (roles.py), and whether a name exists (names.py).
"""

from collections.abc import Iterator

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding, is_written
from greenkeeper.settings.faults import Path, number
from greenkeeper.settings.schema import Heat, Settings


def faults(settings: Settings) -> Iterator[Finding]:
    yield from _one_zone_alone(settings)
    yield from _circuit(settings)


def remarks(settings: Settings) -> Iterator[Finding]:
    for zone_id, heat in _heats(settings):
        path = ("zones", zone_id, "heat")
        if heat.second_output is None:
            if is_written(heat, "take_turns"):
                yield Finding((*path, "take_turns"), "counts only beside second_output")
        elif not derived.bears_both(settings, heat):
            found = (
                f"{heat.output} and {heat.second_output} together are more than the circuit of "
                f"{number(settings.site.circuit_w or 0.0)} W bears: they are never on at once"
            )
            hint = "One takes the other's place when that gives no heat, and no more."
            yield Finding((*path, "second_output"), found, hint=hint)


def _one_zone_alone(settings: Settings) -> Iterator[Finding]:
    """Otherwise one zone could hold a heater back that another is waiting for."""
    used = [
        ((("zones", zone_id, "heat", key)), zone_id, name)
        for zone_id, heat in _heats(settings)
        for key, name in (("output", heat.output), ("second_output", heat.second_output))
        if name is not None
    ]
    for zone_id, heat in _heats(settings):
        path: Path = ("zones", zone_id, "heat", "second_output")
        if heat.second_output is None:
            continue
        if heat.second_output == heat.output:
            leans_on = (("zones", zone_id, "heat", "output"),)
            yield Finding(path, f"{heat.output} again", "another heater", leans_on=leans_on)
        for other_path, other, name in used:
            if other != zone_id and name in (heat.output, heat.second_output):
                found = f"{name}, which zones.{other} heats with too"
                allowed = "two heaters that heat this zone alone"
                yield Finding(path, found, allowed, leans_on=(other_path,))


def _circuit(settings: Settings) -> Iterator[Finding]:
    most_w = settings.site.circuit_w
    if most_w is None:
        return
    path: Path = ("site", "circuit_w")
    silent = [name for name in derived.heaters(settings) if settings.outputs[name].power_w is None]
    for name in silent:
        allowed = "a heater with power_w, as site.circuit_w is to be kept"
        hint = "The rated power in watts, such as power_w: 1200."
        yield Finding(("outputs", name), "no power_w", allowed, hint, (path,))
    least_w = derived.least_circuit_w(settings)
    if not silent and least_w > most_w:
        allowed = f"at least {number(least_w)} (watts), what one heater of each zone takes"
        hint = "Less would let one zone freeze while another is heated."
        leans_on = tuple(("outputs", name, "power_w") for name in derived.heaters(settings))
        yield Finding(path, number(most_w), allowed, hint, leans_on)


def _heats(settings: Settings) -> list[tuple[str, Heat]]:
    return [
        (zone_id, zone.heat) for zone_id, zone in settings.zones.items() if zone.heat is not None
    ]
