"""A house that lives: model and weather together, for modelled probes and outputs.

Lives here: the one mutable thing of this room. It moves only when told a moment, so
that a hand-driven clock makes every run repeatable to the last digit. Does not live
here: physics (model.py), and any decision. No I/O, and time is never asked for.
"""

import math
import threading
from collections.abc import Callable, Collection, Iterable, Mapping
from functools import lru_cache, partial
from operator import attrgetter
from typing import NamedTuple

from greenkeeper.house.faults import WHOLE, Faults, Hook
from greenkeeper.house.glass import Glass
from greenkeeper.house.model import State, follow, inputs_of, settled
from greenkeeper.house.network import (
    AIR,
    POWER,
    TENT,
    TENT_POWER,
    Parameters,
    Weights,
    ridge_k_per_w,
    weights,
)
from greenkeeper.house.wax import NO_WAX, Wax
from greenkeeper.house.weather import Surroundings, Weather
from greenkeeper.house.wind import loss_share
from greenkeeper.model import Now

# The weather holds still for a minute, taken at its middle. Minutes are counted from
# the start, whoever asks and when: how often the house is read changes nothing.
WEATHER_STEP_MS = 60_000

LIVED_IN_S = 2 * 86400.0  # several times the slow time constant of a small house

# DS18B20 at its 12 bits: sixteenths of a degree (Maxim, DS18B20 data sheet, table 1).
STEPS_PER_K = 16.0

# What the 1st, 2nd... probe at one place reads differently. Invented, and well within the
# ±0.5 K the same sheet allows from -10 to +85 °C: healthy probes side by side do disagree.
SPREAD_K = (0.0, 0.14, -0.09, 0.21, -0.17)

_SEEN: Mapping[str, Callable[[State], float]] = {
    "bench": attrgetter("bench_c"),
    "ridge": attrgetter("ridge_c"),
    "outdoors": attrgetter("outdoor_probe_c"),
    "tent": attrgetter("tent_probe_c"),
}
PLACES = tuple(_SEEN)  # where a probe can hang


class Hung(NamedTuple):
    """A probe at its place, found once for many readings."""

    hook: Hook
    seen: Callable[[State], float]
    spread_k: float


def hung(hook: Hook) -> Hung:
    """hook: the place, one of PLACES (KeyError for any other), and its number there."""
    place, index = hook
    return Hung(hook, _SEEN[place], SPREAD_K[index % len(SPREAD_K)])


def lived_in(
    parameters: Parameters,
    weather: Weather,
    utc_s: float,
    glass: Glass | None = None,
    *,
    for_s: float = LIVED_IN_S,
) -> State:
    """The house at utc_s after two days unheated: as warm as that weather leaves it."""
    step_s = WEATHER_STEP_MS / 1000.0
    began_s = utc_s - for_s
    state = settled(parameters, weather.at(began_s)._replace(sun_w_m2=0.0, sky_c=None))
    for minute in range(int(for_s / step_s)):
        middle_s = began_s + (minute + 0.5) * step_s
        around = weather.at(middle_s)
        sun_w = None if glass is None else glass.sun_w(around, middle_s)
        step = weights_in(parameters, loss_share(around.wind_m_s), 0.0, False, False, step_s)
        state = follow(step, step.added(inputs_of(parameters, around, 0.0, sun_w=sun_w)), state)
    return state


@lru_cache(maxsize=1024)
def weights_in(
    parameters: Parameters,
    wind_share: float,
    more_w_per_k: float,
    fan_on: bool,
    stirred: bool,
    dt_s: float,
) -> Weights:
    """A step of the same house losing wind_share times its loss (wind.loss_share), and
    more_w_per_k besides."""
    loss_w_per_k = parameters.loss_w_per_k * wind_share + more_w_per_k
    return weights(parameters._replace(loss_w_per_k=loss_w_per_k), fan_on, stirred, dt_s)


class _Prepared(NamedTuple):
    """Steps of one length, as long as weather and switches stay as they are."""

    step: Weights
    added: tuple[float, ...]
    used_j: float  # drawn by the elements in one step


class SimulatedHouse:
    """A house to hang probes and outputs in.

    Its weather goes by the UTC of its start plus the monotonic seconds since: setting
    the civil clock does not move the sun. It keeps time in whole milliseconds, so that
    equal steps are equal to the last digit. Several threads may use it.
    """

    def __init__(
        self,
        parameters: Parameters,
        weather: Weather,
        start: Now,
        *,
        state: State | None = None,
        glass: Glass | None = None,
        wax: Wax = NO_WAX,
    ) -> None:
        """state: how it is at the start; without it, lived in, for which the weather
        must reach two days back. glass: its panes, for sun by where it stands; without
        them it falls in as on level ground. wax: a vent that opens by itself."""
        self._parameters = parameters
        self._weather = weather
        self._start_mono_s, self._start_utc_s = start.mono_s, start.utc_s
        self._glass = glass
        self._state = lived_in(parameters, weather, start.utc_s, glass) if state is None else state
        self._wax = wax
        self._wax_c = self._state.air_c
        self._wax_opened = wax.opened(self._wax_c)  # from 0 to 1
        self._sun_w: float | None = None
        # In front of the cache that all houses share: it need not ask which house this is.
        self._weights_in = lru_cache(maxsize=1024)(partial(weights_in, parameters))
        self._elapsed_ms = 0
        self._weather_ends_ms = WEATHER_STEP_MS
        self._surroundings = self._weather_of(0)
        self._heaters: dict[str, float] = {}
        self._tent_heaters: set[str] = set()
        self._fans: set[str] = set()
        self._stirring: set[str] = set()
        self._vents: set[str] = set()  # those that are open
        self._cut_off: dict[str, frozenset[str]] = {}  # heaters behind each open isolator
        self._faults = WHOLE
        self._fallen_ms: dict[Hook, int] = {}  # since when these hang outside
        self._used_j = 0.0
        self._stored_at_first_j = self._stored_j
        self._steps: dict[int, _Prepared] = {}  # by length in ms, until anything changes
        self._lock = threading.Lock()

    def advance_to(self, now: Now) -> None:
        """Live on to this moment. A moment already past changes nothing."""
        self.advance_to_s(now.mono_s)

    def advance_to_s(self, mono_s: float) -> None:
        """The same, for those who have no Now at hand."""
        target_ms = round((mono_s - self._start_mono_s) * 1000.0)
        with self._lock:
            while (elapsed_ms := self._elapsed_ms) < target_ms:
                if elapsed_ms >= self._weather_ends_ms:
                    self._face_weather()
                end_ms = min(target_ms, self._weather_ends_ms)
                self._live(end_ms - elapsed_ms)
                self._elapsed_ms = end_ms

    def set_heater(self, power_w: float, *, name: str = "heater", tent: bool = False) -> None:
        """What this heater draws from now on; several of different names add up.

        tent: it stands under the inner cover. Raises ValueError for a negative power.
        """
        if power_w < 0.0:
            raise ValueError(f"heater {name!r} cannot draw {power_w} W")
        with self._lock:
            self._heaters[name] = power_w
            if tent:
                self._tent_heaters.add(name)
            self._steps.clear()

    def set_fan(self, *, on: bool, name: str = "fan") -> None:
        """Several fans of different names move no more air than one: the vents limit it."""
        with self._lock:
            if on:
                self._fans.add(name)
            else:
                self._fans.discard(name)
            self._steps.clear()

    def set_stirring(self, *, on: bool, name: str = "circulation") -> None:
        """A fan that only moves the air inside, so that less of the heat stays under the roof."""
        with self._lock:
            if on:
                self._stirring.add(name)
            else:
                self._stirring.discard(name)
            self._steps.clear()

    def set_vent(self, *, is_open: bool, name: str) -> None:
        """A vent counts as open from the moment it begins to open, until it begins to close:
        the minute it takes matters to nobody here. Several open no wider than one."""
        with self._lock:
            if is_open:
                self._vents.add(name)
            else:
                self._vents.discard(name)
            self._steps.clear()

    def set_isolator(self, heaters: Collection[str], *, closed: bool, name: str) -> None:
        """Heaters behind an open isolator draw nothing, welded or not."""
        with self._lock:
            self._cut_off[name] = frozenset() if closed else frozenset(heaters)
            self._steps.clear()

    def break_down(self, faults: Faults) -> None:
        """From now on exactly this is broken; WHOLE mends everything.

        Raises ValueError for a plume in a house whose ridge_k is 0: the heat that passes a
        probe is followed by way of the ridge's.
        """
        if faults.in_plume and self._parameters.ridge_k_per_w == 0.0:
            raise ValueError("a probe in the plume needs a house with ridge_k above 0")
        with self._lock:
            self._faults = faults
            self._steps.clear()
            self._fallen_ms = {
                hook: self._fallen_ms.get(hook, self._elapsed_ms) for hook in faults.fallen_outdoors
            }

    def probe_c(self, place: str, index: int = 0) -> float:
        """What the index-th probe at this place shows, in sixteenths of a degree.

        place: one of PLACES. Raises KeyError for any other.
        """
        (seen_c,) = self.probes_c([hung((place, index))])
        return seen_c

    def probes_c(self, probes: Iterable[Hung]) -> tuple[float, ...]:
        """The same of several probes."""
        state, whole = self._state, self._faults is WHOLE
        shown = []
        for hook, seen, spread_k in probes:
            seen_c = seen(state) if whole else self._misplaced_c(seen(state), hook)
            shown.append(round((seen_c + spread_k) * STEPS_PER_K) / STEPS_PER_K)
        return tuple(shown)

    def power_to_hold(self, air_c: float, dt_s: float, *, tent: bool = False) -> float:
        """The power that brings the air there in dt_s, or that under the tent; it may be
        less than nothing. Meant for houses whose elements have no lag."""
        with self._lock:
            name = next(iter(self._heaters), "heater")
            before_w = self._heaters.get(name, 0.0)
            if self._elapsed_ms >= self._weather_ends_ms:
                self._face_weather()
            step = self._prepare(dt_s)
        part, power = (TENT, TENT_POWER) if tent else (AIR, POWER)
        gain_k_per_w = step.step.inputs[part][power - POWER]
        ends = follow(step.step, step.added, self._state)
        return before_w + (air_c - (ends.tent_c if tent else ends.air_c)) / gain_k_per_w

    @property
    def is_aired(self) -> bool:
        """A fan runs or a vent stands open."""
        return self._wax_opened > 0.0 or bool(self._fans or self._vents)

    @property
    def state(self) -> State:
        """How it truly is."""
        return self._state

    @property
    def surroundings(self) -> Surroundings:
        """What it truly stood in during the last step."""
        return self._surroundings

    @property
    def used_j(self) -> float:
        """Energy its heaters have drawn since the start."""
        return self._used_j

    @property
    def delivered_j(self) -> float:
        """Heat that has reached the air: less than used_j by what the elements still hold."""
        return self._used_j - (self._stored_j - self._stored_at_first_j)

    @property
    def _stored_j(self) -> float:
        """Energy the elements hold that has not reached the air yet."""
        return self._parameters.element_lag_s * self._state.element_w

    def _face_weather(self) -> None:
        """The weather of the step that comes next, and what the wax makes of the air."""
        step = self._elapsed_ms // WEATHER_STEP_MS
        self._weather_ends_ms = (step + 1) * WEATHER_STEP_MS
        self._surroundings = self._weather_of(step)
        self._wax_c = self._wax.follow(self._wax_c, self._state.air_c)
        self._wax_opened = self._wax.opened(self._wax_c)
        self._steps.clear()

    def _live(self, dt_ms: int) -> None:
        prepared = self._steps.get(dt_ms)
        if prepared is None:
            prepared = self._steps[dt_ms] = self._prepare(dt_ms / 1000.0)
        step, added, used_j = prepared
        self._state = follow(step, added, self._state)
        self._used_j += used_j

    def _prepare(self, dt_s: float) -> "_Prepared":
        """A step as everything stands now."""
        faults = self._faults
        powered = not faults.breaker_out
        house_w, tent_w = self._fed_w(faults.welded_w) if powered else (0.0, 0.0)
        house_w, tent_w = house_w * faults.element_share, tent_w * faults.element_share
        opened = max(float(bool(self._vents)), self._wax_opened)
        aired_w_per_k = faults.door_w_per_k + opened * self._parameters.vent_w_per_k
        step = self._weights_in(
            loss_share(self._surroundings.wind_m_s),
            aired_w_per_k,
            powered and bool(self._fans),
            powered and bool(self._stirring),
            dt_s,
        )
        inputs = inputs_of(
            self._parameters, self._surroundings, house_w, tent_w=tent_w, sun_w=self._sun_w
        )
        return _Prepared(step, step.added(inputs), (house_w + tent_w) * dt_s)

    def _fed_w(self, welded_w: float) -> tuple[float, float]:
        """What reaches the elements in the house and under the tent: as commanded, or what
        a welded contact lets through."""
        cut_off = frozenset[str]()
        if self._cut_off:
            cut_off = cut_off.union(*self._cut_off.values())
        house_w = tent_w = 0.0
        for name, power_w in self._heaters.items():
            if name in cut_off or name in self._faults.cold:
                continue
            if name in self._tent_heaters:
                tent_w += power_w
            else:
                house_w += power_w
        return (house_w if cut_off else max(house_w, welded_w)), tent_w

    def _misplaced_c(self, seen_c: float, hook: Hook) -> float:
        """What a probe shows that may have fallen, or come into the heater's stream."""
        if hook in self._fallen_ms:
            fallen_s = (self._elapsed_ms - self._fallen_ms[hook]) / 1000.0
            lag_s = self._parameters.probe_lag_s
            behind = math.exp(-fallen_s / lag_s) if lag_s > 0.0 else 0.0
            outside_c = self._state.outdoor_probe_c
            return outside_c + (seen_c - outside_c) * behind
        if hook in self._faults.in_plume:
            stirred = bool(self._stirring)
            passing_w = self._state.ridge_above_k / ridge_k_per_w(self._parameters, stirred)
            return seen_c + self._faults.plume_k_per_w * passing_w
        return seen_c

    def _weather_of(self, step: int) -> Surroundings:
        middle_s = self._start_utc_s + (step + 0.5) * WEATHER_STEP_MS / 1000.0
        around = self._weather.at(middle_s)
        self._sun_w = None if self._glass is None else self._glass.sun_w(around, middle_s)
        return around
