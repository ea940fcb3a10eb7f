"""A keeper's settings, hung into the modelled house.

Lives here: where each probe hangs and what each output moves there, whatever kind the
settings make them. Does not live here: time (run.py), and any decision.
"""

from collections.abc import Callable, Iterable, Mapping

from greenkeeper.control import Plan
from greenkeeper.errors import GreenkeeperError
from greenkeeper.house.simulated import SimulatedHouse, hung
from greenkeeper.model import Command, Fault, Reading
from greenkeeper.settings.derived import heaters, heats_with, isolated_by
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.sensors import ModelledProbe

Switch = Callable[[bool], None]


class RehearsalError(GreenkeeperError):
    """These settings cannot be rehearsed, and why."""


class Rig:
    """Probes to read and outputs to switch in one modelled house."""

    def __init__(self, settings: Settings, plan: Plan, house: SimulatedHouse) -> None:
        """Raises RehearsalError for a heater whose power nobody states."""
        self.house = house
        self.powers_w = _powers_w(settings)
        self.dead: frozenset[str] = frozenset()  # probes that do not answer
        self._hung = _hung(settings, plan)
        self._seen = [hung((place, index)) for place, index, _ in self._hung.values()]
        self._switches = self._all_switches(settings, plan)
        self._on: dict[str, bool] = dict.fromkeys(plan.switched, False)
        self._since_s: dict[str, float] = {}
        self.on_s: dict[str, float] = dict.fromkeys(plan.switched, 0.0)
        self.longest_on_s: dict[str, float] = dict.fromkeys(plan.switched, 0.0)
        for switch in self._switches.values():
            switch(False)  # an isolator is open before anybody switches it

    def hooks(self, zone_probes: Iterable[str]) -> frozenset[tuple[str, int]]:
        """Where these probes hang."""
        return frozenset(self._hung[name][:2] for name in zone_probes)

    def said(self) -> tuple[float, ...]:
        """What every probe shows now, in the plan's order, dead ones too."""
        return self.house.probes_c(self._seen)

    def readings(self, said: tuple[float, ...], mono_s: float) -> dict[str, Reading]:
        """The same as control is told it."""
        found = {
            name: Reading(mono_s, shown_c - offset_k)
            for (name, (_, _, offset_k)), shown_c in zip(self._hung.items(), said, strict=True)
        }
        for name in self.dead:
            found[name] = Reading(mono_s, None, Fault.MISSING, "does not answer")
        return found

    def apply(self, commands: Iterable[Command], mono_s: float, but: str = "") -> None:
        """Switch what is to be other than it is; OFFs first, as the keeper does.

        but: an output that something else has in hand.
        """
        on = self._on
        changed = [c for c in commands if on[c.output] != c.on and c.output != but]
        for command in sorted(changed, key=lambda each: each.on):
            self._switch(command.output, mono_s, on=command.on)

    def count_from(self, mono_s: float) -> None:
        """Forget how long outputs have been on."""
        self.on_s = dict.fromkeys(self.on_s, 0.0)
        self.longest_on_s = dict.fromkeys(self.longest_on_s, 0.0)
        self._since_s = dict.fromkeys(self._since_s, mono_s)

    def worked_s(self, name: str, mono_s: float) -> float:
        """How long an output has been on so far, one that is still on included."""
        return self.on_s[name] + mono_s - self._since_s.get(name, mono_s)

    def all_off(self, mono_s: float) -> None:
        for name, on in self._on.items():
            if on:
                self._switch(name, mono_s, on=False)

    def _switch(self, name: str, mono_s: float, *, on: bool) -> None:
        self._on[name] = on
        if on:
            self._since_s[name] = mono_s
        else:
            lasted_s = mono_s - self._since_s.pop(name)
            self.on_s[name] += lasted_s
            self.longest_on_s[name] = max(self.longest_on_s[name], lasted_s)
        self._switches[name](on)

    def _all_switches(self, settings: Settings, plan: Plan) -> Mapping[str, Switch]:
        house = self.house
        tent = settings.house.tent
        tented = {
            heater
            for name, zone in settings.zones.items()
            if zone.heat is not None and tent is not None and tent.zone == name
            for heater in heats_with(zone.heat)
        }

        def heater(name: str) -> Switch:
            power_w, in_tent = self.powers_w[name], name in tented
            return lambda on: house.set_heater(power_w if on else 0.0, name=name, tent=in_tent)

        def vent(opens: bool, vents: Iterable[str]) -> Switch:
            def move(on: bool) -> None:
                for each in vents if on else ():  # at rest a vent stays where it is
                    house.set_vent(is_open=opens, name=each)

            return move

        made: dict[str, Switch] = {}
        stirring = {z.heat.with_ for z in settings.zones.values() if z.heat is not None}
        for name in plan.switched:
            opens = [v for v, vent_ in settings.vents.items() if vent_.open == name]
            closes = [v for v, vent_ in settings.vents.items() if vent_.close == name]
            if name in self.powers_w:
                made[name] = heater(name)
            elif settings.outputs[name].role == "isolator":
                made[name] = _isolator(house, name, isolated_by(settings, name))
            elif opens or closes:
                made[name] = vent(bool(opens), [*opens, *closes])
            elif name in stirring:
                made[name] = _stirring(house, name)
            else:
                made[name] = _fan(house, name)
        return made


def _isolator(house: SimulatedHouse, name: str, heaters: Iterable[str]) -> Switch:
    behind = frozenset(heaters)
    return lambda on: house.set_isolator(behind, closed=on, name=name)


def _stirring(house: SimulatedHouse, name: str) -> Switch:
    return lambda on: house.set_stirring(on=on, name=name)


def _fan(house: SimulatedHouse, name: str) -> Switch:
    return lambda on: house.set_fan(on=on, name=name)


def _powers_w(settings: Settings) -> dict[str, float]:
    """What each heater draws. Raises RehearsalError where that is not stated."""
    found = {}
    for name in heaters(settings):
        power_w = settings.outputs[name].power_w
        if power_w is None:
            raise RehearsalError(
                f"outputs.{name}.power_w is missing: a rehearsal must know what the heater draws. "
                "Write its rated power in watts, such as power_w: 1500."
            )
        found[name] = power_w
    return found


def _hung(settings: Settings, plan: Plan) -> dict[str, tuple[str, int, float]]:
    """For each probe the place it hangs at, its number there, and the offset to leave out.

    A real probe's offset_k mends an error that the modelled one does not have.
    """
    tent = settings.house.tent
    zone_of = {probe: name for name, zone in settings.zones.items() for probe in zone.probes}
    counts: dict[str, int] = {}
    found = {}
    for name in plan.probes:
        probe = settings.probes[name]
        if tent is not None and zone_of.get(name) == tent.zone:
            place = "tent"
        elif isinstance(probe, ModelledProbe):
            place = probe.place
        elif name == settings.site.outdoor_probe:
            place = "outdoors"
        else:
            place = "bench" if name in zone_of else "ridge"
        index = counts[place] = counts.get(place, -1) + 1
        offset_k = 0.0 if isinstance(probe, ModelledProbe) else probe.offset_k
        found[name] = (place, index, offset_k)
    return found
