"""Heating ahead: a setpoint raised in cheap hours by what is taken as needed in dearer ones.

Lives here: for which zones the setpoint is raised just now, and how far. Does not live here:
whether heat kept in the house pays (storing.py), and how a setpoint is held (thermostat.py,
proportion.py), which do not know why it is where it is.

It is money that is lost where the reckoning is wrong, so what is not sure is left alone: a
zone is raised only while its heater is in use, outdoors is known to be cold enough for all
that comes back, the civil clock is trusted, and nobody ordered another setpoint.

Bounds that hold whatever prices, figures and probes say, each with a property test:
  - a setpoint is never lowered, and raised by MOST_K at most, never above the plan's most_c;
  - a blind zone's is not raised, nor one's in which a probe stands alone.
"""

from collections.abc import Mapping
from math import floor

from greenkeeper.control import schedule, storing
from greenkeeper.control.plan import Plan, ZonePlan
from greenkeeper.control.storing import QUARTER_S, Charge, StorePlan
from greenkeeper.model import (
    Ask,
    Good,
    Now,
    OutputMemory,
    Overrides,
    Shifted,
    Verdict,
)

# The bound on what a wrong figure may cost, a step that is worth telling, and the least that is
# worth a relay's closings. Own judgement.
MOST_K = 3.0
_STEP_K = 0.1
_LEAST_K = 0.3

# So much warmer than now it may get outdoors before the heat has come back. Own judgement.
_MILDER_K = 2.0
# A heater that is on for more of the time than this is soon at its limit.
_MOST_DUTY = 0.75
# Heat is in use if it was on within so long.
_IN_USE_S = 3600.0


def follow(
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    before: Mapping[str, Shifted],
    outputs: Mapping[str, OutputMemory],
    ordered: Overrides,
    now: Now,
    alone: Mapping[str, str],
) -> Mapping[str, Shifted]:
    """The zones that are raised now. It is looked at anew with every quarter of an hour.

    alone: zone -> its probe that stands alone. Heat goes by one that may be wrong there, and how
    far the others may rise for it (alone_k) was reckoned from the setpoint as it is set."""
    outdoors = verdicts.get(plan.outdoor or "")
    if not isinstance(outdoors, Good):
        return {}
    quarter = int(now.utc_s // QUARTER_S)
    night = schedule.is_night(plan, now)
    found: dict[str, Shifted] = {}
    for zone in plan.zones:
        if zone.store is None or zone.name in alone or not may_be_moved(zone, verdicts, ordered):
            continue
        was = before.get(zone.name)
        if was is not None and was.quarter == quarter and was.by_k > 0.0:
            found[zone.name] = was
            continue
        charge = storing.charge(zone.store.market, quarter)
        if charge is None or not _in_use(zone, outputs, now):
            continue
        by_k = raise_k(zone, zone.store, charge, outdoors.temp_c, night=night)
        if by_k >= _LEAST_K:
            found[zone.name] = Shifted(quarter, by_k, _words(by_k, charge, zone.store.currency))
    return found


def raise_k(
    zone: ZonePlan, store: StorePlan, charge: Charge, outdoor_c: float, *, night: bool
) -> float:
    """As far as all that comes back is taken, the heater is enough and nothing is too warm."""
    if zone.heat is None:
        return 0.0
    setpoint_c = schedule.setpoint_c(zone.heat, night, clock_trusted=True)
    rooms_k = [MOST_K, store.most_c - setpoint_c]
    for house in store.market.stores:
        # The figures lie on the careful side already: a loss that is less takes less back.
        need_w = house.loss_w_per_k * (setpoint_c - outdoor_c)
        mild_w = need_w - house.loss_w_per_k * _MILDER_K
        rooms_k.append(mild_w / (house.mass_w_per_k * house.filled(charge.hours)))
        spare_w = _MOST_DUTY * store.power_w - need_w
        rooms_k.append(spare_w / (house.loss_w_per_k + house.mass_w_per_k))
    return max(0.0, _STEP_K * floor(min(rooms_k) / _STEP_K + 1e-9))


def may_be_moved(zone: ZonePlan, verdicts: Mapping[str, Verdict], ordered: Overrides) -> bool:
    if any((zone.name, ask) in ordered for ask in (Ask.SETPOINT, Ask.OFF)):
        return False
    return any(isinstance(verdicts[name], Good) for name in zone.probes)


def _in_use(zone: ZonePlan, outputs: Mapping[str, OutputMemory], now: Now) -> bool:
    if zone.heat is None:
        return False
    names = {zone.heat.output} if zone.stages is None else {*zone.stages.outputs}
    for state in (outputs[name] for name in names):
        was_on = state.on_s(now.mono_s) > 0.0
        if state.on or (was_on and now.mono_s - state.since_s <= _IN_USE_S):
            return True
    return False


def _words(by_k: float, charge: Charge, currency: str) -> str:
    stretch = charge.stretch
    return (
        f"heating {by_k:.1f} K ahead: {charge.hours:.1f} h at {stretch.price:g} "
        f"before {stretch.dearer:g} {currency} a kWh"
    )
