"""The heat balance of a house held by an ideal heater, through one step of steady air.

Lives here: what stores warmth, and the least heat that keeps the air at its setpoint. Does
not live here: weather and a season of steps (season_hours.py), a real heater (rehearsal).

The house is air without a capacity of its own, and bodies that exchange heat with it: pots
and paving, water, the floor on its soil. While the air's temperature T is steady for a
step, a body of capacity C between the air (H) and the soil (G) goes towards
(H T + G Tg + S)/(H + G) with the exponential exp(-x), x = (H + G) dt/C, where S is the sun
it keeps. Its mean gives what passes to the air, which is linear in T; so T without heat,
or the heat at T, follows from one line, and no energy is lost or found. The idea is the
simple hourly method of ISO 13790 (from memory), with several bodies in place of its one.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple


class Body(NamedTuple):
    """Something that stores warmth, through steps of one length."""

    to_air_w_k: float
    to_soil_w_k: float
    takes_w_k: float  # from the air for each kelvin of T, on average over a step
    gives_w_k: float  # to it for each kelvin it is warm when the step begins
    hands_on: float  # of what it gains otherwise, the share that reaches the air at once
    left: float  # exp(-x)

    def after_c(self, before_c: float, air_c: float, gained_w: float) -> float:
        """Its temperature at the step's end. gained_w: sun it keeps, and G Tg."""
        end_c = (self.to_air_w_k * air_c + gained_w) / (self.to_air_w_k + self.to_soil_w_k)
        return end_c + (before_c - end_c) * self.left


class Around(NamedTuple):
    """What acts on the house in one step."""

    loss_w_k: float
    given_w: float  # to the air, of the sun and to the sky, whatever the air's temperature
    outdoor_c: float


class Held(NamedTuple):
    heat_w: float
    air_c: float


def body(capacity_j_k: float, to_air_w_k: float, dt_s: float, to_soil_w_k: float = 0.0) -> Body:
    """Raises ValueError for one without a capacity or without a way to the air: it is none."""
    if capacity_j_k <= 0.0 or to_air_w_k <= 0.0:
        raise ValueError("a body that stores warmth has a capacity, and a way to the air")
    both_w_k = to_air_w_k + to_soil_w_k
    x = both_w_k * dt_s / capacity_j_k
    mean = -math.expm1(-x) / x  # of a difference that dies away, over the step
    return Body(
        to_air_w_k,
        to_soil_w_k,
        takes_w_k=to_air_w_k * (1.0 - (1.0 - mean) * to_air_w_k / both_w_k),
        gives_w_k=to_air_w_k * mean,
        hands_on=to_air_w_k * (1.0 - mean) / both_w_k,
        left=math.exp(-x),
    )


def held(
    bodies: Sequence[Body],
    bodies_c: Sequence[float],
    gained_w: Sequence[float],
    around: Around,
    held_c: float,
    vent_c: float,
) -> Held:
    """The least heat that holds the air at held_c, or the air without heat where it is warmer.

    Above vent_c the house is aired: it gets no warmer than that, or than outside.
    """
    all_w_k = around.loss_w_k
    given_w = around.given_w + around.loss_w_k * around.outdoor_c
    for each, each_c, each_w in zip(bodies, bodies_c, gained_w, strict=True):
        all_w_k += each.takes_w_k
        given_w += each.gives_w_k * each_c + each.hands_on * each_w
    air_c = given_w / all_w_k
    if air_c < held_c:
        return Held(all_w_k * held_c - given_w, held_c)
    return Held(0.0, min(air_c, max(vent_c, around.outdoor_c)))
