"""A heating season hour by hour: sun, stored warmth, wind and all that the weather tells.

Lives here: the balance of one house held by an ideal heater, step by step. Does not live
here: a real heater and its switching (rehearsal), the weather file (records/).

The house is air without a capacity of its own, and warm bodies that exchange heat with
it: pots, soil and paving, and water. In every step, with the air's temperature T steady,
each body gives g (T0 - T) on average, g = C (1 - exp(-H dt/C))/dt: the exact answer of one
body of capacity C and coupling H, so that no energy is lost or found. The least heat
that keeps T at its setpoint follows from one line. The idea is the simple hourly method
of ISO 13790 (from memory), with two bodies in place of its one.
"""

import math
import time
from collections.abc import Sequence
from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.house import irradiance
from greenkeeper.house.envelope import Envelope
from greenkeeper.house.glass import kept_share
from greenkeeper.house.heatloss import WATER_J_L_K, WATER_W_K_L
from greenkeeper.house.model import SUN_TO_AIR
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


class Body(NamedTuple):
    """Something that stores warmth, through one step."""

    capacity_j_k: float
    given_w_k: float  # g above
    left: float  # what is left of a difference to the air after the step


class Hours:
    """A weather record made ready: the sun on every plane worked out once."""

    def __init__(
        self,
        record: Record,
        planes: Sequence[Plane],
        place: Place | None,
        night_minutes: tuple[int, int],
        utc_offset_s: Sequence[float] | None = None,
    ) -> None:
        """place: where the house stands, if the record does not say. night_minutes: from when
        to when the night's setpoint holds, in minutes of the civil day. utc_offset_s: civil
        time less UTC of each row; without it the record's own standard time."""
        place = record.place or place
        self.words = "hour by hour"
        self.lowest_c: float | None = min(record.columns.outdoor_c)
        self.step_s = record.step_s
        self.days = len(record) * record.step_s / 86_400.0
        self.has_sun = record.columns.sun_w_m2 is not None and place is not None
        self.steps = tuple(_steps(record, place, night_minutes, utc_offset_s))
        self.suns: dict[Plane, list[float]] = (
            _suns(record, planes, place) if place is not None and self.has_sun else {}
        )

    def months_c(self) -> tuple[float | None, ...]:
        known: list[list[float]] = [[] for _ in range(MONTHS)]
        for step in self.steps:
            known[step.month].append(step.outdoor_c)
        return tuple(sum(each) / len(each) if each else None for each in known)

    def demand(self, case: Case) -> Demand:
        balance = _Balance(self, case)
        settling = min(len(self.steps), round(_SETTLING_DAYS * 86_400.0 / self.step_s))
        balance.settle(settling)
        heats_w = balance.run()
        step_h = self.step_s / 3600.0
        months = [0.0] * MONTHS
        for step, heat_w in zip(self.steps, heats_w, strict=True):
            months[step.month] += heat_w * step_h / W_PER_KW
        years = max(1.0, self.days / 365.25) if self.days >= 360.0 else 1.0
        return Demand(
            tuple(kwh / years for kwh in months),
            balance.without_sun_w * step_h / W_PER_KW / years,
            max(heats_w),
            lambda power_w: sum(step_h for heat_w in heats_w if heat_w > power_w) / years,
        )


class _Balance:
    """One case on its way through the hours."""

    def __init__(self, hours: Hours, case: Case) -> None:
        self._hours, self._case = hours, case
        self._stages = Stages(case)
        self._in_force: dict[tuple[int, bool], frozenset[str]] = {}
        self._stage: dict[frozenset[str], tuple[float, list[float] | None, tuple[Body, ...]]] = {}
        start_c = max(case.night_c, hours.steps[0].outdoor_c)
        self._bodies_c = [start_c, start_c]
        self.without_sun_w = 0.0  # summed over the steps

    def settle(self, steps: int) -> None:
        """Live through the first days once, to begin as warm as they leave the house."""
        for index in range(steps):
            self._heat_w(index)
        self.without_sun_w = 0.0

    def run(self) -> list[float]:
        """Heat in every step, in W."""
        return [self._heat_w(index) for index in range(len(self._hours.steps))]

    def _heat_w(self, index: int) -> float:
        step = self._hours.steps[index]
        loss_w_k, suns, bodies = self._now(step.day, step.dark)
        loss_w_k *= step.wind_share
        sun_w = suns[index] if suns is not None else 0.0
        held_c = self._case.night_c if step.night else self._case.day_c
        self.without_sun_w += max(0.0, loss_w_k * (held_c - step.outdoor_c))
        kept_w = (1.0 - SUN_TO_AIR) * sun_w  # in pots and paving, from where it comes out later
        given_w = SUN_TO_AIR * sun_w + loss_w_k * step.outdoor_c
        all_w_k = loss_w_k
        pots = bodies[0]
        coupling_w_k = self._case.house.mass_w_per_k
        given_w += kept_w * (1.0 - pots.given_w_k / coupling_w_k)
        for body, body_c in zip(bodies, self._bodies_c, strict=True):
            given_w += body.given_w_k * body_c
            all_w_k += body.given_w_k
        air_c = given_w / all_w_k
        heat_w = 0.0
        if air_c < held_c:
            heat_w = all_w_k * held_c - given_w
            air_c = held_c
        elif air_c > self._case.vent_c:
            air_c = min(air_c, max(self._case.vent_c, step.outdoor_c))
        drawn_c = (air_c + kept_w / coupling_w_k, air_c)
        self._bodies_c = [
            to_c + (body_c - to_c) * body.left
            for body, body_c, to_c in zip(bodies, self._bodies_c, drawn_c, strict=True)
        ]
        return heat_w

    def _now(self, day: int, dark: bool) -> tuple[float, list[float] | None, tuple[Body, ...]]:
        key = (day, dark)
        if key not in self._in_force:
            self._in_force[key] = self._stages.in_force(day, dark)
        names = self._in_force[key]
        if names not in self._stage:
            sheet = self._stages.of(names)
            self._stage[names] = (
                self._case.loss_w_k(sheet),
                self._sun_w(sheet),
                self._bodies(sheet),
            )
        return self._stage[names]

    def _bodies(self, sheet: Envelope) -> tuple[Body, ...]:
        house, dt_s = self._case.house, self._hours.step_s
        return (
            _body(house.mass_kj_per_k * 1000.0, house.mass_w_per_k, dt_s),
            _body(sheet.water_l * WATER_J_L_K, sheet.water_l * WATER_W_K_L, dt_s),
        )

    def _sun_w(self, sheet: Envelope) -> list[float] | None:
        """Sun that stays inside as heat, in every step."""
        if not self._hours.has_sun:
            return None
        total = [0.0] * len(self._hours.steps)
        kept = kept_share(sheet.clear_m2, sheet.floor_m2)
        for surface in sheet.surfaces:
            clear_m2 = kept * surface.area_m2 * surface.transmittance
            if clear_m2 > 0.0:
                for index, w_m2 in enumerate(
                    self._hours.suns[(surface.slope_deg, surface.azimuth_deg)]
                ):
                    if w_m2:
                        total[index] += clear_m2 * w_m2
        return total


def _body(capacity_j_k: float, coupling_w_k: float, dt_s: float) -> Body:
    if capacity_j_k <= 0.0 or coupling_w_k <= 0.0:
        return Body(0.0, 0.0, 1.0)
    left = math.exp(-coupling_w_k * dt_s / capacity_j_k)
    return Body(capacity_j_k, capacity_j_k * (1.0 - left) / dt_s, left)


def _steps(
    record: Record,
    place: Place | None,
    night_minutes: tuple[int, int],
    utc_offset_s: Sequence[float] | None,
) -> list[Step]:
    found = []
    winds = record.columns.wind_m_s
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
    """Through one square metre that lets all light in square on: W, step by step."""
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
