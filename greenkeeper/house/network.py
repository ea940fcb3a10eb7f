"""The house as a network of heat flows, and one exact step of it.

Lives here: which part is drawn to which at what rate, and the weights of a step that
follow. Does not live here: what the parts are for (model.py), and weather.

Everything is linear, so a step of any length under constant inputs is exact. The weights
of a step depend on the house and on the step's length alone; what the inputs add depends
on the weather too, and holds for every step until that changes. Whoever takes many steps
keeps both (simulated.py).
"""

import math
from functools import lru_cache
from typing import NamedTuple, Self

from greenkeeper.house.envelope import Envelope, envelope, loss_w_per_k
from greenkeeper.house.exponential import Matrix, exponential
from greenkeeper.house.heatloss import WATER_J_L_K, WATER_W_K_L
from greenkeeper.settings.house import House

# Sun warms surfaces, not air. Leaves, staging and frame hand it on to the air within
# minutes and count as air; pots, soil and paving keep it. Halves: common practice, no source.
SUN_TO_AIR = 0.5

# House.ridge_k is what the ridge shows while the heat is enough to hold the house this
# far above outside: about a frost heater's full power, whatever the size of the house.
RIDGE_RISE_K = 20.0

# Heat given off under the roof: what of it comes down to the plants before it leaves, and
# how much more of a layer it makes. With a mixing of air of 3.5 times the loss, and half of
# the loss above: 3.5 / 4. Common practice, no source.
_ROOF_HEAT_TO_AIR = 0.875
_ROOF_RIDGE = 3.0

# The upper 0.3 m of soil, 2.0 MJ/(m³ K), behind a surface of 6 W/(m² K): common practice.
_FLOOR_J_M2K = 0.6e6
_FLOOR_W_M2K = 1.0 / (1.0 / 6.0 + 0.15 / 1.2)

# A fan that stirs leaves a fifth of the layering between bench and ridge: common practice,
# no source.
STIRRED_RIDGE = 0.2


class Parameters(NamedTuple):
    """One house in SI units. Only the capacities of air and mass must be above zero; of
    what has no capacity there is none."""

    loss_w_per_k: float
    air_j_per_k: float
    mass_j_per_k: float
    mass_w_per_k: float
    element_lag_s: float
    probe_lag_s: float
    sun_m2: float  # level area whose sun ends as heat inside
    fan_w_per_k: float
    ridge_k_per_w: float
    vent_w_per_k: float = 0.0
    heat_to_air: float = 1.0  # of the element's heat: the rest leaves under the roof unused
    sky_w_per_k: float = 0.0  # lost to the sky for each kelvin it is colder than the air
    store_j_per_k: float = 0.0  # water, apart from the mass
    store_w_per_k: float = 0.0
    floor_j_per_k: float = 0.0
    floor_w_per_k: float = 0.0  # between air and floor
    ground_w_per_k: float = 0.0  # between floor and the soil a metre down
    tent_j_per_k: float = 0.0  # an inner cover, with everything under it
    tent_w_per_k: float = 0.0  # between the air under it and the house's
    tent_sun_share: float = 0.0  # of the sun inside, what falls under it

    @classmethod
    def from_settings(cls, house: House) -> Self:
        """Lags to a tenth of a second: less is none, and would only cost digits."""
        skin, loss = envelope(house), loss_w_per_k(house)
        tent, floor_m2 = house.tent, skin.floor_m2 if house.ground_w_m2k > 0.0 else 0.0
        under_roof = house.heater_under == "roof"
        return cls(
            loss_w_per_k=loss,
            air_j_per_k=house.air_kj_per_k * 1000.0,
            mass_j_per_k=house.mass_kj_per_k * 1000.0,
            mass_w_per_k=house.mass_w_per_k,
            element_lag_s=round(house.element_lag_s, 1),
            probe_lag_s=round(house.probe_lag_s, 1),
            sun_m2=house.length_m * house.width_m * house.sun_share,
            fan_w_per_k=house.fan_w_per_k,
            ridge_k_per_w=house.ridge_k
            / (RIDGE_RISE_K * loss)
            * (_ROOF_RIDGE if under_roof else 1.0),
            vent_w_per_k=house.vent_w_per_k,
            heat_to_air=_ROOF_HEAT_TO_AIR if under_roof else 1.0,
            sky_w_per_k=_sky_w_per_k(skin) if house.sky_cooling else 0.0,
            store_j_per_k=skin.water_l * WATER_J_L_K,
            store_w_per_k=skin.water_l * WATER_W_K_L,
            floor_j_per_k=floor_m2 * _FLOOR_J_M2K,
            floor_w_per_k=floor_m2 * _FLOOR_W_M2K,
            ground_w_per_k=floor_m2 * house.ground_w_m2k,
            tent_j_per_k=0.0 if tent is None else tent.holds_kj_per_k * 1000.0,
            tent_w_per_k=0.0 if tent is None else tent.loss_w_per_k,
            tent_sun_share=0.0 if tent is None else tent.sun_share,
        )


def _sky_w_per_k(skin: Envelope) -> float:
    """What the skin loses to the sky for each kelvin it is colder than the air outside.

    The outer face's radiation as a share of its whole coefficient, for as much of the sky
    as each surface sees: EN 673's 25 W/(m² K) with 0.9 x 5.13 of it radiation (from memory).
    """
    return sum(
        each.loss_w_k * (0.9 * 5.13 / 25.0) * 0.5 * (1.0 + math.cos(math.radians(each.slope_deg)))
        for each in skin.surfaces
    )


class Inputs(NamedTuple):
    """What acts on the house from outside, constant during a step."""

    power_w: float  # drawn by the elements in the house
    outdoor_c: float
    sun_w: float  # of the sun, inside
    sky_k: float  # the sky above the outdoor air: below zero when it is clear
    ground_c: float
    tent_w: float  # given off under the tent


# The parts in the order of model.State, and then the inputs in the order above.
ELEMENT, AIR, MASS, BENCH, RIDGE, OUTDOOR, STORE, FLOOR, TENT, TENT_PROBE = range(10)
POWER, OUTSIDE, SUN, SKY, GROUND, TENT_POWER = range(10, 16)
_PARTS, _ALL = 10, 16

_Six = tuple[float, float, float, float, float, float]


class Weights(NamedTuple):
    """One step: the new state's dependence on the old, and on each input.

    core: rows of air, mass, store, floor and tent, over (element, air, mass, store,
    floor, tent); probes: the same for the two probes inside, their own old value last.
    """

    element: float
    air: _Six
    mass: _Six
    store: _Six
    floor: _Six
    tent: _Six
    bench: tuple[float, float, float, float, float, float, float]
    ridge: tuple[float, float]
    outdoor: float
    tent_probe: tuple[float, float, float, float, float, float, float]
    inputs: tuple[tuple[float, ...], ...]  # by part, in the order of Inputs
    plain: bool  # neither store nor floor nor tent: nothing moves them, and they move nothing

    def added(self, inputs: Inputs) -> tuple[float, ...]:
        """What these inputs add to each part in one step; of a plain house, to those it has."""
        power, outside, sun, sky, ground, tent = inputs
        return tuple(
            [
                a * power + b * outside + c * sun + d * sky + e * ground + f * tent
                for a, b, c, d, e, f in (self.inputs[:STORE] if self.plain else self.inputs)
            ]
        )


_CORE = (ELEMENT, AIR, MASS, STORE, FLOOR, TENT)


# A rehearsal needs some hundreds of these, for every wind and opening of a vent; so does a
# house under a real clock, whose steps differ by milliseconds. Each is under 5 kB.
@lru_cache(maxsize=1024)
def weights(p: Parameters, fan_on: bool, stirred: bool, dt_s: float) -> Weights:
    """Raises ValueError for a negative dt_s."""
    if dt_s < 0.0:
        raise ValueError("the house cannot be advanced backwards")
    whole = _whole(p, fan_on, stirred, dt_s)
    plain = not any(_exists(p, part) for part in (STORE, FLOOR, TENT))

    def core(part: int) -> _Six:
        q, a, m, s, f, t = (whole[part][other] for other in _CORE)
        return q, a, m, s, f, t

    return Weights(
        element=whole[ELEMENT][ELEMENT],
        air=core(AIR),
        mass=core(MASS),
        store=core(STORE),
        floor=core(FLOOR),
        tent=core(TENT),
        bench=(*core(BENCH), whole[BENCH][BENCH]),
        ridge=(whole[RIDGE][ELEMENT], whole[RIDGE][RIDGE]),
        outdoor=whole[OUTDOOR][OUTDOOR],
        tent_probe=(*core(TENT_PROBE), whole[TENT_PROBE][TENT_PROBE]),
        inputs=tuple(tuple(whole[part][POWER:]) for part in range(_PARTS)),
        plain=plain,
    )


def _whole(p: Parameters, fan_on: bool, stirred: bool, dt_s: float) -> Matrix:
    """The exponential, worked out for the parts this house has; the others stay as they are."""
    rates = _rates(p, fan_on, stirred)
    has = [part for part in range(_ALL) if _exists(p, part)]
    small = exponential([[rates[row][column] for column in has] for row in has], dt_s)
    whole = [[float(row == column) for column in range(_ALL)] for row in range(_ALL)]
    for i, row in enumerate(has):
        for j, column in enumerate(has):
            whole[row][column] = small[i][j]
    _follow_at_once(whole, p, stirred)
    return whole


def _exists(p: Parameters, part: int) -> bool:
    capacity = {STORE: p.store_j_per_k, FLOOR: p.floor_j_per_k, TENT: p.tent_j_per_k}
    capacity[GROUND] = p.floor_j_per_k
    capacity[TENT_PROBE] = capacity[TENT_POWER] = p.tent_j_per_k
    capacity[SKY] = p.sky_w_per_k
    return capacity.get(part, 1.0) > 0.0


def _rates(p: Parameters, fan_on: bool, stirred: bool) -> Matrix:
    """Per second: how each part is drawn to others (towards) and heated (from a source)."""
    rates = [[0.0] * _ALL for _ in range(_ALL)]

    def towards(part: int, other: int, rate: float) -> None:
        rates[part][other] += rate
        rates[part][part] -= rate

    def joined(part: int, capacity: float, w_per_k: float) -> None:
        """A part that exchanges heat with the air."""
        if capacity > 0.0:
            towards(AIR, part, w_per_k / p.air_j_per_k)
            towards(part, AIR, w_per_k / capacity)

    loss_w_per_k = p.loss_w_per_k + (p.fan_w_per_k if fan_on else 0.0)
    towards(AIR, OUTSIDE, loss_w_per_k / p.air_j_per_k)
    joined(MASS, p.mass_j_per_k, p.mass_w_per_k)
    joined(STORE, p.store_j_per_k, p.store_w_per_k)
    joined(FLOOR, p.floor_j_per_k, p.floor_w_per_k)
    joined(TENT, p.tent_j_per_k, p.tent_w_per_k)
    if p.floor_j_per_k > 0.0:
        towards(FLOOR, GROUND, p.ground_w_per_k / p.floor_j_per_k)
    in_tent = p.tent_sun_share if p.tent_j_per_k > 0.0 else 0.0
    rates[AIR][SUN] = (1.0 - in_tent) * SUN_TO_AIR / p.air_j_per_k
    rates[MASS][SUN] = (1.0 - in_tent) * (1.0 - SUN_TO_AIR) / p.mass_j_per_k
    rates[AIR][SKY] = p.sky_w_per_k / p.air_j_per_k
    if p.tent_j_per_k > 0.0:
        rates[TENT][SUN] = in_tent / p.tent_j_per_k
        rates[TENT][TENT_POWER] = 1.0 / p.tent_j_per_k
    _heat_and_probes(rates, p, stirred)
    return rates


def _heat_and_probes(rates: Matrix, p: Parameters, stirred: bool) -> None:
    heat = POWER
    if p.element_lag_s > 0.0:
        heat = ELEMENT
        rates[ELEMENT][POWER] = 1.0 / p.element_lag_s
        rates[ELEMENT][ELEMENT] = -1.0 / p.element_lag_s
    rates[AIR][heat] += (1.0 if stirred else p.heat_to_air) / p.air_j_per_k
    if p.probe_lag_s > 0.0:
        for probe, other in ((BENCH, AIR), (OUTDOOR, OUTSIDE), (TENT_PROBE, TENT)):
            rates[probe][other] = 1.0 / p.probe_lag_s
            rates[probe][probe] = -1.0 / p.probe_lag_s
        rates[RIDGE][heat] = ridge_k_per_w(p, stirred) / p.probe_lag_s
        rates[RIDGE][RIDGE] = -1.0 / p.probe_lag_s


def ridge_k_per_w(p: Parameters, stirred: bool) -> float:
    return p.ridge_k_per_w * (STIRRED_RIDGE if stirred else 1.0)


def _follow_at_once(whole: Matrix, p: Parameters, stirred: bool) -> None:
    """Where there is no lag, the end of the step is what the part follows."""
    if p.element_lag_s == 0.0:
        whole[ELEMENT] = [float(column == POWER) for column in range(_ALL)]
    if p.probe_lag_s == 0.0:
        whole[BENCH] = whole[AIR]
        whole[TENT_PROBE] = whole[TENT]
        whole[RIDGE] = [ridge_k_per_w(p, stirred) * weight for weight in whole[ELEMENT]]
        whole[OUTDOOR] = [float(column == OUTSIDE) for column in range(_ALL)]
