"""One rehearsal: control.step, tick after tick, in the modelled house.

Lives here: the loop, under a clock turned by hand, and how heat is metered in it: as
control says, or by an ideal heater. Does not live here: what breaks (faults.py), what is
written down (ledger.py).
"""

import math
import time
from collections.abc import Callable
from typing import NamedTuple

from greenkeeper import control
from greenkeeper.control import Plan
from greenkeeper.house.glass import Glass
from greenkeeper.house.network import Parameters
from greenkeeper.house.simulated import LIVED_IN_S, SimulatedHouse, lived_in
from greenkeeper.house.wax import Wax
from greenkeeper.house.weather import Weather
from greenkeeper.learned import Learned
from greenkeeper.model import Event, Memory, Morning, Now, Phase
from greenkeeper.rehearsal import foretold
from greenkeeper.rehearsal.bill import Bill
from greenkeeper.rehearsal.faults import Damage, Fault, damage
from greenkeeper.rehearsal.keeper import Keeper
from greenkeeper.rehearsal.ledger import (
    AFTER_HARD,
    OutputFigures,
    Result,
    Told,
    ZoneLedger,
    beyond,
)
from greenkeeper.rehearsal.rig import Rig
from greenkeeper.settings.derived import heat_power_w
from greenkeeper.settings.schema import Settings

HOUR_S = 3600.0
LEAD_S = 24 * HOUR_S  # lived through before the span, and not counted
# Lock-outs wait for a person: somebody who was told in the night comes in the morning.
COMES_AFTER_S = 12 * HOUR_S
_MONO_S = 1000.0  # where the monotonic clock stands at the start
_JOULES_PER_KWH = 3.6e6


class Stage(NamedTuple):
    """The house and the weather to rehearse in."""

    parameters: Parameters
    weather: Weather
    glass: Glass | None
    wax: Wax
    earliest_utc_s: float | None = None  # before this the weather does not reach; None: it does
    learned: Learned | None = None  # what the keeper knows of the house
    latitude: float | None = None  # where the weather is from. None: where the settings say
    longitude: float | None = None


class Way(NamedTuple):
    """How heat is metered, where it is not simply as the settings say."""

    shift_k: float = 0.0  # added to every heat setpoint, or to what the ideal heater holds
    hysteresis_k: float | None = None  # instead of every zone's own way
    proportion: bool = False  # in every heated zone, whatever the settings say
    ahead_k: float | None = None  # likewise, a hysteresis of so much that looks ahead
    stores: bool | None = None  # whether it is heated ahead in cheap hours, whatever they say
    leaves_dawn: bool | None = None  # likewise, whether a clear dawn is left to the sun
    ideal: bool = False  # a perfectly modulated heater, without lag, that knows the air
    boundless: bool = False  # an ideal heater of any power


AS_SET = Way()


class Span(NamedTuple):
    from_utc_s: float
    to_utc_s: float


def rehearse(
    settings: Settings,
    stage: Stage,
    span: Span,
    way: Way = AS_SET,
    *,
    fault: Fault | None = None,
    leave_out: frozenset[int] = frozenset(),
    progress: Callable[[float], None] | None = None,
) -> Result:
    """Live through the span. progress is told the share that is done, once a modelled day.

    leave_out: hours that do not count for ZoneFigures.held_low_c.
    Raises RehearsalError for settings that say too little.
    """
    return _Run(settings, stage, span, way, fault, leave_out).through(progress)


class _Run:
    def __init__(
        self,
        settings: Settings,
        stage: Stage,
        span: Span,
        way: Way,
        fault: Fault | None,
        leave_out: frozenset[int],
    ) -> None:
        self._settings, self._span, self._way = settings, span, way
        followed = _at_the_weathers_place(
            _without_what_is_not_modelled(_metered(settings, way)), stage
        )
        plan = control.make_plan(followed, stage.learned)
        self._plan = _undivided(plan) if way.ideal else altered(plan, way)
        self._began = _beginning(stage, span.from_utc_s)
        self._house = _house(stage, self._began, way)
        self._rig = Rig(settings, self._plan, self._house)
        self._fault = fault
        self._damage = damage(fault, self._rig, self._plan) if fault is not None else Damage()
        self._broken = False
        self._dt_s = settings.poll_s
        self._leave_out = leave_out
        self._zones = [
            ZoneLedger(
                zone.name, zone.minimum_c, zone.maximum_c,
                dt_s=self._dt_s, leave_out=leave_out,
            )
            for zone in self._plan.zones
        ]  # fmt: skip
        self._tented = [
            settings.house.tent is not None and settings.house.tent.zone == zone.name
            for zone in self._plan.zones
        ]
        self._full_w = sum(self._rig.powers_w.values())
        self._ideal = None
        if way.ideal:
            goal_c = target_c(self._plan) + way.shift_k
            self._ideal = _ideal_of(settings, self._plan, self._rig, self._tented, goal_c)
            if way.boundless:
                self._ideal = self._ideal._replace(most_w=math.inf)
        mornings = _mornings(followed, stage.weather) if self._plan.dawns else None
        self._foretold = mornings is not None
        self._keeper = Keeper(
            self._plan, self._rig, control.fresh(self._plan, self._began),
            "" if self._ideal is None else self._ideal.heater, mornings,
        )  # fmt: skip
        self._told: dict[tuple[str, str], Told] = {}
        self._cleared = 0
        self._hard: set[int] = set()  # from the span's beginning, below 0 before it
        self._used_j = 0.0
        self._bill = Bill(settings, self._rig.powers_w)

    def through(self, progress: Callable[[float], None] | None) -> Result:
        began_s = time.perf_counter()
        from_s, to_s = self._span
        hours = int((to_s - from_s) // HOUR_S)
        ticks = round(HOUR_S / self._dt_s)
        before = int((from_s - self._began.utc_s) // HOUR_S)
        for hour in range(-before, 0):
            self._hour(hour, ticks)
        self._forget()
        for hour in range(hours):
            self._hour(hour, ticks)
            if progress is not None and hour % 24 == 0:
                progress(hour / hours)
        return self._result(hours * ticks, time.perf_counter() - began_s)

    def _hour(self, hour: int, ticks: int) -> None:
        """The inner loop: everything in it happens three million times a year."""
        house, decide, ideal = self._house, self._keeper.tick, self._ideal
        dt_s, zones = self._dt_s, list(zip(self._zones, self._tented, strict=True))
        from_utc_s = self._span.from_utc_s + hour * HOUR_S
        mono_s = _MONO_S + from_utc_s - self._began.utc_s
        used_j, outdoor_c, cooled = house.used_j, 0.0, 0
        locked = bool(self._keeper.memory.latches)
        if locked and self._fault is None:  # what breaks shows what the keeper does alone
            self._come_and_clear(from_utc_s)
        for tick in range(ticks):
            now_s, utc_s = mono_s + tick * dt_s, from_utc_s + tick * dt_s
            house.advance_to_s(now_s)
            if self._fault is not None:
                self._break_or_mend(self._fault, now_s, utc_s)
            if not (self._broken and self._damage.no_power) and (events := decide(now_s, utc_s)):
                self._note(events)
            if ideal is not None and ideal.hold(house, dt_s):
                self._hard.add(hour)
            state = house.state
            for zone, tented in zones:
                zone.take(state.tent_c if tented else state.air_c, utc_s)
            outdoor_c += house.surroundings.outdoor_c
            cooled += house.is_aired
        house.advance_to_s(mono_s + HOUR_S)
        used_kwh = (house.used_j - used_j) / _JOULES_PER_KWH
        ended_s = mono_s + HOUR_S
        cost = self._bill.hour(from_utc_s, used_kwh, lambda name: self._rig.worked_s(name, ended_s))
        full_kwh = self._full_w / 1000.0
        for zone, _ in zones:
            zone.end_hour(
                from_utc_s, outdoor_c / ticks, used_kwh,
                used_kwh / full_kwh if full_kwh else 0.0, cooled / ticks, cost,
                locked=locked,
            )  # fmt: skip

    def _come_and_clear(self, utc_s: float) -> None:
        for name, latch in self._keeper.memory.latches.items():
            if utc_s - latch.since_utc_s >= COMES_AFTER_S:
                self._keeper.clear(name)

    def _forget(self) -> None:
        """The span begins: what the day before was there for is done."""
        now_s = _MONO_S + self._span.from_utc_s - self._began.utc_s
        memory = self._keeper.memory
        self._rig.count_from(now_s)
        self._bill.forget()
        for zone in self._zones:
            zone.forget()
        self._told = {
            key: Told(*key, 1, self._span.from_utc_s, each.alarm.text)
            for key, each in memory.alarms.items()
            if each.active
        }
        self._cleared = 0
        self._hard = {hour for hour in self._hard if hour >= -AFTER_HARD}  # the house still knows
        self._used_j = self._house.used_j
        outputs = {name: each._replace(operations=0) for name, each in memory.outputs.items()}
        self._keeper.memory = memory._replace(outputs=outputs)

    def _break_or_mend(self, fault: Fault, now_s: float, utc_s: float) -> None:
        broken = fault.from_utc_s <= utc_s < fault.to_utc_s
        if broken == self._broken:
            return
        self._broken = broken
        damaged = self._damage if broken else Damage()
        self._house.break_down(damaged.house)
        self._rig.dead = damaged.dead_probes
        memory = self._keeper.memory
        if self._damage.no_power:
            self._rig.all_off(now_s)
            if not broken:  # back again, with what is kept over a restart
                counts = {name: each.operations for name, each in memory.outputs.items()}
                now = Now(now_s, utc_s, True)
                memory = control.fresh(self._plan, now, memory.latches, counts)
        self._keeper.memory = memory

    def _note(self, events: tuple[Event, ...]) -> None:
        for event in events:
            if event.code == "latch-cleared":
                self._cleared += 1
            if event.phase is Phase.RAISED:
                key = event.code, event.subject
                known = self._told.get(key)
                if known is None:
                    self._told[key] = Told(*key, 1, event.utc_s, event.text)
                else:
                    self._told[key] = known._replace(times=known.times + 1)

    def _result(self, ticks: int, took_s: float) -> Result:
        memory = self._keeper.memory
        self._rig.all_off(_MONO_S + self._span.to_utc_s - self._began.utc_s)
        return Result(
            from_utc_s=self._span.from_utc_s,
            to_utc_s=self._span.to_utc_s,
            ticks=ticks,
            zones=tuple(zone.figures() for zone in self._zones),
            outputs=tuple(self._output(name, memory) for name in self._plan.switched),
            kwh=(self._house.used_j - self._used_j) / _JOULES_PER_KWH,
            told=tuple(sorted(self._told.values(), key=lambda told: told.first_utc_s)),
            cost=self._bill.cost,
            hard_hours=frozenset(hour for hour in self._hard if hour >= 0),
            took_s=took_s,
            cleared=self._cleared,
            foretold=self._foretold,
            beyond_hours=beyond(self._hard, round(ticks * self._dt_s / HOUR_S)),
        )

    def _output(self, name: str, memory: Memory) -> OutputFigures:
        power_w = self._rig.powers_w.get(name)
        on_s = self._rig.on_s[name]
        # What is broken draws more or less than it was told to.
        told_of = power_w is not None and self._fault is None
        return OutputFigures(
            name=name,
            heats=power_w is not None,
            on_s=on_s,
            switched_on=memory.outputs[name].operations,
            longest_on_s=self._rig.longest_on_s[name],
            kwh=on_s * (power_w or 0.0) / _JOULES_PER_KWH if told_of else None,
            cost=self._bill.of(name) if told_of else None,
        )


class _Ideal(NamedTuple):
    """A perfectly modulated heater: exactly what holds the target until the next tick."""

    heater: str
    most_w: float
    target_c: float
    in_tent: bool

    def hold(self, house: SimulatedHouse, dt_s: float) -> bool:
        """Whether all its power was not enough."""
        wanted_w = house.power_to_hold(self.target_c, dt_s, tent=self.in_tent)
        power_w = min(self.most_w, max(0.0, wanted_w))
        house.set_heater(power_w, name=self.heater, tent=self.in_tent)
        return wanted_w > self.most_w


def _ideal_of(
    settings: Settings, plan: Plan, rig: Rig, tented: list[bool], goal_c: float
) -> _Ideal:
    """In place of the first heated zone's heaters; others run as they are set."""
    at = next(i for i, zone in enumerate(plan.zones) if zone.heat is not None)
    heat = plan.zones[at].heat
    assert heat is not None  # noqa: S101 - it was looked for
    set_ = settings.zones[plan.zones[at].name].heat
    most_w = None if set_ is None else heat_power_w(settings, set_)
    return _Ideal(heat.output, most_w or rig.powers_w[heat.output], goal_c, tented[at])


def _undivided(plan: Plan) -> Plan:
    """The ideal heater stands for both of two: no second works beside it."""
    at = next((i for i, zone in enumerate(plan.zones) if zone.heat is not None), None)
    return plan._replace(
        zones=tuple(
            zone._replace(stages=None) if i == at else zone for i, zone in enumerate(plan.zones)
        )
    )


def target_c(plan: Plan) -> float:
    """What the ideal heater holds, and the strategies are trimmed to: the tenderest plant's
    minimum of the first heated zone, or its lowest heat setpoint where no plant is named."""
    zone = next(zone for zone in plan.zones if zone.heat is not None)
    assert zone.heat is not None  # noqa: S101 - it was looked for
    if zone.minimum_c is not None:
        return zone.minimum_c
    return min(zone.heat.day_c, zone.heat.night_c)


def altered(plan: Plan, way: Way) -> Plan:
    """The plan with its heat metered that way."""
    if way.shift_k == 0.0 and way.hysteresis_k is None:
        return plan
    zones = []
    for zone in plan.zones:
        heat = zone.heat
        if heat is not None:
            heat = heat._replace(
                day_c=heat.day_c + way.shift_k,
                night_c=heat.night_c + way.shift_k,
                unsure_c=heat.unsure_c + way.shift_k,
                hysteresis_k=way.hysteresis_k or heat.hysteresis_k,
            )
        pulses = zone.pulses if way.hysteresis_k is None else None
        zones.append(zone._replace(heat=heat, pulses=pulses))
    return plan._replace(zones=tuple(zones), pulses=any(zone.pulses is not None for zone in zones))


def _beginning(stage: Stage, from_utc_s: float) -> Now:
    """A day before the span, so that it begins in a house that was kept; less where the
    weather does not reach that far back."""
    before_s = LEAD_S
    if stage.earliest_utc_s is not None:
        reach_s = max(0.0, from_utc_s - stage.earliest_utc_s)
        before_s = min(LEAD_S, reach_s // HOUR_S * HOUR_S)
    return Now(_MONO_S, from_utc_s - before_s, True)


def _house(stage: Stage, began: Now, way: Way) -> SimulatedHouse:
    parameters = stage.parameters
    if way.ideal:
        parameters = parameters._replace(element_lag_s=0.0)
    reach_s = LIVED_IN_S
    if stage.earliest_utc_s is not None:
        reach_s = min(reach_s, max(0.0, began.utc_s - stage.earliest_utc_s))
    state = lived_in(parameters, stage.weather, began.utc_s, stage.glass, for_s=reach_s)
    return SimulatedHouse(
        parameters, stage.weather, began,
        state=state, glass=stage.glass, wax=stage.wax,
    )  # fmt: skip


def _mornings(settings: Settings, weather: Weather) -> Callable[[float], Morning | None] | None:
    site = settings.site
    if site.latitude is None or site.longitude is None:
        return None
    return foretold.mornings(weather, site.latitude, site.longitude)


def _metered(settings: Settings, way: Way) -> Settings:
    changes: dict[str, object] = {}
    if way.stores is not None:
        changes["ahead_in_cheap_hours"] = way.stores
    if way.leaves_dawn is not None:
        changes["leave_dawn_to_sun"] = way.leaves_dawn
    if way.proportion:
        changes |= {"strategy": "proportion"}
    elif way.ahead_k is not None:
        changes |= {"strategy": "hysteresis", "anticipate": True, "hysteresis_k": way.ahead_k}
    if not changes:
        return settings
    zones = {
        name: zone
        if zone.heat is None
        else zone.model_copy(update={"heat": zone.heat.model_copy(update=changes)})
        for name, zone in settings.zones.items()
    }
    return settings.model_copy(update={"zones": zones})


def _at_the_weathers_place(settings: Settings, stage: Stage) -> Settings:
    """Dark is where the sun of this weather is down. In another's dark, its sun would be
    taken for a heater that does not end."""
    site = settings.site
    if None in (stage.latitude, stage.longitude, site.latitude, site.longitude):
        return settings
    there = {"latitude": stage.latitude, "longitude": stage.longitude}
    return settings.model_copy(update={"site": site.model_copy(update=there)})


def _without_what_is_not_modelled(settings: Settings) -> Settings:
    """Contacts and hygrometers have no counterpart in the modelled house."""
    zones = {
        name: zone.model_copy(update={"hygrometer": None}) for name, zone in settings.zones.items()
    }
    return settings.model_copy(update={"inputs": {}, "hygrometers": {}, "zones": zones})
