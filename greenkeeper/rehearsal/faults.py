"""What can be made to break in a rehearsal, and when.

Lives here: a name for each way, and what it does to the rig. Does not live here: what
control makes of it, which is the point of trying.
"""

from typing import NamedTuple

from greenkeeper.control import Plan
from greenkeeper.house.faults import WHOLE, Faults
from greenkeeper.rehearsal.rig import RehearsalError, Rig

# An open door of a small house: 0.3 m/s of exchanged air through 0.9 m2, common practice.
_DOOR_W_PER_K = 300.0


class Fault(NamedTuple):
    """One thing that breaks and is mended."""

    name: str
    from_utc_s: float
    to_utc_s: float


class Damage(NamedTuple):
    """What a fault does: to the house, to probes, and to the keeper itself."""

    house: Faults = WHOLE
    dead_probes: frozenset[str] = frozenset()
    no_power: bool = False


KINDS = {
    "welded-relay": "the heater's contact is welded shut",
    "dead-element": "the heater is switched and stays cold, every zone's (of two the first)",
    "probe-displaced": "the zone's first probe has fallen outdoors",
    "probe-dead": "no probe of the zone answers",
    "door-open": "the door stands open",
    "power-cut": "neither the heater nor the keeper has power",
}


def damage(fault: Fault, rig: Rig, plan: Plan) -> Damage:
    """Raises RehearsalError where there is nothing that could break, KeyError for a name
    that is not in KINDS."""
    probes = _heated(plan)
    if not probes or not rig.powers_w:
        raise RehearsalError("no zone is heated: there is nothing to break in these settings")
    return {
        "welded-relay": Damage(Faults(welded_w=max(rig.powers_w.values()))),
        "dead-element": Damage(_dead_element(plan)),
        "probe-displaced": Damage(Faults(fallen_outdoors=rig.hooks(probes[:1]))),
        "probe-dead": Damage(dead_probes=frozenset(probes)),
        "door-open": Damage(Faults(door_w_per_k=_DOOR_W_PER_K)),
        "power-cut": Damage(Faults(breaker_out=True), no_power=True),
    }[fault.name]


def _dead_element(plan: Plan) -> Faults:
    """Every heater's; where a zone has two, the one alone that the settings name first."""
    firsts = frozenset(zone.stages.outputs[0] for zone in plan.zones if zone.stages is not None)
    return Faults(cold=firsts) if firsts else Faults(element_share=0.0)


def _heated(plan: Plan) -> list[str]:
    """The probes of the first heated zone."""
    return next((list(zone.probes) for zone in plan.zones if zone.heat is not None), [])
