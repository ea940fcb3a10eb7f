"""The guard's invariants, watched over a whole run by somebody who keeps books of his own.

Lives here: Referee, which is shown every tick and asserts each invariant, numbered as in
greenkeeper/control/guard.py, from commands and verdicts alone: of the guard's memory it
uses nothing but the latches. Does not live here: making up courses of events.
"""

import math
from collections.abc import Mapping
from typing import NamedTuple

from greenkeeper.control import Plan
from greenkeeper.control.blind import SEEN_S, THAW_C, WAIT_S
from greenkeeper.control.gear import Companion, Isolator, Vent
from greenkeeper.control.plan import OutputPlan, ZonePlan
from greenkeeper.model import Command, Good, Mode, Now, Tick

SLACK_S = 1e-6  # of adding floating-point seconds
STALE_S = 45.0


class Relay(NamedTuple):
    """One output as it really is, after the switchboard saw to lapses."""

    on: bool
    since_s: float
    until_s: float | None


class Course:
    """One vent: whether it was seen to its closed end, and how the running relay fares."""

    def __init__(self) -> None:
        self.closed = False

    def saw(self, vent: Vent, before: Mapping[str, Relay], on: Mapping[str, bool], now: Now):
        """A closing relay that went off after its whole travel, never lapsed, proves it."""
        closing = before[vent.close]
        if on[vent.open] or before[vent.open].on:
            self.closed = False
        elif closing.until_s is not None and not on[vent.close]:
            end_s = closing.since_s + vent.travel_s
            if closing.until_s >= end_s - SLACK_S and now.mono_s >= end_s - SLACK_S:
                self.closed = True


class Ledger:
    """One zone that may be guessed at."""

    def __init__(self) -> None:
        self.blind_since_s: float | None = None
        self.seen_since_s: float | None = None
        self.used_s = 0.0  # of this spell
        self.over_s = 0.0  # heat beyond its duty, never below nothing
        self.starts = 0
        self.longest_tick_s = 0.0


class Referee:
    def __init__(self, plan: Plan, now: Now) -> None:
        self.plan = plan
        self.relays = {name: Relay(False, now.mono_s, None) for name in plan.switched}
        self.courses = {vent.name: Course() for vent in plan.gear.vents}
        self.ledgers = {zone.name: Ledger() for zone in plan.zones if zone.guess is not None}
        self.now = now

    def see(self, tick: Tick, failed: frozenset[str] = frozenset()) -> None:
        """Assert everything about this tick. failed: as reported to it."""
        self.tick, self.failed, self.last, self.now = tick, failed, self.now, tick.now
        self.commands = {command.output: command for command in tick.commands}
        assert list(self.commands) == list(self.plan.switched)
        self.before = {name: self._lapsed(relay) for name, relay in self.relays.items()}
        self.on = {name: command.on for name, command in self.commands.items()}
        self._guesses()
        for command in tick.commands:
            self._expiry(command)
        for output in self.plan.outputs:
            self._times(output.name, output.min_on_s, output.min_off_s, self._may_stop(output))
            self._seen(output.name, self._zones_of(output.name))
            self._longest(output)
            if output.mode is Mode.HEAT:
                self._heat(output)
        self._circuit()
        for isolator in self.plan.gear.isolators:
            self._isolator(isolator)
        for companion in self.plan.gear.companions:
            self._companion(companion)
        for vent in self.plan.gear.vents:
            self._vent(vent)
        self.relays = {name: self._after(command) for name, command in self.commands.items()}

    # --- what is known of a tick -----------------------------------------------------------

    def _lapsed(self, relay: Relay) -> Relay:
        if relay.on and relay.until_s is not None and self.now.mono_s > relay.until_s:
            return Relay(False, self.now.mono_s, None)
        return relay

    def _after(self, command: Command) -> Relay:
        before = self.before[command.output]
        since_s = before.since_s if before.on is command.on else self.now.mono_s
        return Relay(command.on, since_s, command.until_s)

    def starts(self, name: str) -> bool:
        return self.on[name] and not self.before[name].on

    def stops(self, name: str) -> bool:
        return self.before[name].on and not self.on[name]

    def stood_s(self, name: str) -> float:
        return self.now.mono_s - self.before[name].since_s

    def _zones_of(self, output: str) -> list[ZonePlan]:
        return [
            zone
            for zone in self.plan.zones
            if output
            in {part.output for part in (zone.heat, zone.cool, zone.air) if part is not None}
            or (zone.stages is not None and output in zone.stages.outputs)
        ]

    def sees(self, zone: ZonePlan) -> bool:
        """Some probe of the zone is trusted, fresh and a temperature."""
        return any(
            verdict.age_s <= STALE_S and math.isfinite(verdict.temp_c)
            for verdict in (self.tick.verdicts[probe] for probe in zone.probes)
            if isinstance(verdict, Good)
        )

    def _heated_zones(self, heaters: tuple[str, ...]) -> list[ZonePlan]:
        return [zone for heater in heaters for zone in self._zones_of(heater)]

    def _locked(self) -> bool:
        return bool(self.tick.memory.latches) or any(
            isinstance(verdict := self.tick.verdicts[probe], Good)
            and verdict.temp_c > zone.ceiling_c
            for zone in self.plan.zones
            for probe in zone.ceiling_probes
        )

    def _may_guess(self, zone: ZonePlan) -> bool:
        """Whether this zone's heater may be on though nobody sees it."""
        ledger = self.ledgers.get(zone.name)
        if ledger is None or ledger.blind_since_s is None or zone.guess is None:
            return False
        outdoors = None if self.plan.outdoor is None else self.tick.verdicts[self.plan.outdoor]
        frost = not isinstance(outdoors, Good) or outdoors.temp_c <= THAW_C
        waited = self.now.mono_s - ledger.blind_since_s >= WAIT_S - SLACK_S
        return frost and waited and ledger.used_s < zone.guess.longest_s

    # --- the invariants ----------------------------------------------------------------------

    def _expiry(self, command: Command) -> None:  # 1
        assert command.reason
        if not command.on:
            assert command.until_s is None
            return
        assert command.until_s is not None
        assert 0.0 < command.until_s - self.now.mono_s <= self.plan.lease_s + SLACK_S

    def _heat(self, heater: OutputPlan) -> None:
        name = heater.name
        for other in self.plan.outputs:  # 2
            if other.mode is Mode.COOL:
                assert not (self.on[name] and self.on[other.name])
                assert not (self.starts(name) and self.before[other.name].on)
                assert not (self.starts(other.name) and self.before[name].on)
        for vent in self.plan.gear.vents:
            moving = self.failed.isdisjoint((vent.open, vent.close))
            assert not (self.starts(name) and moving) or self.courses[vent.name].closed
            assert not (self.on[vent.open] and (self.on[name] or self.before[name].on))
        assert not (self.on[name] and self._locked())  # 5
        for isolator in heater.isolators:  # 7
            assert not self.on[name] or self.on[isolator.name]
            settled = self.before[isolator.name].on and (
                self.stood_s(isolator.name) >= isolator.settle_s - SLACK_S
            )
            assert not self.starts(name) or settled
        for companion in heater.companions:  # 8
            assert not self.on[name] or self.on[companion.name]
            if name in companion.required_by and companion.name in self.failed:
                assert not self.on[name]

    def _times(self, name: str, min_on_s: float, min_off_s: float, may_stop: bool) -> None:
        if self.starts(name):  # 3
            assert self.stood_s(name) >= min_off_s - SLACK_S
        if self.stops(name) and self.stood_s(name) < min_on_s - SLACK_S:  # 4
            assert may_stop

    def _may_stop(self, output: OutputPlan) -> bool:
        """What may break a minimum on time."""
        lost = any(not self.before[each.name].on for each in output.isolators)
        lost |= any(
            not self.before[each.name].on or each.name in self.failed for each in output.companions
        )
        trip = output.mode is Mode.HEAT and (self._locked() or lost)
        return trip or not all(self.sees(zone) for zone in self._zones_of(output.name))

    def _seen(self, name: str, zones: list[ZonePlan]) -> None:  # 6
        assert not self.on[name] or any(self.sees(z) or self._may_guess(z) for z in zones)

    def _longest(self, output: OutputPlan) -> None:  # 10
        if self.on[output.name] and self.before[output.name].on:
            assert output.longest_on_s is None or self.stood_s(output.name) < output.longest_on_s

    def _circuit(self) -> None:  # 11
        if self.plan.circuit is None:
            return
        powers_w = self.plan.circuit.powers_w
        drawn = {name for name in powers_w if self.on[name]}
        started = {name for name in drawn if self.starts(name)}
        unsure = (self.failed & powers_w.keys()) if started else set()
        # One that starts makes sure of itself, not of others that failed meanwhile.
        drawn_w = sum(powers_w[name] for name in drawn | unsure)
        assert drawn_w <= self.plan.circuit.most_w or (len(drawn) == 1 and started <= self.failed)

    def _isolator(self, isolator: Isolator) -> None:
        zones = self._heated_zones(isolator.heaters)
        self._seen(isolator.name, zones)
        assert not (self.on[isolator.name] and self._locked())
        if self.stops(isolator.name):  # 7
            rested_s = min(
                0.0 if self.before[heater].on else self.stood_s(heater)
                for heater in isolator.heaters
            )
            blind = not any(self.sees(zone) for zone in zones)
            settled = rested_s >= isolator.settle_s - SLACK_S
            assert settled or blind or self._locked()

    def _companion(self, companion: Companion) -> None:
        zones = self._heated_zones(companion.heaters)
        may_stop = not any(self.sees(zone) for zone in zones)
        self._times(companion.name, companion.min_on_s, companion.min_off_s, may_stop)
        self._seen(companion.name, zones)

    def _vent(self, vent: Vent) -> None:  # 9
        opens, closes = self.on[vent.open], self.on[vent.close]
        assert not (opens and closes)
        for relay in (vent.open, vent.close):
            if self.on[relay]:
                began_s = self.now.mono_s if self.starts(relay) else self.before[relay].since_s
                until_s = self.commands[relay].until_s
                assert until_s is not None
                assert until_s <= began_s + vent.travel_s + SLACK_S
            if self.starts(relay):
                for each in (vent.open, vent.close):
                    assert not self.before[each].on
                    assert self.stood_s(each) >= vent.pause_s - SLACK_S
        if opens or closes:  # 6
            seen = any(self.sees(zone) for zone in self._zones_of(vent.name))
            heaters = [output.name for output in self.plan.outputs if output.mode is Mode.HEAT]
            zones = self._heated_zones(tuple(heaters))
            for_heat = closes and any(self.sees(z) or self._may_guess(z) for z in zones)
            # A vent that only airs has no reason to be open once nobody sees.
            only_airs = any(
                zone.air is not None and zone.air.output == vent.name and zone.air.closes_blind
                for zone in self.plan.zones
            )
            assert seen or for_heat or (closes and only_airs)
        self.courses[vent.name].saw(vent, self.relays, self.on, self.now)

    # --- heat without a probe --------------------------------------------------------------------

    def _guesses(self) -> None:  # 6, the three bounds of blind.py
        for zone in self.plan.zones:
            if zone.guess is not None:
                self._bounds(zone, self.ledgers[zone.name])

    def _bounds(self, zone: ZonePlan, ledger: Ledger) -> None:
        """Books on what happened since the last tick, before this one is judged."""
        assert zone.guess is not None
        now_s, passed_s = self.now.mono_s, self.now.mono_s - self.last.mono_s
        names = [name for name in (zone.guess.output, zone.guess.second) if name is not None]
        if ledger.blind_since_s is not None:
            on_s = 0.0
            for relay in (self.relays[name] for name in names):
                if relay.on and relay.until_s is not None:
                    on_s = max(on_s, min(now_s, relay.until_s) - self.last.mono_s)
            ledger.longest_tick_s = max(ledger.longest_tick_s, min(passed_s, self.plan.lease_s))
            ledger.used_s += on_s
            ledger.over_s = max(0.0, ledger.over_s + on_s - zone.guess.duty * passed_s)
            ledger.starts += sum(self.starts(name) for name in names)
            assert ledger.used_s <= zone.guess.longest_s + ledger.longest_tick_s + SLACK_S
            edges_s = (ledger.starts + 1) * ledger.longest_tick_s
            assert ledger.over_s <= zone.guess.pulse_s + edges_s + SLACK_S
        if self.sees(zone):
            if ledger.blind_since_s is not None or ledger.seen_since_s is None:
                ledger.blind_since_s, ledger.seen_since_s = None, now_s
            if now_s - ledger.seen_since_s >= SEEN_S:
                ledger.used_s = 0.0
            ledger.over_s, ledger.starts, ledger.longest_tick_s = 0.0, 0, 0.0
        elif ledger.blind_since_s is None:
            ledger.blind_since_s, ledger.seen_since_s = now_s, None
