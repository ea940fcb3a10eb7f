"""A small maker of settings and ticks, for whoever shows or records them.

    settings = make_settings(broker={"host": "127.0.0.1", "port": 1883})
    tick = make_tick(settings, {"bench": 6.5, "ridge": Fault.CHECKSUM}, on={"heater"})

Nothing is decided here: a tick holds what it is told to hold, sensible or not, so that
shops which only pass ticks on can be tried with states that control would never make.
For ticks that control made, run control.step. The house is invented.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from greenkeeper.model import (
    Alarm,
    AlarmMemory,
    Bad,
    Command,
    Fault,
    Good,
    Latch,
    Memory,
    Mode,
    Now,
    OutputMemory,
    ProbeMemory,
    Reading,
    Tick,
    Verdict,
    Wish,
    ZoneView,
)
from greenkeeper.settings.schema import Settings

UTC_S = 1_736_649_600.0  # 2025-01-12 02:40:00 UTC, a frosty night somewhere
NOW = Now(mono_s=5000.0, utc_s=UTC_S, clock_trusted=True)

HOUSE: dict[str, Any] = {
    "site": {"name": "orchard-house"},
    "probes": {
        "bench": {"kind": "modelled", "place": "bench"},
        "ridge": {"kind": "modelled", "place": "ridge"},
        "outdoors": {"kind": "modelled", "place": "outdoors"},
    },
    "outputs": {
        "heater": {"kind": "modelled", "drives": "heater", "power_w": 1500.0},
        "fan": {"kind": "modelled", "drives": "fan", "power_w": 25.0},
    },
    "zones": {
        "bench": {  # named like one of its probes, which settings allow
            "probes": ["bench", "ridge"],
            "heat": {"output": "heater", "setpoint_c": 5.0},
            "cool": {"output": "fan", "setpoint_c": 26.0},
        }
    },
    "plants": [{"name": "lemon", "zone": "bench", "min_c": 4.0}],
}

MILD = {"bench": 8.25, "ridge": 9.0, "outdoors": -1.5}


def make_settings(**changes: Any) -> Settings:
    """The invented house with some top-level keys replaced or added."""
    return Settings.model_validate({**HOUSE, **changes})


def make_tick(
    settings: Settings,
    temps: Mapping[str, float | Fault] = MILD,
    *,
    now: Now = NOW,
    on: Collection[str] = (),
    reason: str = "as the test says",
    alarms: Iterable[Alarm] = (),
    latches: Iterable[Latch] = (),
    operations: int = 0,
) -> Tick:
    """One tick. temps: probe -> °C, or what is wrong with it; a probe left out is missing.

    on: the outputs that are on. alarms: the active ones.
    """
    verdicts = {name: _verdict(temps.get(name, Fault.MISSING)) for name in settings.probes}
    commands = tuple(
        Command(name, name in on, now.mono_s + 30.0 if name in on else None, reason)
        for name in settings.outputs
    )
    return Tick(
        now=now,
        readings={name: _reading(verdict, now) for name, verdict in verdicts.items()},
        verdicts=verdicts,
        zones=tuple(_view(settings, name, verdicts, on, reason) for name in settings.zones),
        commands=commands,
        events=(),
        memory=Memory(
            probes={name: _kept(verdict, now) for name, verdict in verdicts.items()},
            outputs={
                each.output: OutputMemory(
                    each.on, now.mono_s, each.until_s, each.reason, operations
                )
                for each in commands
            },
            wishes={},
            alarms={
                (each.code, each.subject): AlarmMemory(each, active=True, gone_since_s=None)
                for each in alarms
            },
            latches={each.name: each for each in latches},
            last=now,
        ),
    )


def make_alarm(code: str, subject: str, text: str = "as the test says") -> Alarm:
    return Alarm(code, subject, text, since_s=NOW.mono_s, since_utc_s=UTC_S)


def make_latch(code: str, subject: str, text: str = "as the test says") -> Latch:
    return Latch(code, subject, text, since_utc_s=UTC_S)


def later(now: Now, seconds: float) -> Now:
    """The same moment, so many seconds on, on both clocks."""
    return now._replace(mono_s=now.mono_s + seconds, utc_s=now.utc_s + seconds)


def _verdict(temp: float | Fault) -> Verdict:
    if isinstance(temp, Fault):
        return Bad(temp, "as the test says")
    return Good(temp, age_s=1.0)


def _reading(verdict: Verdict, now: Now) -> Reading:
    if isinstance(verdict, Good):
        return Reading(now.mono_s - verdict.age_s, verdict.temp_c)
    return Reading(now.mono_s, None, verdict.fault, verdict.detail)


def _kept(verdict: Verdict, now: Now) -> ProbeMemory:
    if isinstance(verdict, Good):
        return ProbeMemory(verdict.temp_c, now.mono_s - verdict.age_s, now.mono_s)
    return ProbeMemory(seen_s=now.mono_s, last_fault=verdict.fault, last_detail=verdict.detail)


def _view(
    settings: Settings,
    name: str,
    verdicts: Mapping[str, Verdict],
    on: Collection[str],
    reason: str,
) -> ZoneView:
    zone = settings.zones[name]
    good = {
        probe: verdict.temp_c
        for probe in zone.probes
        if isinstance(verdict := verdicts.get(probe), Good)
    }
    coldest = min(good, key=good.__getitem__, default=None)
    warmest = max(good, key=good.__getitem__, default=None)
    uses = ((Mode.HEAT, zone.heat), (Mode.COOL, zone.cool))
    wishes = [
        Wish(name, mode, use.output, use.output in on, reason, 0.0)
        for mode, use in uses
        if use is not None
    ]
    return ZoneView(
        name=name,
        coldest_c=None if coldest is None else good[coldest],
        coldest_probe=coldest,
        warmest_c=None if warmest is None else good[warmest],
        warmest_probe=warmest,
        period="night",
        heat_setpoint_c=None if zone.heat is None else zone.heat.setpoint_c,
        cool_setpoint_c=None if zone.cool is None else zone.cool.setpoint_c,
        wishes=tuple(wishes),
    )
