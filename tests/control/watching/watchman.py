"""Watch by itself, a minute at a time, over hand-made courses of temperatures.

What the houses of these tests do, they do by hand, so that each test shows the one thing it
is about. Sound and broken houses that obey physics: tests/control/test_watch_on_trial.py.
"""

from collections.abc import Callable, Mapping
from typing import Any

from greenkeeper.control import make_plan, watch
from greenkeeper.control.watch import Watched
from greenkeeper.model import (
    Bad,
    Condition,
    ContactReading,
    Fault,
    Good,
    Now,
    OutputMemory,
    Place,
    ProbeMemory,
    VentMemory,
    Verdict,
    WatchMemory,
    ZoneView,
)
from tests.control.houses import ONE_ZONE, settings

MIDNIGHT_UTC_S = 1_800_057_600.0  # 2027-01-16 00:00, pitch-dark until shortly after seven
NOON_UTC_S = MIDNIGHT_UTC_S + 12.0 * 3600.0
SITE: dict[str, Any] = {**ONE_ZONE["site"], "latitude": 50.8, "longitude": 4.4}

Course = float | None | Fault | Callable[[float], float]  # of minutes since the course began
ALL = ("bench-left", "bench-right", "ridge", "outdoors")


class Watchman:
    """One zone with two probes, a ridge probe in no zone, an outdoor probe, heater and fan."""

    def __init__(
        self,
        *,
        utc_s: float = MIDNIGHT_UTC_S,
        trusted: bool = True,
        site: Mapping[str, Any] = SITE,
        look_s: float = 60.0,
        setpoint_c: float = 5.0,
        **changes: Any,
    ) -> None:
        self.plan = make_plan(settings(site=dict(site), **changes)).watch
        self.memory = WatchMemory()
        self.now = Now(50_000.0, utc_s, trusted)
        self.seen: list[tuple[float, Condition]] = []  # minutes since the start, first seen
        self.watched = Watched(self.memory, (), ())
        self._look_s = look_s
        self._setpoint_c = setpoint_c
        self._start_s = self.now.mono_s
        self._outputs = {
            name: OutputMemory(False, self.now.mono_s - 86_400.0, None, "")
            for name in ("heater", "fan")
        }
        self._probes: dict[str, ProbeMemory] = {name: ProbeMemory() for name in ALL}

    @property
    def minutes(self) -> float:
        return (self.now.mono_s - self._start_s) / 60.0

    def go(
        self,
        minutes: float,
        *,
        heater: bool = False,
        fan: bool = False,
        vent: Place = Place.CLOSED,
        contacts: Mapping[str, bool | None] | None = None,
        **courses: Course,
    ) -> Watched:
        """Let it watch for so long. courses: bench (both its probes), left, right, ridge,
        outdoors; None and a Fault are no temperature, what is left out is 8.0 °C.
        """
        began = self.minutes
        while self.minutes < began + minutes:
            self._switch("heater", heater)
            self._switch("fan", fan)
            after_s = self._look_s
            self.now = Now(
                self.now.mono_s + after_s, self.now.utc_s + after_s, self.now.clock_trusted
            )
            self._look(self.minutes - began, courses, vent, contacts or {})
        return self.watched

    def pause(self, seconds: float) -> None:
        """Nobody ticks for so long: the machine slept."""
        self.now = Now(self.now.mono_s + seconds, self.now.utc_s + seconds, True)

    def codes(self) -> set[str]:
        """What is so just now."""
        return {each.code for each in (*self.watched.conditions, *self.watched.trips)}

    def first(self, code: str) -> float | None:
        """How many minutes after the start it was first so; None: never."""
        return next((minute for minute, each in self.seen if each.code == code), None)

    def text(self, code: str) -> str:
        return next(each.text for _, each in self.seen if each.code == code)

    def _switch(self, name: str, on: bool) -> None:
        if self._outputs[name].on is not on:
            until_s = self.now.mono_s + 1e6 if on else None
            self._outputs[name] = OutputMemory(on, self.now.mono_s, until_s, "")

    def _look(
        self,
        minute: float,
        courses: Mapping[str, Course],
        vent: Place,
        contacts: Mapping[str, bool | None],
    ) -> None:
        verdicts = {name: self._verdict(name, _of(name, courses), minute) for name in ALL}
        told = {name: ContactReading(self.now.mono_s, active) for name, active in contacts.items()}
        self.watched = watch.follow(
            self.memory,
            self.plan,
            verdicts,
            self._probes,
            (_view(verdicts, self._setpoint_c),),
            self._outputs,
            {"roof": VentMemory(vent)},
            told,
            self.now,
        )
        self.memory = self.watched.memory
        known = {(each.code, each.subject) for _, each in self.seen}
        for each in (*self.watched.conditions, *self.watched.trips):
            if (each.code, each.subject) not in known:
                self.seen.append((self.minutes, each))

    def _verdict(self, name: str, course: Course, minute: float) -> Verdict:
        temp_c = course(minute) if callable(course) else course
        if temp_c is None or isinstance(temp_c, Fault):
            return Bad(temp_c or Fault.MISSING, "as the test wants it")
        self._probes[name] = ProbeMemory(good_c=temp_c, good_s=self.now.mono_s)
        return Good(temp_c, 0.0)


def ramp(from_c: float, k_per_h: float) -> Callable[[float], float]:
    """In steps of the usual probe, as everything is measured."""
    return lambda minute: round((from_c + k_per_h * minute / 60.0) * 16.0) / 16.0


def _of(name: str, courses: Mapping[str, Course]) -> Course:
    side = name.removeprefix("bench-")
    if side in courses:
        return courses[side]
    return courses.get("bench", 8.0) if name.startswith("bench") else courses.get(name, 8.0)


def _view(verdicts: Mapping[str, Verdict], setpoint_c: float) -> ZoneView:
    good = sorted(
        (verdict.temp_c, name)
        for name, verdict in verdicts.items()
        if name.startswith("bench") and isinstance(verdict, Good)
    )
    coldest_c, coldest = good[0] if good else (None, None)
    warmest_c, warmest = good[-1] if good else (None, None)
    return ZoneView("bench", coldest_c, coldest, warmest_c, warmest, "night", setpoint_c, 26.0, ())
