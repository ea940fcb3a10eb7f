"""How far watch lets things go, worked out once from the settings.

Lives here: the figures of the `watch` settings, and the same figures worked out from the
house's own where it is described. Does not live here: any temperature of the moment.

A measured house gives better figures than the defaults, so they take their place; what the
owner wrote under `watch` stands above both. One that is only described does not: a loss
from its shape may be a third off, and with it comes nobody's air and mass. The reasoning
is linear physics of one air and one mass, as in the modelled house: with the loss L and
the coupling M of air to mass in W/K and the air's capacity C, air follows a heater of P
watts by P/(L+M) kelvin within a few times C/(L+M) seconds; what the mass does takes hours
and is not waited for.

A tent is a body of its own in the house: its loss and capacity are its heater's, whoever
wrote them, and those of the house are not. They are used to wait for longer alone, so that
a figure which is wrong costs time and accuses nobody.
"""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from greenkeeper.settings.house import House
from greenkeeper.settings.schema import Heat, Settings, Watch

# After twice its time constant the air has gone 86 % of its way.
_CONSTANTS_WAITED = 2.0

# Heat is missed, or held to be stuck, at a quarter of its full effect: a heater on for half
# the time has the other half to spare, and a stiff wind takes half of that.
_EFFECT_SHARE = 0.25

# A rise this much above the fastest a healthy house can make is none of its own.
_BEYOND_HEALTHY = 1.4


class Figures(NamedTuple):
    """What is asked of a house here, as in its settings."""

    loss_w_per_k: float
    air_kj_per_k: float
    mass_w_per_k: float
    element_lag_s: float
    probe_lag_s: float


class HeaterLimits(NamedTuple):
    """What depends on the heater's power as well."""

    response_within_s: float
    response_rise_k: float
    stuck_after_s: float
    stuck_rise_k: float


class Limits(NamedTuple):
    """What holds for the whole house."""

    stuck_lift_k: float
    limit_duty: float
    limit_after_s: float
    runaway_k_per_s: float
    runaway_for_s: float
    displaced_k: float
    displaced_after_s: float
    door_fall_k: float
    door_within_s: float


def limits_of(settings: Settings, heaters_w: Mapping[str, float | None]) -> Limits:
    """heaters_w: the power of every heater; None where nobody stated it."""
    watch = settings.watch
    house = measured(settings)
    runaway_k_per_min = watch.runaway_k_per_min
    powers_w = [power_w for power_w in heaters_w.values() if power_w is not None]
    written = "runaway_k_per_min" in watch.model_fields_set
    if house is not None and len(powers_w) == len(heaters_w) and not written:
        fastest_k_per_s = fastest_rise_k_per_s(house, sum(powers_w))
        runaway_k_per_min = max(runaway_k_per_min, 60.0 * fastest_k_per_s)
    return Limits(
        stuck_lift_k=watch.stuck_lift_k,
        limit_duty=watch.limit_duty,
        limit_after_s=watch.limit_after_s,
        runaway_k_per_s=runaway_k_per_min / 60.0,
        runaway_for_s=watch.runaway_for_s,
        displaced_k=watch.displaced_k,
        displaced_after_s=watch.displaced_after_s,
        door_fall_k=watch.door_fall_k,
        door_within_s=watch.door_within_s,
    )


def heater_limits(
    settings: Settings, power_w: float | None, *, tented: bool = False
) -> HeaterLimits:
    """tented: it heats nothing but what is under the tent."""
    watch = settings.watch
    house = None if tented else measured(settings)
    stated = HeaterLimits(
        watch.response_within_s, watch.response_rise_k, watch.stuck_after_s, watch.stuck_rise_k
    )
    if tented and power_w is not None and "response_within_s" not in watch.model_fields_set:
        wait_s = _tent_wait_s(settings.house, power_w, stated.response_rise_k)
        return stated._replace(response_within_s=max(stated.response_within_s, wait_s))
    if house is None or power_w is None:
        return stated
    wait_s = settling_s(house)
    effect_k = _EFFECT_SHARE * air_gain_k(house, power_w)
    worked_out = HeaterLimits(
        response_within_s=_within("response_within_s", wait_s),
        response_rise_k=_within("response_rise_k", effect_k),
        stuck_after_s=_within("stuck_after_s", wait_s),
        stuck_rise_k=_within("stuck_rise_k", effect_k),
    )
    written = watch.model_fields_set & set(HeaterLimits._fields)
    return worked_out._replace(**{name: getattr(stated, name) for name in written})


def _tent_wait_s(house: House, power_w: float, rise_k: float) -> float:
    """Until half its power warms what is under the tent by twice what is asked for.

    Half of it is what a heater has to spare of which anything is asked. One too weak for
    that rise is waited for until it has given 86 % of what it can.
    """
    if house.tent is None:
        return 0.0
    constant_s = 1000.0 * house.tent.holds_kj_per_k / house.tent.loss_w_per_k
    share = 4.0 * rise_k * house.tent.loss_w_per_k / power_w
    constants = _CONSTANTS_WAITED if share >= 1.0 else -math.log(1.0 - share)
    lag_s = house.element_lag_s + house.probe_lag_s
    wait_s = lag_s + constant_s * min(constants, _CONSTANTS_WAITED)
    return _within("response_within_s", wait_s)


def as_written(limits: HeaterLimits, heats: Sequence[Heat]) -> HeaterLimits:
    """What the owner wrote of this heater itself; of several zones the most patient."""
    within_s = [heat.response_within_s for heat in heats if heat.response_within_s is not None]
    rise_k = [heat.response_rise_k for heat in heats if heat.response_rise_k is not None]
    return limits._replace(
        response_within_s=max(within_s, default=limits.response_within_s),
        response_rise_k=min(rise_k, default=limits.response_rise_k),
    )


def measured(settings: Settings) -> Figures | None:
    """The house's figures, if the owner wrote its loss: the defaults are nobody's house."""
    house = settings.house
    if house.loss_w_per_k is None:
        return None
    return Figures(
        house.loss_w_per_k,
        house.air_kj_per_k,
        house.mass_w_per_k,
        house.element_lag_s,
        house.probe_lag_s,
    )


def air_gain_k(house: Figures, power_w: float) -> float:
    """How much warmer the air gets by this heater before the mass has moved: P/(L+M)."""
    return power_w / (house.loss_w_per_k + house.mass_w_per_k)


def air_constant_s(house: Figures) -> float:
    """The time constant of the air between outside and mass: C/(L+M)."""
    return house.air_kj_per_k * 1000.0 / (house.loss_w_per_k + house.mass_w_per_k)


def settling_s(house: Figures) -> float:
    """How long after a switching its effect is as good as complete at the probe."""
    lag_s = house.element_lag_s + house.probe_lag_s
    return lag_s + _CONSTANTS_WAITED * air_constant_s(house)


def fastest_rise_k_per_s(house: Figures, power_w: float) -> float:
    """Beyond what these heaters can do to the air: P/C, and a margin."""
    return _BEYOND_HEALTHY * power_w / (house.air_kj_per_k * 1000.0)


def _within(name: str, value: float) -> float:
    """A worked-out figure, kept to the range an owner may write."""
    bounds = Watch.model_fields[name].metadata
    lowest = next(each.ge for each in bounds if hasattr(each, "ge"))
    highest = next(each.le for each in bounds if hasattr(each, "le"))
    return float(min(highest, max(lowest, value)))
