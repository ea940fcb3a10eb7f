"""The house run forward under a course of the outdoor air.

Lives here: where it stands now, by living through its last hours as they were measured, and
what becomes of it with a heater and without. Does not live here: the physics
(house/network.py), the course (course.py).

Nights only: no sun, no wind but a forecast's beyond what the house's loss means anyway, no
clear sky beyond what learning found in it. A heater is taken as exact: it gives what holds a
temperature, and all it has where that is not enough; which temperature a real one holds on
average, reports/outlook_past.py takes from the nights before.
"""

from collections.abc import Callable, Sequence
from statistics import fmean
from typing import NamedTuple

from greenkeeper.house.heatloss import J_PER_KWH
from greenkeeper.house.model import State, follow, inputs_of
from greenkeeper.house.network import AIR, POWER, TENT, TENT_POWER, Parameters, Weights, weights
from greenkeeper.house.weather import Surroundings
from greenkeeper.house.wind import loss_share
from greenkeeper.outlook.course import Course, Point

STEP_S = 300.0
_SHOWN_EVERY_S = 1800.0
_LATELY = 6  # steps: half an hour of sun is what it gives now


class Measured(NamedTuple):
    """One step of the past: what was inside and outdoors. None: not measured."""

    inside_c: float | None
    outdoor_c: float | None
    heater_w: float = 0.0  # what the heaters gave to the house's air meanwhile
    lit: bool = False  # the sun was up
    tent_c: float | None = None  # the air under an inner cover


class Heater(NamedTuple):
    """One that gives what holds the air at hold_c, and all it has where that is not enough.
    Of several in the same air the one that holds most works first."""

    power_w: float
    hold_c: float
    tented: bool = False  # it stands under the inner cover, and holds the air there
    counts: bool = True  # its energy is what is asked for
    starts_c: float | None = None  # it rests until the air has fallen to that. None: hold_c

    @property
    def climb_k(self) -> float:
        return 0.0 if self.starts_c is None else max(0.0, self.hold_c - self.starts_c)


class Night(NamedTuple):
    """What the house comes to by the morning."""

    low_c: float
    low_utc_s: float
    limit_s: float  # for so long the heater gives all it has and more is wanted
    kwh: float
    cost: float | None = None  # of that heat, by the prices of its time; None: no price is known
    points: tuple[Point, ...] = ()  # of the air at the plants, every half hour


class _Air:
    """The house in one wind: its steps, and what a watt makes of its air."""

    def __init__(self, parameters: Parameters) -> None:
        self._p = parameters
        self._step: Weights = weights(parameters, False, False, STEP_S)
        # In the order of network.Inputs: what a watt of heater, of sun and under the tent makes.
        self.gain_k_per_w, _, self.gain_by_sun_k_per_w, *_ = self._step.inputs[AIR]
        self.tent_gain_k_per_w = self._step.inputs[TENT][TENT_POWER - POWER]

    def stepped(
        self,
        state: State,
        outdoor_c: float,
        power_w: float,
        sun_w: float = 0.0,
        tent_w: float = 0.0,
    ) -> State:
        around = Surroundings(outdoor_c, 0.0)
        inputs = inputs_of(self._p, around, power_w, tent_w=tent_w, sun_w=sun_w)
        return follow(self._step, self._step.added(inputs), state)

    def wanted_w(
        self,
        state: State,
        outdoor_c: float,
        air_c: float,
        sun_w: float = 0.0,
        tent_w: float = 0.0,
    ) -> float:
        """The power that brings the air there in one step; it may be less than nothing."""
        without_c = self.stepped(state, outdoor_c, 0.0, sun_w, tent_w).air_c
        return (air_c - without_c) / self.gain_k_per_w

    def wanted_in_tent_w(self, state: State, outdoor_c: float, tent_c: float) -> float:
        """Likewise under the tent. What the house's heaters do to it in one step is little."""
        without_c = self.stepped(state, outdoor_c, 0.0).tent_c
        return (tent_c - without_c) / self.tent_gain_k_per_w


class House:
    """Parameters with steps kept. Without lag of element and probe: the steps are long."""

    def __init__(self, parameters: Parameters, *, tent: bool = False) -> None:
        """tent: the inner cover, if there is one, is followed too."""
        self._p = parameters._replace(
            element_lag_s=0.0, probe_lag_s=0.0, sky_w_per_k=0.0, sun_m2=0.0,
            tent_j_per_k=parameters.tent_j_per_k if tent else 0.0,
            floor_j_per_k=0.0, floor_w_per_k=0.0, ground_w_per_k=0.0,
        )  # fmt: skip
        self._tent = self._p.tent_j_per_k > 0.0
        self.usual = _Air(self._p)
        self._by_share = {1.0: self.usual}

    def in_wind(self, wind_m_s: float | None) -> _Air:
        """None: nobody knows of any wind."""
        share = 1.0 if wind_m_s is None else loss_share(wind_m_s)
        if share not in self._by_share:
            windy = self._p._replace(loss_w_per_k=self._p.loss_w_per_k * share)
            self._by_share[share] = _Air(windy)
        return self._by_share[share]

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
        tent_c = next((each.tent_c for each in past if each.tent_c is not None), first_c)
        state, suns_w = _uniform(first_c)._replace(tent_c=tent_c), []
        outdoor_c = next((each.outdoor_c for each in past if each.outdoor_c is not None), first_c)
        for each in past:
            outdoor_c = outdoor_c if each.outdoor_c is None else each.outdoor_c
            tent_w = 0.0
            if self._tent and each.tent_c is not None:
                tent_w = self.usual.wanted_in_tent_w(state, outdoor_c, each.tent_c)
            power_w, sun_w = self._explained(state, outdoor_c, each, tent_w)
            state = self.usual.stepped(state, outdoor_c, power_w, sun_w, tent_w)
            suns_w.append(sun_w)
        return state, suns_w

    def ahead(
        self,
        state: State,
        course: Course,
        from_utc_s: float,
        to_utc_s: float,
        *,
        heaters: Sequence[Heater] = (),
        sun_w: float = 0.0,
        sunset_utc_s: float = 0.0,
        price: Callable[[float], float] | None = None,
        under_tent: bool = False,
    ) -> Night:
        """Until to_utc_s, of the house's air or of that under its tent. sun_w: what the sun
        gives in the beginning; it sinks to nothing by sunset. price: of a kWh at a moment.
        Where the course tells of wind, the house loses as much as it does in that."""
        order = sorted(heaters, key=lambda heater: (not heater.tented, -heater.hold_c))
        cost = limit_s = used_j = 0.0
        at_s = low_utc_s = from_utc_s
        points = [Point(at_s, state.tent_c if under_tent else state.air_c)]
        resting = set(order)
        low_c = points[0].temp_c
        while at_s < to_utc_s:
            outdoor_c = course.at(at_s + STEP_S / 2.0)
            left = (sunset_utc_s - at_s) / max(STEP_S, sunset_utc_s - from_utc_s)
            lit_w = sun_w * max(0.0, left)
            air = self.in_wind(course.wind_at(at_s + STEP_S / 2.0))
            given = _given(air, order, state, outdoor_c, lit_w, resting)
            state = air.stepped(state, outdoor_c, given.house_w, lit_w, given.tent_w)
            if price is not None and given.counted_w > 0.0:
                cost += given.counted_w * STEP_S / J_PER_KWH * price(at_s)
            at_s += STEP_S
            used_j += given.counted_w * STEP_S
            limit_s += STEP_S if given.at_limit else 0.0
            inside_c = state.tent_c if under_tent else state.air_c
            if inside_c < low_c:
                low_c, low_utc_s = inside_c, at_s
            if at_s - points[-1].utc_s >= _SHOWN_EVERY_S or at_s >= to_utc_s:
                points.append(Point(at_s, inside_c))
        return Night(
            low_c, low_utc_s, limit_s, used_j / J_PER_KWH,
            None if price is None else cost, tuple(points),
        )  # fmt: skip

    def _explained(
        self, state: State, outdoor_c: float, measured: Measured, tent_w: float
    ) -> tuple[float, float]:
        """Heat and sun that bring the air where it was measured; where nothing was, the heater."""
        if measured.inside_c is None:
            return measured.heater_w, 0.0
        wanted_w = self.usual.wanted_w(state, outdoor_c, measured.inside_c, tent_w=tent_w)
        more_w = wanted_w - measured.heater_w
        if not measured.lit or more_w <= 0.0:
            return wanted_w, 0.0
        return measured.heater_w, more_w * self.usual.gain_k_per_w / self.usual.gain_by_sun_k_per_w


class _Given(NamedTuple):
    house_w: float
    tent_w: float
    counted_w: float
    at_limit: bool


def _given(
    air: _Air,
    heaters: Sequence[Heater],
    state: State,
    outdoor_c: float,
    sun_w: float,
    resting: set[Heater],
) -> _Given:
    """What they give in this step; those under the tent come first. resting: told on from
    step to step."""
    house_w = tent_w = counted_w = 0.0
    at_limit = False
    for heater in heaters:
        if heater.tented:
            gain_k_per_w = air.tent_gain_k_per_w
            wanted_w = air.wanted_in_tent_w(state, outdoor_c, heater.hold_c) - tent_w
        else:
            gain_k_per_w = air.gain_k_per_w
            wanted_w = air.wanted_w(state, outdoor_c, heater.hold_c, sun_w, tent_w) - house_w
        if wanted_w <= 0.0:
            resting.add(heater)
        elif heater in resting and not _has_fallen(heater, state):
            continue
        else:
            resting.discard(heater)
        power_w = min(heater.power_w, max(0.0, wanted_w))
        if heater.tented:
            tent_w += power_w
        else:
            house_w += power_w
        if heater.counts:
            counted_w += power_w
            # To climb from where it starts takes a while, and is no limit.
            least_w = wanted_w - heater.climb_k / gain_k_per_w
            at_limit = at_limit or least_w > heater.power_w
    return _Given(house_w, tent_w, counted_w, at_limit)


def _has_fallen(heater: Heater, state: State) -> bool:
    inside_c = state.tent_c if heater.tented else state.air_c
    return heater.starts_c is None or inside_c <= heater.starts_c


def _uniform(temp_c: float) -> State:
    return State(
        0.0, temp_c, temp_c, temp_c, 0.0, temp_c,
        store_c=temp_c, floor_c=temp_c, tent_c=temp_c, tent_probe_c=temp_c,
    )  # fmt: skip
