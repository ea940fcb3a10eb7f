"""The settings, boiled down to the figures a tick needs.

Lives here: everything that depends on the settings alone, worked out once instead of
three million times in a rehearsed winter. Does not live here: anything that changes
from tick to tick. A plan is immutable; new settings make a new plan.
"""

import math
from collections.abc import Iterable, Mapping
from datetime import tzinfo
from typing import NamedTuple

from greenkeeper.control import observer
from greenkeeper.control.figures import figures_of
from greenkeeper.control.gear import Companion, Gear, Guess, Isolator, gear_of, guess_of
from greenkeeper.control.storing import StorePlan, store_plan
from greenkeeper.control.watching.parts import WatchPlan, watch_plan
from greenkeeper.learned import Learned
from greenkeeper.model import Mode
from greenkeeper.settings import derived
from greenkeeper.settings.schema import Cool, Heat, Plant, Settings, Zone
from greenkeeper.settings.switches import GpioOutput

# Two heaters change places after so many closings of the first; and however slow a house is, the
# second waits no longer than this before it joins.
_TURN_CLOSINGS = 20.0
_LONGEST_WAIT_S = 1800.0


class ProbePlan(NamedTuple):
    """How one probe's numbers are judged; settings/schema.py says what each means."""

    offset_k: float
    stale_s: float
    lowest_c: float
    highest_c: float
    jump_k: float
    jump_confirm_s: float
    frozen_k: float = 1.0
    neighbours: tuple[str, ...] = ()  # whose movement shows that it stands still
    flaky_from: float = 36.0  # failed readings in an hour that are too many
    alone: bool = False  # none of those is in the same air
    warmed_by: tuple[str, ...] = ()  # the heaters that may warm it
    heated_by: tuple[str, ...] = ()  # those of its own zone: it must feel them
    zoned: bool = False  # in a zone. Where one of no zone hangs, nobody says: it may be outdoors


class HygrometerPlan(NamedTuple):
    """How one hygrometer's numbers are judged; settings/damp.py says what each means."""

    beside: str | None
    offset_pct: float
    stale_s: float
    lowest_pct: float
    frozen_s: float


class WetnessPlan(NamedTuple):
    """When damp is told; settings/damp.py says what each means."""

    hygrometer: str
    wet_pct: float
    leaf_below_k: float
    mould_from_c: float
    mould_after_s: float


class AirPlan(NamedTuple):
    """When a zone is aired; settings/damp.py says what each means."""

    output: str
    hygrometer: str
    above_pct: float
    off_pct: float
    drier_g_m3: float
    least_c: float  # the coldest probe must stay above this
    over_heat_k: float  # and so far above where heat goes on just now, ordered or not
    outdoor_least_c: float
    for_s: float
    rest_s: float
    w_per_k: float  # heat that it lets out: an estimate, the modelled house's figure
    closes_blind: bool  # a vent that only airs: without sight it has no reason to be open


class Points(NamedTuple):
    """Where one thermostat switches, by day and by night.

    unsure_c holds while civil time cannot be trusted: the warmer of the two, so that
    no plant goes cold for want of a clock.
    """

    output: str
    day_c: float
    night_c: float
    unsure_c: float
    hysteresis_k: float


class PulsePlan(NamedTuple):
    """How one zone is heated by one that looks ahead: control/proportion.py, anticipation.py."""

    output: str
    figures: observer.Figures
    gains: tuple[observer.Gain, ...]
    known: bool  # the figures are this house's, learned or measured; else anybody's
    astray_k: float  # where the air may be, unforeseen, when heat begun now arrives: observer.py
    least_on_s: float
    least_off_s: float
    closings_a_year: float | None  # what its relay may spend. None: nobody counts
    band_k: float | None = None  # a hysteresis that looks ahead, and its band. None: in pulses


class StagePlan(NamedTuple):
    """Two heaters of one zone: control/stages.py."""

    outputs: tuple[str, str]  # as the settings name them
    powers: tuple[float, float]  # watts, or 1 each where one is not stated
    together: bool  # the circuit bears both
    takes_turns: bool
    rated: tuple[float, float]  # closings that count as equal wear
    turn_after: float  # the first is worn by so much more, in shares of rated
    lag_s: float  # from switching to the first sign of warmth
    wait_s: float  # and until most of it shows


class ZonePlan(NamedTuple):
    name: str
    probes: tuple[str, ...]
    ceiling_probes: tuple[str, ...]  # the zone's own, and those that hang in no zone
    heat: Points | None
    cool: Points | None
    ceiling_c: float
    ceiling_needs_hand: bool
    disagree_k: float
    disagree_s: float
    alone_k: float  # a probe that stands alone counts as no further from the others
    minimum_c: float | None  # of the tenderest plant
    tenderest: str  # the names of the plants with that minimum
    maximum_c: float | None
    most_heat_shy: str
    guess: Guess | None = None  # heat in frost while it cannot see; None: none
    wetness: WetnessPlan | None = None  # None: it has no hygrometer
    ordered_c: tuple[float, float] | None = None  # a setpoint may be ordered between these
    switchable: bool = False  # it may be ordered off
    air: AirPlan | None = None  # None: it is not aired
    pulses: PulsePlan | None = None  # None: plain hysteresis decides
    stages: StagePlan | None = None  # None: it has one heater
    store: StorePlan | None = None  # None: it is not heated ahead, or too little is known for it
    leaves_dawn: bool = False  # a little colder until the sun of a clear morning is up


class OutputPlan(NamedTuple):
    """A heater or a fan, and what must be on before or beside a heater."""

    name: str
    mode: Mode
    min_on_s: float
    min_off_s: float
    longest_on_s: float | None = None  # None: as long as it is wanted
    isolators: tuple[Isolator, ...] = ()
    companions: tuple[Companion, ...] = ()


class Circuit(NamedTuple):
    """What feeds the heaters."""

    most_w: float
    powers_w: Mapping[str, float]  # of every heater


class Plan(NamedTuple):
    probes: Mapping[str, ProbePlan]
    must_move: tuple[tuple[str, float], ...]  # probes, and how long they may stand still
    zones: tuple[ZonePlan, ...]
    outputs: tuple[OutputPlan, ...]  # what zones heat with, then what they cool with; each once
    gear: Gear
    guesses: bool  # some zone has a guess
    airs: bool  # some zone may be aired
    pulses: bool  # some zone has pulses
    staged: bool  # some zone has two heaters
    stores: bool  # some zone is to be heated ahead in cheap hours
    dawns: bool  # some zone leaves a clear dawn to the sun
    circuit: Circuit | None  # None: nobody says what it bears
    outdoor: str | None
    outdoor_hygrometer: str | None
    poll_s: float
    lease_s: float
    timezone: tzinfo
    night_from_minute: int
    night_to_minute: int
    watch: WatchPlan
    hygrometers: Mapping[str, HygrometerPlan]
    order_lasts_s: float

    @property
    def switched(self) -> tuple[str, ...]:
        """Every output that is commanded, each once, in the order of the commands."""
        return (*(output.name for output in self.outputs), *self.gear.names)

    @property
    def jobs(self) -> dict[str, str]:
        """What each of them is there for, in a word."""
        modes = {output.name: output.mode.value for output in self.outputs}
        return {**modes, **self.gear.jobs}


def make_plan(settings: Settings, learned: Learned | None = None) -> Plan:
    """The plan of checked settings. Outputs that no zone uses do not appear in it.

    learned: what the keeper has learned of its house, where it has.
    """
    gear = gear_of(settings)
    in_zones = {probe for zone in settings.zones.values() for probe in zone.probes}
    return Plan(
        probes={
            name: ProbePlan(
                probe.offset_k,
                probe.stale_s,
                probe.lowest_c,
                probe.highest_c,
                probe.jump_k,
                probe.jump_confirm_s,
                probe.frozen_k,
                derived.neighbours(settings, name),
                probe.flaky_share * 3600.0 / settings.poll_s,
                alone=not derived.zone_mates(settings, name),
                warmed_by=derived.warmed_by(settings, name),
                heated_by=derived.must_feel(settings, name),
                zoned=name in in_zones,
            )
            for name, probe in settings.probes.items()
        },
        must_move=tuple(
            (name, probe.frozen_s)
            for name, probe in settings.probes.items()
            if probe.frozen_s > 0.0 and derived.neighbours(settings, name)
        ),
        zones=tuple(_zone(settings, name, zone, learned) for name, zone in settings.zones.items()),
        outputs=_outputs(settings, gear),
        gear=gear,
        guesses=any(guess_of(settings, zone.heat) for zone in settings.zones.values()),
        airs=any(zone.air is not None for zone in settings.zones.values()),
        pulses=any(
            zone.heat is not None and derived.looks_ahead(zone.heat)
            for zone in settings.zones.values()
        ),
        staged=any(
            zone.heat is not None and zone.heat.second_output is not None
            for zone in settings.zones.values()
        ),
        stores=any(
            zone.heat is not None and zone.heat.ahead_in_cheap_hours
            for zone in settings.zones.values()
        ),
        dawns=any(
            zone.heat is not None and zone.heat.leave_dawn_to_sun
            for zone in settings.zones.values()
        ),
        circuit=_circuit(settings),
        outdoor=settings.site.outdoor_probe,
        outdoor_hygrometer=settings.site.outdoor_hygrometer,
        poll_s=settings.poll_s,
        lease_s=settings.lease_s,
        timezone=settings.site.zone,
        night_from_minute=settings.night.from_minute,
        night_to_minute=settings.night.to_minute,
        watch=watch_plan(settings),
        hygrometers={
            name: HygrometerPlan(
                each.beside, each.offset_pct, each.stale_s, each.lowest_pct, each.frozen_s
            )
            for name, each in settings.hygrometers.items()
        },
        order_lasts_s=_order_lasts_s(settings),
    )


def _zone(settings: Settings, name: str, zone: Zone, learned: Learned | None) -> ZonePlan:
    in_zones = {probe for each in settings.zones.values() for probe in each.probes}
    free = [p for p in settings.probes if p not in in_zones and p != settings.site.outdoor_probe]
    minimum_c = derived.plants_minimum_c(settings, name)
    maximum_c = derived.plants_maximum_c(settings, name)
    plants = tuple(derived.plants_of(settings, name))
    return ZonePlan(
        name=name,
        probes=zone.probes,
        ceiling_probes=(*zone.probes, *free),
        heat=_points(
            zone.heat,
            derived.heat_setpoint_c(settings, name, night=False),
            derived.heat_setpoint_c(settings, name, night=True),
        ),
        cool=_points(
            zone.cool,
            derived.cool_setpoint_c(settings, name, night=False),
            derived.cool_setpoint_c(settings, name, night=True),
        ),
        ceiling_c=zone.ceiling_c,
        ceiling_needs_hand=zone.ceiling_clears == "by-hand",
        disagree_k=zone.disagree_k,
        disagree_s=zone.disagree_s,
        alone_k=derived.alone_k(settings, name),
        minimum_c=minimum_c,
        tenderest=_names(plant for plant in plants if plant.lowest_c == minimum_c),
        maximum_c=maximum_c,
        most_heat_shy=_names(plant for plant in plants if plant.max_c == maximum_c),
        guess=guess_of(settings, zone.heat),
        wetness=_wetness(zone),
        ordered_c=derived.ordered_range_c(settings, name),
        switchable=derived.may_be_switched(settings, name),
        air=_air(settings, name, zone),
        pulses=_pulses(settings, name, zone, learned),
        stages=_stages(settings, name, zone, learned),
        store=_store(settings, name, zone, learned),
        leaves_dawn=zone.heat is not None and zone.heat.leave_dawn_to_sun,
    )


def with_learned(plan: Plan, settings: Settings, learned: Learned | None) -> Plan:
    """The same plan, with what has been learned of the house since it was made."""
    zones = tuple(
        zone._replace(
            pulses=_pulses(settings, zone.name, settings.zones[zone.name], learned),
            stages=_stages(settings, zone.name, settings.zones[zone.name], learned),
            store=_store(settings, zone.name, settings.zones[zone.name], learned),
        )
        for zone in plan.zones
    )
    return plan._replace(zones=zones)


def _pulses(settings: Settings, name: str, zone: Zone, learned: Learned | None) -> PulsePlan | None:
    heat = zone.heat
    if heat is None or not derived.looks_ahead(heat):
        return None
    in_pulses = heat.strategy == "proportion"
    heaters = [settings.outputs[each] for each in derived.heats_with(heat)]
    yearly = [derived.closings_a_year(settings, each) for each in derived.heats_with(heat)]
    counted = [each for each in yearly if each is not None]
    known = figures_of(settings, name, learned)
    return PulsePlan(
        output=heat.output,
        figures=known.figures,
        gains=observer.gains_of(known.figures, settings.poll_s),
        known=known.of_this_house,
        astray_k=observer.astray_k(known.figures, settings.poll_s),
        least_on_s=max(each.min_on_s for each in heaters),
        least_off_s=max(each.min_off_s for each in heaters),
        closings_a_year=sum(counted) if in_pulses and len(counted) == len(yearly) else None,
        band_k=None if in_pulses else heat.hysteresis_k,
    )


def _stages(settings: Settings, name: str, zone: Zone, learned: Learned | None) -> StagePlan | None:
    heat = zone.heat
    if heat is None or heat.second_output is None:
        return None
    pair = heat.output, heat.second_output
    one_w, two_w = (settings.outputs[each].power_w for each in pair)
    one, two = (settings.outputs[each] for each in pair)
    rated = (1.0, 1.0)
    if isinstance(one, GpioOutput) and isinstance(two, GpioOutput):
        rated = float(one.rated_operations), float(two.rated_operations)
    figures = figures_of(settings, name, learned).figures
    lag_s = figures.element_s + figures.probe_s
    return StagePlan(
        outputs=pair,
        powers=(1.0, 1.0) if one_w is None or two_w is None else (one_w, two_w),
        together=derived.bears_both(settings, heat),
        takes_turns=heat.take_turns,
        rated=rated,
        turn_after=_TURN_CLOSINGS / min(rated),
        lag_s=lag_s,
        wait_s=min(_LONGEST_WAIT_S, lag_s + figures.fast_s),
    )


def _store(settings: Settings, name: str, zone: Zone, learned: Learned | None) -> StorePlan | None:
    if zone.heat is None or not zone.heat.ahead_in_cheap_hours:
        return None
    found = store_plan(settings, name, learned)
    return found if isinstance(found, StorePlan) else None


def _circuit(settings: Settings) -> Circuit | None:
    if settings.site.circuit_w is None:
        return None
    return Circuit(
        settings.site.circuit_w,
        {name: settings.outputs[name].power_w or 0.0 for name in derived.heaters(settings)},
    )


def _wetness(zone: Zone) -> WetnessPlan | None:
    if zone.hygrometer is None:
        return None
    damp = zone.damp
    return WetnessPlan(
        zone.hygrometer, damp.wet_pct, damp.leaf_below_k, damp.mould_from_c, damp.mould_after_s
    )


def _order_lasts_s(settings: Settings) -> float:
    commands = None if settings.broker is None else settings.broker.commands
    return 0.0 if commands is None else commands.lasts_s


def _air(settings: Settings, name: str, zone: Zone) -> AirPlan | None:
    air = zone.air
    if air is None or zone.hygrometer is None:
        return None
    is_vent = air.output in settings.vents
    cooling = {each.cool.output for each in settings.zones.values() if each.cool is not None}
    # Neither is ever None in settings that passed the checks.
    least_c = derived.airing_least_c(settings, name)
    outdoor_least_c = derived.airing_outdoor_least_c(settings, name)
    return AirPlan(
        output=air.output,
        hygrometer=zone.hygrometer,
        above_pct=air.above_pct,
        off_pct=air.above_pct - air.hysteresis_pct,
        drier_g_m3=air.drier_g_m3,
        least_c=math.inf if least_c is None else least_c,
        over_heat_k=air.margin_k + (0.0 if zone.heat is None else derived.heat_band_k(zone.heat)),
        outdoor_least_c=math.inf if outdoor_least_c is None else outdoor_least_c,
        for_s=air.for_s,
        rest_s=air.rest_s,
        w_per_k=settings.house.vent_w_per_k if is_vent else settings.house.fan_w_per_k,
        closes_blind=is_vent and air.output not in cooling,
    )


def _names(plants: Iterable[Plant]) -> str:
    return ", ".join(plant.name for plant in plants)


def _points(part: Heat | Cool | None, day_c: float | None, night_c: float | None) -> Points | None:
    if part is None or day_c is None or night_c is None:
        return None
    return Points(part.output, day_c, night_c, max(day_c, night_c), part.hysteresis_k)


def _outputs(settings: Settings, gear: Gear) -> tuple[OutputPlan, ...]:
    modes = dict.fromkeys(derived.ventilators(settings), Mode.COOL)
    for zone in settings.zones.values():
        if zone.heat is not None:
            modes |= dict.fromkeys(derived.heats_with(zone.heat), Mode.HEAT)
    plans = [
        OutputPlan(
            name=name,
            mode=modes[name],
            min_on_s=output.min_on_s,
            min_off_s=output.min_off_s,
            longest_on_s=derived.longest_on_s(settings, name),
            isolators=tuple(each for each in gear.isolators if name in each.heaters),
            companions=tuple(each for each in gear.companions if name in each.heaters),
        )
        for name, output in settings.outputs.items()
        if name in modes
    ]
    return tuple(sorted(plans, key=lambda each: each.mode is Mode.COOL))
