"""Ticks made by hand: an invented house, and the record of one moment in it."""

from collections.abc import Mapping, Sequence
from typing import Any

from greenkeeper.model import (
    Bad,
    Command,
    Event,
    Fault,
    Good,
    Memory,
    Mode,
    Now,
    Phase,
    Reading,
    Tick,
    Verdict,
    Wish,
    ZoneView,
)
from greenkeeper.settings.schema import Settings

UTC_S = 1_800_000_000.0  # 2027-01-15T08:00:00Z, a whole hour
MONO_S = 1000.0
LEASE_S = 30.0
START = Now(MONO_S, UTC_S, True)

NO_MEMORY = Memory(probes={}, outputs={}, wishes={}, alarms={}, latches={}, last=None)


def settings(
    probes: Sequence[str] = ("bench",),
    outputs: Mapping[str, float | None] | None = None,
    **journal: Any,
) -> Settings:
    """An invented house. outputs: name -> power in W; the first of them heats."""
    powers = {"heater": 1500.0} if outputs is None else outputs
    made = {
        name: {
            "kind": "modelled",
            "drives": "heater",
            **({} if power is None else {"power_w": power}),
        }
        for name, power in powers.items()
    }
    return Settings.model_validate(
        {
            "site": {"name": "fern-corner", "timezone": "Europe/Brussels"},
            "probes": {name: {"kind": "modelled", "place": "bench"} for name in probes},
            "outputs": made,
            "zones": {"bench": {"probes": list(probes)}},
            "plants": [
                {"name": "lemon", "zone": "bench", "min_c": 4.0, "max_c": 30.0},
                {"name": "fuchsia", "zone": "bench", "min_c": 2.0},
            ],
            "journal": journal,
        }
    )


def after(now: Now, seconds: float, *, civil_s: float | None = None) -> Now:
    """The moment so much later; civil_s when the civil clock moved differently."""
    moved_s = seconds if civil_s is None else civil_s
    return Now(now.mono_s + seconds, now.utc_s + moved_s, now.clock_trusted)


def at(seconds: float) -> Now:
    return after(START, seconds)


def tick(
    now: Now,
    temps: Mapping[str, float | Fault] | None = None,
    on: Mapping[str, bool] | None = None,
    *,
    zones: Sequence[ZoneView] = (),
    events: Sequence[Event] = (),
) -> Tick:
    """temps: a temperature measured just now, or the fault in its place."""
    measured = {} if temps is None else temps
    readings = {
        name: Reading(now.mono_s, None, value)
        if isinstance(value, Fault)
        else Reading(now.mono_s, value)
        for name, value in measured.items()
    }
    verdicts: dict[str, Verdict] = {
        name: Bad(value, "") if isinstance(value, Fault) else Good(value, 0.0)
        for name, value in measured.items()
    }
    return Tick(
        now=now,
        readings=readings,
        verdicts=verdicts,
        zones=tuple(zones),
        commands=tuple(command(now, name, state) for name, state in (on or {}).items()),
        events=tuple(events),
        memory=NO_MEMORY,
    )


def command(now: Now, output: str, on: bool, lease_s: float = LEASE_S) -> Command:
    reason = "bench 4.9 °C is at or below 5.0 °C" if on else "bench 5.6 °C is above 5.5 °C"
    return Command(output, on, now.mono_s + lease_s if on else None, reason)


def event(now: Now, code: str = "zone-blind", text: str = "bench: none can be trusted") -> Event:
    return Event(code, Phase.RAISED, "bench", text, now.mono_s, now.utc_s)


def zone(*, setpoint_c: float = 5.0, period: str = "night", wanted: bool = False) -> ZoneView:
    wish = Wish("bench", Mode.HEAT, "heater", wanted, "", 0.0)
    return ZoneView(
        name="bench",
        coldest_c=5.2,
        coldest_probe="bench",
        warmest_c=5.2,
        warmest_probe="bench",
        period=period,
        heat_setpoint_c=setpoint_c,
        cool_setpoint_c=None,
        wishes=(wish,),
    )
