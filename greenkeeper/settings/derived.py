"""What follows from several keys together: the setpoints and limits a zone really has.

Lives here: pure questions about checked settings, asked by control, check and the
reports alike, so that none of them works a setpoint out in its own way. Does not live
here: whether the answers are sensible (rules.py), nor when it is night (control).
Every temperature is in °C. None means: the zone has no such limit, never a number.
"""

import math
from collections.abc import Iterator
from enum import StrEnum

from greenkeeper.settings.schema import Heat, Plant, Settings
from greenkeeper.settings.switches import GpioOutput

CEILING_RELEASE_K = 5.0  # so far below the ceiling a trip may go
FARTHEST_K = 10.0  # see alone_k

# Under `strategy: proportion` heat is never wanted from so far above its setpoint on. The plants
# would not come to harm there; it is the bound on what a wrong guess of the house may cost.
ABOVE_K = 3.0

# Heat that is put in ahead stays so far below what a vent opens at, and what plants stand.
AHEAD_CLEAR_K = 2.0

# The hysteresis of a plain switch, which savings are told against.
PLAIN_K = 1.0

# Of an output that heats, where the settings do not say. A heater that is big enough does
# not run through a winter's night without a pause: twelve hours of it are worth a word.
LONGEST_HEAT_S = 12 * 3600.0


class Switching(StrEnum):
    """Ways of switching heat that are told of side by side."""

    PLAIN = "plain"  # hysteresis of PLAIN_K
    SET = "set"  # as the settings have it, where that is neither of the others
    PROPORTION = "proportion"


def plants_of(settings: Settings, zone_id: str) -> Iterator[Plant]:
    """The plants that stand in this zone, in the file's order."""
    return (plant for plant in settings.plants if plant.zone == zone_id)


def plants_minimum_c(settings: Settings, zone_id: str) -> float | None:
    """The tenderest plant's minimum: the highest among the zone's plants."""
    stated = (plant.lowest_c for plant in plants_of(settings, zone_id))
    return max((lowest_c for lowest_c in stated if lowest_c is not None), default=None)


def plants_maximum_c(settings: Settings, zone_id: str) -> float | None:
    """The maximum of the plant that suffers first: the lowest among the zone's plants."""
    stated = (plant.max_c for plant in plants_of(settings, zone_id))
    return min((max_c for max_c in stated if max_c is not None), default=None)


def ceiling_probes(settings: Settings, zone_id: str) -> tuple[str, ...]:
    """Whose warmest reading the zone's ceiling watches: its own and those in no zone.

    The outdoor probe is not among the latter.
    """
    placed = {name for zone in settings.zones.values() for name in zone.probes}
    free = (name for name in settings.probes if name not in placed)
    inside = (name for name in free if name != settings.site.outdoor_probe)
    return (*settings.zones[zone_id].probes, *inside)


def is_tented(settings: Settings, zone_id: str) -> bool:
    """Whether it lies under an inner cover, in an air of its own."""
    tent = settings.house.tent
    return tent is not None and tent.zone == zone_id


def house_zone(settings: Settings) -> str | None:
    """Whose probes measure the house's own air: the first heated zone that is under no tent,
    else the first of those. None: every zone is under the tent."""
    outside = [name for name in settings.zones if not is_tented(settings, name)]
    heated = [name for name in outside if settings.zones[name].heat is not None]
    return next(iter(heated or outside), None)


def heaters(settings: Settings) -> tuple[str, ...]:
    """The outputs some zone heats with, in the file's order."""
    heats = [zone.heat for zone in settings.zones.values() if zone.heat is not None]
    heating = {name for heat in heats for name in heats_with(heat)}
    return tuple(name for name in settings.outputs if name in heating)


def heats_with(heat: Heat) -> tuple[str, ...]:
    """Its heater, or both of them."""
    return (heat.output,) if heat.second_output is None else (heat.output, heat.second_output)


def bears_both(settings: Settings, heat: Heat) -> bool:
    """Whether both of its heaters may be on at once, those of other zones on as well."""
    most_w = settings.site.circuit_w
    if heat.second_output is None or most_w is None:
        return heat.second_output is not None
    others = (zone.heat for zone in settings.zones.values())
    asked = {each.output: each for each in others if each is not None and each != heat}
    others_w = sum(_greater_w(settings, each) for each in asked.values())
    return others_w + sum(_powers_w(settings, heat)) <= most_w


def heat_power_w(settings: Settings, heat: Heat) -> float | None:
    """What it can do at most. None: not every heater of it states its power."""
    stated = [settings.outputs[name].power_w for name in heats_with(heat)]
    powers_w = [power_w for power_w in stated if power_w is not None]
    if len(powers_w) < len(stated):
        return None
    return sum(powers_w) if bears_both(settings, heat) else max(powers_w)


def least_circuit_w(settings: Settings) -> float:
    """What one heater of every zone takes, all on at once; of two the greater."""
    heats = (zone.heat for zone in settings.zones.values())
    asked = {heat.output: heat for heat in heats if heat is not None}
    return sum(_greater_w(settings, heat) for heat in asked.values())


def _greater_w(settings: Settings, heat: Heat) -> float:
    return max(_powers_w(settings, heat))


def _powers_w(settings: Settings, heat: Heat) -> list[float]:
    found = [settings.outputs.get(name) for name in heats_with(heat)]
    return [0.0 if each is None else each.power_w or 0.0 for each in found]


def ventilators(settings: Settings) -> tuple[str, ...]:
    """What some zone cools or airs with: outputs and vents, in the order of the zones."""
    names = []
    for zone in settings.zones.values():
        names += [part.output for part in (zone.cool, zone.air) if part is not None]
    return tuple(dict.fromkeys(names))


def airing_least_c(settings: Settings, zone_id: str) -> float | None:
    """Airing stops below this, so that it never makes heat come on. None: no such limit."""
    zone = settings.zones[zone_id]
    if zone.air is None:
        return None
    limits = [plants_minimum_c(settings, zone_id)]
    limits += [heat_off_c(settings, zone_id, night) for night in (False, True)]
    known = [limit_c for limit_c in limits if limit_c is not None]
    return max(known) + zone.air.margin_k if known else None


def airing_outdoor_least_c(settings: Settings, zone_id: str) -> float | None:
    """No airing while outdoors is colder. Where it is not stated: the plants' minimum, then
    where heat comes on, so that no draught can take a plant below what it stands."""
    zone = settings.zones[zone_id]
    if zone.air is None or zone.air.outdoor_least_c is not None:
        return None if zone.air is None else zone.air.outdoor_least_c
    minimum_c = plants_minimum_c(settings, zone_id)
    return heat_setpoint_c(settings, zone_id, night=False) if minimum_c is None else minimum_c


def isolated_by(settings: Settings, isolator: str) -> tuple[str, ...]:
    """The heaters behind this isolator: those it names, or all."""
    named = settings.outputs[isolator].isolates
    return tuple(name for name in heaters(settings) if not named or name in named)


def longest_on_s(settings: Settings, output: str) -> float | None:
    """How long it may be on in one go. None: as long as it is wanted."""
    stated = settings.outputs[output].longest_on_s
    return LONGEST_HEAT_S if stated is None and output in heaters(settings) else stated


def neighbours(settings: Settings, probe: str) -> tuple[str, ...]:
    """The probes whose movement shows that this one stands still.

    The others of its zones; where it has none, the other probes of the house, and where
    there are none either, the outdoor one: a tent in a heated house goes by the house, which
    is kept alike whatever it is like outdoors. None for the outdoor probe itself: heat moves
    the air inside while a foggy night outside stands still.
    """
    outdoors = settings.site.outdoor_probe
    if probe == outdoors:
        return ()
    if mates := zone_mates(settings, probe):
        return mates
    others = tuple(name for name in settings.probes if name != probe)
    return tuple(name for name in others if name != outdoors) or others


def zone_mates(settings: Settings, probe: str) -> tuple[str, ...]:
    """The others in its zones, which are in the same air."""
    zones = (zone.probes for zone in settings.zones.values() if probe in zone.probes)
    return tuple(dict.fromkeys(name for probes in zones for name in probes if name != probe))


def warmed_by(settings: Settings, probe: str) -> tuple[str, ...]:
    """The heaters that may warm it: those of its zones; every one, if it hangs in none."""
    zones = [zone for zone in settings.zones.values() if probe in zone.probes]
    heats = [zone.heat for zone in zones or settings.zones.values() if zone.heat is not None]
    return tuple(dict.fromkeys(name for heat in heats for name in heats_with(heat)))


def must_feel(settings: Settings, probe: str) -> tuple[str, ...]:
    """The heaters whose warmth it has to show: its zones' first ones. A second helps for minutes,
    and a probe is not accused by it."""
    zones = [zone for zone in settings.zones.values() if probe in zone.probes]
    return tuple(dict.fromkeys(zone.heat.output for zone in zones if zone.heat is not None))


def alone_k(settings: Settings, zone_id: str) -> float:
    """How far from all others a probe that stands alone is taken to be, at most.

    Ten kelvin is more than two places at one height differ by: without a stirring fan 6 to
    8 K between two ends of a house are common (University of Connecticut Extension, on
    horizontal air flow). Less where the others, heated for its sake, would come near the
    ceiling or be cooled again; never less than disagree_k, which needs no vote.
    """
    zone = settings.zones[zone_id]
    room_k = [FARTHEST_K]
    for night in (False, True):
        off_c = heat_off_c(settings, zone_id, night)
        cool_c = cool_setpoint_c(settings, zone_id, night)
        if off_c is not None:
            room_k.append(zone.ceiling_c - CEILING_RELEASE_K - off_c)
        if off_c is not None and cool_c is not None:
            room_k.append(cool_c - off_c)
    return max(zone.disagree_k, min(room_k))


def heat_setpoint_c(settings: Settings, zone_id: str, night: bool) -> float | None:
    """Heat goes on at or below this. None: the zone has no heat.

    Raises KeyError for a zone the settings do not define.
    """
    heat = settings.zones[zone_id].heat
    if heat is None:
        return None
    if heat.setpoint == "from-plants":
        minimum_c = plants_minimum_c(settings, zone_id)
        return None if minimum_c is None else minimum_c + heat.margin_k
    if night and heat.night_setpoint_c is not None:
        return heat.night_setpoint_c
    return heat.setpoint_c


def heat_off_c(settings: Settings, zone_id: str, night: bool) -> float | None:
    """Heat goes off at or above this. None: the zone has no heat."""
    heat = settings.zones[zone_id].heat
    on_c = heat_setpoint_c(settings, zone_id, night)
    return None if heat is None or on_c is None else on_c + heat_band_k(heat)


def heat_band_k(heat: Heat) -> float:
    """How far above its setpoint heat may be on."""
    return heat.hysteresis_k if heat.strategy == "hysteresis" else max(ABOVE_K, heat.hysteresis_k)


def looks_ahead(heat: Heat) -> bool:
    """Whether it acts on what the air will do, so that it may heat in pulses of a minute."""
    return heat.strategy == "proportion" or heat.anticipate


def closings_a_year(settings: Settings, output: str) -> float | None:
    """What its relay may spend in a year to last as long as is wanted. None: no relay of
    ours, or nobody knows what it is good for."""
    found = settings.outputs[output]
    if not isinstance(found, GpioOutput):
        return None
    return found.rated_operations / found.wanted_years


def ordered_range_c(settings: Settings, zone_id: str) -> tuple[float, float] | None:
    """Between which temperatures a heating setpoint may be ordered over the broker.

    Never below the tenderest plant's minimum, whatever the owner allowed; never so high
    that heat would meet cooling or come near the ceiling. None: not at all. The first may
    be above the second: then nothing is allowed, and `check` says so. Whole tenths, because
    the broker shows them so.
    """
    commands = None if settings.broker is None else settings.broker.commands
    zone = settings.zones.get(zone_id)
    if commands is None or zone is None or zone.heat is None or zone_id not in commands.setpoints:
        return None
    minimum_c = plants_minimum_c(settings, zone_id)
    lowest_c = commands.lowest_c if minimum_c is None else max(commands.lowest_c, minimum_c)
    highest_c = min(commands.highest_c, warmest_setpoint_c(settings, zone_id))
    return math.ceil(lowest_c * 10.0 - 1e-6) / 10.0, math.floor(highest_c * 10.0 + 1e-6) / 10.0


def warmest_setpoint_c(settings: Settings, zone_id: str) -> float:
    """The highest setpoint at which heat would not meet cooling or come near the ceiling.

    Raises KeyError for a zone the settings do not define.
    """
    zone = settings.zones[zone_id]
    heat_off = [zone.ceiling_c - CEILING_RELEASE_K]
    for night in (False, True):
        cool_on_c = cool_setpoint_c(settings, zone_id, night)
        cool_end_c = cool_off_c(settings, zone_id, night)
        if cool_on_c is not None and cool_end_c is not None:
            heat_off += [cool_on_c - zone.deadband_k, cool_end_c]
    return min(heat_off) - (0.0 if zone.heat is None else heat_band_k(zone.heat))


def warmest_ahead_c(settings: Settings, zone_id: str) -> float:
    """The highest setpoint to which it may be heated ahead: some way below what vents open at,
    and below what its plants stand, too.

    Raises KeyError for a zone the settings do not define.
    """
    heat, wax = settings.zones[zone_id].heat, settings.house.wax_vent
    maximum_c = plants_maximum_c(settings, zone_id)
    opens_c = None if wax is None else wax.from_c
    limits = [limit_c for limit_c in (maximum_c, opens_c) if limit_c is not None]
    band_k = 0.0 if heat is None else heat_band_k(heat)
    clear_c = min(limits, default=math.inf) - AHEAD_CLEAR_K - band_k
    return min(warmest_setpoint_c(settings, zone_id), clear_c)


def may_be_switched(settings: Settings, zone_id: str) -> bool:
    """Whether the zone may be switched off over the broker."""
    commands = None if settings.broker is None else settings.broker.commands
    return commands is not None and zone_id in commands.switches


def cool_setpoint_c(settings: Settings, zone_id: str, night: bool) -> float | None:
    """Cooling goes on at or above this. None: the zone has no cooling.

    Raises KeyError for a zone the settings do not define.
    """
    cool = settings.zones[zone_id].cool
    if cool is None:
        return None
    if night and cool.night_setpoint_c is not None:
        return cool.night_setpoint_c
    return cool.setpoint_c


def cool_off_c(settings: Settings, zone_id: str, night: bool) -> float | None:
    """Cooling goes off at or below this. None: the zone has no cooling."""
    cool = settings.zones[zone_id].cool
    on_c = cool_setpoint_c(settings, zone_id, night)
    return None if cool is None or on_c is None else on_c - cool.hysteresis_k
