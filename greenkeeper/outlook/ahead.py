"""The house run forward under a course of the outdoor air.

Lives here: where it stands now, by living through its last hours as they were measured, and
what becomes of it with a heater and without. Does not live here: the physics
(house/network.py), the course (course.py).

Nights only: no sun, no wind beyond what the house's loss means anyway, no clear sky beyond
what learning found in it. The heater is taken as exact: it gives what holds the setpoint, and
all it has where that is not enough.
"""

from collections.abc import Callable, Sequence
from statistics import fmean
from typing import NamedTuple

from greenkeeper.house.heatloss import J_PER_KWH
from greenkeeper.house.model import State, follow, inputs_of
from greenkeeper.house.network import AIR, Parameters, Weights, weights
from greenkeeper.house.weather import Surroundings
from greenkeeper.outlook.course import Course, Point

STEP_S = 300.0
_SHOWN_EVERY_S = 1800.0
_LATELY = 6  # steps: half an hour of sun is what it gives now


class Measured(NamedTuple):
    """One step of the past: what was inside and outdoors. None: not measured."""

    inside_c: float | None
    outdoor_c: float | None
    heater_w: float = 0.0  # what the heater gave meanwhile
    lit: bool = False  # the sun was up


class Night(NamedTuple):
    """What the house comes to by the morning."""

    low_c: float
    low_utc_s: float
    limit_s: float  # for so long the heater gives all it has and more is wanted
    kwh: float
    cost: float | None = None  # of that heat, by the prices of its time; None: no price is known
    points: tuple[Point, ...] = ()  # of the air at the plants, every half hour


class House:
    """Parameters with steps kept. Without lag of element and probe: the steps are long."""

    def __init__(self, parameters: Parameters) -> None:
        self._p = parameters._replace(
            element_lag_s=0.0, probe_lag_s=0.0, tent_j_per_k=0.0, sky_w_per_k=0.0, sun_m2=0.0,
            floor_j_per_k=0.0, floor_w_per_k=0.0, ground_w_per_k=0.0,
        )  # fmt: skip
        self._step: Weights = weights(self._p, False, False, STEP_S)
        # In the order of network.Inputs: what a watt of heater or of sun makes of the air.
        self._gain_k_per_w, _, self._gain_by_sun_k_per_w, *_ = self._step.inputs[AIR]

    def now(self, past: Sequence[Measured]) -> State | None:
        """The state after these steps, its air led along what was measured, so that mass and
        water are as warm as they must be by now. What the air had more by day than heater and
        house explain was sun, and warmed the mass as well. None: the inside was never measured.
        """
        lived = self._lived(past)
        return None if lived is None else lived[0]

    def sun_w(self, past: Sequence[Measured]) -> float:
        """What the sun gave in the last of these steps, for want of another explanation."""
        lived = self._lived(past)
        return 0.0 if lived is None else fmean(lived[1][-_LATELY:])

    def _lived(self, past: Sequence[Measured]) -> tuple[State, list[float]] | None:
        """The state in the end, and the sun of every step."""
        first_c = next((each.inside_c for each in past if each.inside_c is not None), None)
        if first_c is None:
            return None
        state, suns_w = _uniform(first_c), []
        outdoor_c = next((each.outdoor_c for each in past if each.outdoor_c is not None), first_c)
        for each in past:
            outdoor_c = outdoor_c if each.outdoor_c is None else each.outdoor_c
            power_w, sun_w = self._explained(state, outdoor_c, each)
            state = self._stepped(state, outdoor_c, power_w, sun_w)
            suns_w.append(sun_w)
        return state, suns_w

    def ahead(
        self,
        state: State,
        course: Course,
        from_utc_s: float,
        to_utc_s: float,
        *,
        heater_w: float = 0.0,
        hold_c: float = -100.0,
        sun_w: float = 0.0,
        sunset_utc_s: float = 0.0,
        price: Callable[[float], float] | None = None,
    ) -> Night:
        """Until to_utc_s. heater_w: all that the heater has; hold_c: what it holds. sun_w: what
        the sun gives in the beginning; it sinks to nothing by sunset. price: of a kWh at a
        moment."""
        cost = 0.0
        low_c, low_utc_s, limit_s, used_j = state.air_c, from_utc_s, 0.0, 0.0
        at_s = from_utc_s
        points = [Point(at_s, state.air_c)]
        while at_s < to_utc_s:
            outdoor_c = course.at(at_s + STEP_S / 2.0)
            left = (sunset_utc_s - at_s) / max(STEP_S, sunset_utc_s - from_utc_s)
            lit_w = sun_w * max(0.0, left)
            wanted_w = max(0.0, self._wanted_w(state, outdoor_c, hold_c, lit_w))
            power_w = min(heater_w, wanted_w)
            state = self._stepped(state, outdoor_c, power_w, lit_w)
            if price is not None and power_w > 0.0:
                cost += power_w * STEP_S / J_PER_KWH * price(at_s)
            at_s += STEP_S
            used_j += power_w * STEP_S
            if heater_w > 0.0 and wanted_w > heater_w:
                limit_s += STEP_S
            if state.air_c < low_c:
                low_c, low_utc_s = state.air_c, at_s
            if at_s - points[-1].utc_s >= _SHOWN_EVERY_S or at_s >= to_utc_s:
                points.append(Point(at_s, state.air_c))
        return Night(
            low_c, low_utc_s, limit_s, used_j / J_PER_KWH,
            None if price is None else cost, tuple(points),
        )  # fmt: skip

    def _explained(self, state: State, outdoor_c: float, measured: Measured) -> tuple[float, float]:
        """Heat and sun that bring the air where it was measured; where nothing was, the heater."""
        if measured.inside_c is None:
            return measured.heater_w, 0.0
        wanted_w = self._wanted_w(state, outdoor_c, measured.inside_c)
        more_w = wanted_w - measured.heater_w
        if not measured.lit or more_w <= 0.0:
            return wanted_w, 0.0
        return measured.heater_w, more_w * self._gain_k_per_w / self._gain_by_sun_k_per_w

    def _stepped(self, state: State, outdoor_c: float, power_w: float, sun_w: float = 0.0) -> State:
        inputs = inputs_of(self._p, Surroundings(outdoor_c, 0.0), power_w, sun_w=sun_w)
        return follow(self._step, self._step.added(inputs), state)

    def _wanted_w(self, state: State, outdoor_c: float, air_c: float, sun_w: float = 0.0) -> float:
        """The power that brings the air there in one step; it may be less than nothing."""
        return (air_c - self._stepped(state, outdoor_c, 0.0, sun_w).air_c) / self._gain_k_per_w


def _uniform(temp_c: float) -> State:
    return State(
        0.0, temp_c, temp_c, temp_c, 0.0, temp_c,
        store_c=temp_c, floor_c=temp_c, tent_c=temp_c, tent_probe_c=temp_c,
    )  # fmt: skip
