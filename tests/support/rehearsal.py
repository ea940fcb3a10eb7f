"""A drawn house played through: the real control.step under a hand-driven clock.

Lives here: one run, tick by tick, that can be broken, and branched to see what would
happen if it were. Does not live here: the houses (drawn_houses.py), what is broken and
what counts as caught (watch_trials.py).

The modelled house is exact for inputs that hold still, and weather and switchings do within a
tick; so a run of 60 s ticks is no less true than one of 10 s. It adds what the model leaves
out and what a watchman could take amiss:
  - every third reading is a step of 1/16 K off;
  - by day the sun finds the left bench probe for a third of the time, in stretches of ten
    minutes, and warms it by up to 25 K above the air (24 K at 800 W/m2);
  - twice a day, at any hour, somebody comes in and leaves the door open for two minutes.
"""

import math
from collections.abc import Mapping
from random import Random
from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.control import Plan, fresh, make_plan, step
from greenkeeper.house.faults import WHOLE, Faults
from greenkeeper.house.simulated import STEPS_PER_K, SimulatedHouse
from greenkeeper.model import ContactReading, Memory, Now, Reading, Request, Tick
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.switches import ScriptedInput
from tests.support.drawn_houses import LONGITUDE, DrawnHouse

_TABLE = 4093  # a prime: no beat with the ticks of a day

_SUNNED_S = 600.0
_SUNNED_SHARE = 1.0 / 3.0
_SUNNED_K_PER_W_M2 = 0.03

_VISIT_S = 120.0
_VISITS_A_DAY = 2.0
_VISIT_W_PER_K = 150.0  # an open door of 1.2 m2, from which the house is not yet emptied

_INPUTS = {
    name: ScriptedInput.model_validate(
        {"kind": "scripted", "file": "told by the model", "tells": tells, "of": of}
    )
    for name, tells, of in (
        ("contactor", "contactor-closed", "heater"),
        ("current", "heater-current", "heater"),
        ("mains", "mains-present", "heater"),
        ("door", "door-open", "bench"),
    )
}


class Hung(NamedTuple):
    """One probe of the settings, and where it hangs in the model."""

    name: str
    place: str
    which: int  # of those that hang there


class Run:
    """Invariant: between ticks the house stands at `now`, its outputs as last commanded."""

    def __init__(self, house: DrawnHouse, utc_s: float, *, settings: Settings | None = None):
        self.drawn = house
        self.settings = settings or house.settings
        self.plan: Plan = make_plan(self.settings)
        self.now = Now(10_000.0, utc_s, True)
        self.memory: Memory = fresh(self.plan, self.now)
        self.house = SimulatedHouse(house.truth, house.weather, self.now)
        self.wired = False  # it has contacts
        self.faults = WHOLE
        self.heater_on = False
        self.on_since_s: float | None = None
        self._fan_on = False
        self._hung = _hung(self.settings)
        chance = Random(house.noise_seed)
        steps = (-1, 0, 0, 0, 0, 1)
        self._noise_c = [chance.choice(steps) / STEPS_PER_K for _ in range(_TABLE)]
        self._drawn_noises = 0
        self._sunned = [chance.random() < _SUNNED_SHARE for _ in range(_TABLE)]
        self._sunned_k = 0.0
        self._sun_gain = _gain(house, self.settings.poll_s)
        visit = _VISITS_A_DAY * _VISIT_S / 86_400.0
        self._visits = [chance.random() < visit for _ in range(_TABLE)]
        self._visited = False
        self.visited_s = -math.inf  # when somebody was last there

    def branch(self, poll_s: float | None = None, *, wired: bool = False) -> "Run":
        """Another run that goes on from here; this one knows nothing of it.

        poll_s: as often as this one if not given. wired: with every kind of contact.

        Invariant: whole minutes have passed, so that its weather falls into the same minutes.
        """
        other = object.__new__(Run)
        other.__dict__.update(self.__dict__)
        other.house = SimulatedHouse(
            self.drawn.truth, self.drawn.weather, self.now, state=self.house.state
        )
        other.house.set_heater(self.drawn.heater_w if self.heater_on else 0.0)
        other.house.set_fan(on=self._fan_on)
        if poll_s is not None or wired:
            poll_s = poll_s or self.settings.poll_s
            inputs = _INPUTS if wired else {}
            other.settings = self.settings.model_copy(update={"poll_s": poll_s, "inputs": inputs})
            other.plan = make_plan(other.settings)
            other.wired = wired
            other._sun_gain = _gain(self.drawn, poll_s)
        other._visited = False
        other.house.break_down(self.faults)
        return other

    def break_down(self, faults: Faults) -> None:
        self.faults = faults
        self.house.break_down(faults)

    def tick(self, *requests: Request) -> Tick:
        """Let poll_s pass, then decide and switch."""
        poll_s = self.settings.poll_s
        self.now = now = Now(self.now.mono_s + poll_s, self.now.utc_s + poll_s, True)
        self._let_in()
        self.house.advance_to(now)
        self._shine()
        readings = {
            name: Reading(now.mono_s, self.house.probe_c(place, which) + self._unrest_k(name))
            for name, place, which in self._hung
        }
        tick = step(
            readings,
            self.memory,
            self.plan,
            now,
            requests=requests,
            contacts=self._contacts() if self.wired else {},
        )
        self.memory = tick.memory
        outputs = tick.memory.outputs
        if outputs["heater"].on is not self.heater_on:
            self.heater_on = outputs["heater"].on
            self.on_since_s = now.mono_s if self.heater_on else None
            self.house.set_heater(self.drawn.heater_w if self.heater_on else 0.0)
        if outputs["fan"].on is not self._fan_on:
            self._fan_on = outputs["fan"].on
            self.house.set_fan(on=self._fan_on)
        return tick

    def sun_deg(self) -> float:
        return sun.elevation_deg(self.now.utc_s, self.drawn.latitude, LONGITUDE)

    @property
    def lift_k(self) -> float:
        """How far the bench truly stands above outdoors."""
        return self.house.state.bench_c - self.house.surroundings.outdoor_c

    def _let_in(self) -> None:
        visited = self._visits[int(self.now.utc_s / _VISIT_S) % _TABLE]
        if visited:
            self.visited_s = self.now.mono_s
        if visited is not self._visited:
            self._visited = visited
            door_w_per_k = self.faults.door_w_per_k + (_VISIT_W_PER_K if visited else 0.0)
            self.house.break_down(self.faults._replace(door_w_per_k=door_w_per_k))

    def _shine(self) -> None:
        """A lagging probe on its way to what the sun makes of it, or back."""
        aim_k = 0.0
        if self._sunned[int(self.now.utc_s / _SUNNED_S) % _TABLE]:
            aim_k = _SUNNED_K_PER_W_M2 * self.house.surroundings.sun_w_m2
        self._sunned_k += (aim_k - self._sunned_k) * self._sun_gain

    def _contacts(self) -> Mapping[str, ContactReading]:
        """What is truly so."""
        faults, now_s = self.faults, self.now.mono_s
        closed = self.heater_on or faults.welded_w > 0.0
        flows = closed and not faults.breaker_out and faults.element_share > 0.0
        door = faults.door_w_per_k > 0.0 or self._visited
        told = zip(_INPUTS, (closed, flows, not faults.breaker_out, door), strict=True)
        return {name: ContactReading(now_s, active) for name, active in told}

    def _unrest_k(self, name: str) -> float:
        self._drawn_noises = (self._drawn_noises + 1) % _TABLE
        noise_k = self._noise_c[self._drawn_noises]
        if name != "bench-left":
            return noise_k
        return noise_k + round(self._sunned_k * STEPS_PER_K) / STEPS_PER_K


def _gain(house: DrawnHouse, poll_s: float) -> float:
    """How much of its way a lagging probe goes in one tick."""
    return 1.0 - math.exp(-poll_s / max(1.0, house.truth.probe_lag_s))


def _hung(settings: Settings) -> tuple[Hung, ...]:
    found: list[Hung] = []
    for name, probe in settings.probes.items():
        place = probe.place if probe.kind == "modelled" else "bench"
        found.append(Hung(name, place, sum(each.place == place for each in found)))
    return tuple(found)
