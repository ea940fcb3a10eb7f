"""A heating season hour by hour: sun, stored warmth, wind, sky and soil.

Lives here: a weather record made ready, and one case's way through it. Does not live here:
the balance of one step (balance.py), a real heater and its switching (rehearsal), the
weather file (records/).
"""

import time
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.house import balance, irradiance
from greenkeeper.house.balance import Around, Body
from greenkeeper.house.envelope import Envelope, fitted
from greenkeeper.house.glass import kept_share
from greenkeeper.house.heatloss import WATER_J_L_K, WATER_W_K_L
from greenkeeper.house.model import SUN_TO_AIR, Parameters
from greenkeeper.house.records.record import Place, Record
from greenkeeper.house.seasonal import MONTHS, W_PER_KW, Case, Demand, Stages
from greenkeeper.house.wind import loss_share

_SETTLING_DAYS = 10.0  # several times what a small house remembers

Plane = tuple[float, float]  # slope, azimuth


class Step(NamedTuple):
    """What the weather is in one step, but for the sun on each plane."""

    month: int  # from 0
    day: int  # of the year: 1015 is 15 October
    dark: bool
    night: bool  # the night's setpoint holds
    outdoor_c: float
    wind_share: float  # of the loss, over that in a usual wind
    sky_k: float  # the sky above the air outside; 0 where nobody knows
    ground_c: float  # of the soil a metre down
    price: float  # of a kWh; 0 where there is no tariff


class Stage(NamedTuple):
    """The house with what is in place just now."""

    loss_w_k: float
    sky_w_k: float  # lost for each kelvin the sky is colder than the air
    suns_w: list[float] | None  # that stay inside as heat, step by step
    bodies: tuple[Body, ...]  # pots, the floor if it stands on soil, water if there is any


class Hours:
    """A weather record made ready: the sun on every plane worked out once."""

    def __init__(
        self,
        record: Record,
        planes: Sequence[Plane],
        place: Place | None,
        night_minutes: tuple[int, int],
        utc_offset_s: Sequence[float] | None = None,
        price: Callable[[int], float] | None = None,
    ) -> None:
        """place: where the house stands, if the record does not say. night_minutes: from when
        to when the night's setpoint holds, in minutes of the civil day. utc_offset_s: civil
        time less UTC of each row; without it the record's own standard time. price: of a kWh
        at a minute of the civil day."""
        place = record.place or place
        self.record = record
        self.words = "hour by hour"
        self.lowest_c: float | None = min(record.columns.outdoor_c)
        self.step_s = record.step_s
        self.days = len(record) * record.step_s / 86_400.0
        self.has_sun = record.columns.sun_w_m2 is not None and place is not None
        self.has_sky = record.columns.sky_c is not None
        self.is_priced = price is not None
        self.steps = tuple(_steps(record, place, night_minutes, utc_offset_s, price or _nothing))
        self.levels = tuple(max(0.0, w_m2) for w_m2 in record.columns.sun_w_m2 or ())
        self.suns: dict[Plane, list[float]] = (
            _suns(record, planes, place) if place is not None and self.has_sun else {}
        )

    def months_c(self) -> tuple[float | None, ...]:
        known: list[list[float]] = [[] for _ in range(MONTHS)]
        for step in self.steps:
            known[step.month].append(step.outdoor_c)
        return tuple(sum(each) / len(each) if each else None for each in known)

    def demand(self, case: Case) -> Demand:
        way = _Way(self, case)
        settling = min(len(self.steps), round(_SETTLING_DAYS * 86_400.0 / self.step_s))
        way.settle(settling)
        heats_w = way.run()
        step_h = self.step_s / 3600.0
        months, costs = [0.0] * MONTHS, [0.0] * MONTHS
        for step, heat_w in zip(self.steps, heats_w, strict=True):
            kwh = heat_w * step_h / W_PER_KW
            months[step.month] += kwh
            costs[step.month] += kwh * step.price
        years = max(1.0, self.days / 365.25) if self.days >= 360.0 else 1.0
        return Demand(
            tuple(kwh / years for kwh in months),
            way.without_sun_w * step_h / W_PER_KW / years,
            max(heats_w),
            lambda power_w: sum(step_h for heat_w in heats_w if heat_w > power_w) / years,
            tuple(cost / years for cost in costs) if self.is_priced else None,
        )


class _Way:
    """One case on its way through the hours."""

    def __init__(self, hours: Hours, case: Case) -> None:
        self._hours, self._case = hours, case
        self._parameters = Parameters.from_settings(case.house)
        self._stages = Stages(case)
        self._fitted = self._stages.of(fitted(case.house))
        self._in_force: dict[tuple[int, bool], frozenset[str]] = {}
        self._stage: dict[frozenset[str], Stage] = {}
        # Pots, floor and water, as they are when the first step begins.
        self._bodies_c = [max(case.night_c, hours.steps[0].outdoor_c)] * 3
        self.without_sun_w = 0.0  # summed over the steps

    def settle(self, steps: int) -> None:
        """Live through the first days once, to begin as warm as they leave the house."""
        for index in range(steps):
            self._heat_w(index)
        self.without_sun_w = 0.0

    def run(self) -> list[float]:
        """What the heater draws in every step, in W."""
        return [self._heat_w(index) for index in range(len(self._hours.steps))]

    def _heat_w(self, index: int) -> float:
        step = self._hours.steps[index]
        stage = self._now(step.day, step.dark)
        held_c = self._case.night_c if step.night else self._case.day_c
        loss_w_k = stage.loss_w_k * step.wind_share
        self.without_sun_w += max(0.0, loss_w_k * (held_c - step.outdoor_c))
        sun_w = stage.suns_w[index] if stage.suns_w is not None else 0.0
        given_w = SUN_TO_AIR * sun_w + stage.sky_w_k * step.sky_k
        gained_w = [each.to_soil_w_k * step.ground_c for each in stage.bodies]
        gained_w[0] += (1.0 - SUN_TO_AIR) * sun_w
        found = balance.held(
            stage.bodies,
            self._bodies_c[: len(stage.bodies)],
            gained_w,
            Around(loss_w_k, given_w, step.outdoor_c),
            held_c,
            self._case.vent_c,
        )
        for place, each in enumerate(stage.bodies):
            before_c = self._bodies_c[place]
            self._bodies_c[place] = each.after_c(before_c, found.air_c, gained_w[place])
        return found.heat_w / self._parameters.heat_to_air

    def _now(self, day: int, dark: bool) -> Stage:
        key = (day, dark)
        if key not in self._in_force:
            self._in_force[key] = self._stages.in_force(day, dark)
        names = self._in_force[key]
        if names not in self._stage:
            sheet = self._stages.of(names)
            self._stage[names] = Stage(
                self._case.loss_w_k(sheet),
                self._parameters.sky_w_per_k * sheet.skin_w_k / self._fitted.skin_w_k,
                self._suns_w(sheet),
                tuple(self._bodies(sheet)),
            )
        return self._stage[names]

    def _bodies(self, sheet: Envelope) -> Iterator[Body]:
        p, dt_s = self._parameters, self._hours.step_s
        yield balance.body(p.mass_j_per_k, p.mass_w_per_k, dt_s)
        if p.floor_j_per_k > 0.0:
            yield balance.body(p.floor_j_per_k, p.floor_w_per_k, dt_s, p.ground_w_per_k)
        if sheet.water_l > 0.0:
            capacity_j_k = sheet.water_l * WATER_J_L_K
            yield balance.body(capacity_j_k, sheet.water_l * WATER_W_K_L, dt_s)

    def _suns_w(self, sheet: Envelope) -> list[float] | None:
        """What of the sun stays inside as heat, in every step."""
        if not self._hours.has_sun:
            return None
        house = self._case.house
        if "sun_share" in house.model_fields_set:  # the owner knows better
            part = sheet.clear_m2 / self._fitted.clear_m2 if self._fitted.clear_m2 > 0.0 else 0.0
            level_m2 = house.sun_share * sheet.floor_m2 * part
            return [level_m2 * w_m2 for w_m2 in self._hours.levels]
        kept = kept_share(sheet.clear_m2, sheet.floor_m2)
        total = [0.0] * len(self._hours.steps)
        for surface in sheet.surfaces:
            clear_m2 = kept * surface.area_m2 * surface.transmittance
            if clear_m2 > 0.0:
                values = self._hours.suns[(surface.slope_deg, surface.azimuth_deg)]
                for index, w_m2 in enumerate(values):
                    if w_m2:
                        total[index] += clear_m2 * w_m2
        return total


def _nothing(_: int) -> float:
    return 0.0


def _steps(
    record: Record,
    place: Place | None,
    night_minutes: tuple[int, int],
    utc_offset_s: Sequence[float] | None,
    price: Callable[[int], float],
) -> list[Step]:
    found = []
    winds, skies = record.columns.wind_m_s, record.columns.sky_c
    for row, outdoor_c in enumerate(record.columns.outdoor_c):
        middle_s = record.row_utc_s(row) - 0.5 * record.step_s
        offset_s = (
            record.local_s(row) - record.row_utc_s(row)
            if utc_offset_s is None
            else utc_offset_s[row]
        )
        civil = time.gmtime(middle_s + offset_s)
        minute = 60 * civil.tm_hour + civil.tm_min
        found.append(
            Step(
                civil.tm_mon - 1,
                100 * civil.tm_mon + civil.tm_mday,
                _is_dark(middle_s, place, minute),
                _between(minute, *night_minutes),
                outdoor_c,
                1.0 if winds is None else loss_share(winds[row]),
                0.0 if skies is None else skies[row] - outdoor_c,
                record.at(record.row_utc_s(row)).ground_c or 0.0,
                price(minute),
            )
        )
    return found


def _is_dark(utc_s: float, place: Place | None, minute: int) -> bool:
    """Below the horizon; where nobody knows the place, from six in the evening to six."""
    if place is None:
        return _between(minute, 18 * 60, 6 * 60)
    return sun.elevation_deg(utc_s, place.latitude, place.longitude) < 0.0


def _between(minute: int, begins: int, ends: int) -> bool:
    return begins <= minute < ends if begins <= ends else minute >= begins or minute < ends


def _suns(record: Record, planes: Sequence[Plane], place: Place) -> dict[Plane, list[float]]:
    """Light through one square metre that lets all of it through, in W, step by step."""
    levels, diffuses = record.columns.sun_w_m2 or [], record.columns.diffuse_w_m2
    found: dict[Plane, list[float]] = {plane: [0.0] * len(levels) for plane in planes}
    for row, level_w_m2 in enumerate(levels):
        if level_w_m2 <= 0.0:
            continue
        middle_s = record.row_utc_s(row) - 0.5 * record.step_s
        position = sun.position(middle_s, place.latitude, place.longitude)
        if diffuses is None:
            sky = irradiance.split(level_w_m2, position, middle_s)
        else:
            sky = irradiance.told_apart(level_w_m2, diffuses[row], position)
        for (slope_deg, azimuth_deg), values in found.items():
            on_it = irradiance.on_plane(position, sky, slope_deg, azimuth_deg)
            facing = irradiance.facing_cosine(position, slope_deg, azimuth_deg)
            passed_w_m2 = on_it.direct_w_m2 * irradiance.passes(facing)
            passed_w_m2 += on_it.diffuse_w_m2 * irradiance.DIFFUSE_PASSES
            values[row] = passed_w_m2
    return found
