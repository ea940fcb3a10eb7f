"""Small invented houses, and a player that runs control over a course of temperatures."""

from collections.abc import Mapping, Sequence
from typing import Any

from greenkeeper.control import Plan, fresh, make_plan, step
from greenkeeper.model import Condition, Fault, Memory, Morning, Now, Order, Reading, Request, Tick
from greenkeeper.settings.schema import Settings

START = Now(mono_s=1000.0, utc_s=1_800_000_000.0, clock_trusted=True)

ONE_ZONE: dict[str, Any] = {
    "site": {"name": "fern-corner", "outdoor_probe": "outdoors"},
    "probes": {
        name: {"kind": "modelled", "place": "bench"}
        for name in ("bench-left", "bench-right", "ridge", "outdoors")
    },
    "outputs": {
        "heater": {"kind": "modelled", "drives": "heater", "min_on_s": 60.0, "min_off_s": 60.0},
        "fan": {"kind": "modelled", "drives": "fan", "min_on_s": 30.0, "min_off_s": 30.0},
    },
    "zones": {
        "bench": {
            "probes": ["bench-left", "bench-right"],
            "heat": {"output": "heater", "setpoint_c": 5.0, "hysteresis_k": 0.5},
            "cool": {"output": "fan", "setpoint_c": 26.0, "hysteresis_k": 1.5},
            "ceiling_c": 40.0,
        }
    },
    "plants": [
        {"name": "lemon", "zone": "bench", "min_c": 4.0, "max_c": 30.0},
        {"name": "fuchsia", "zone": "bench", "min_c": 2.0},
    ],
}


def settings(**changes: Any) -> Settings:
    """The one-zone house with some top-level keys replaced."""
    return Settings.model_validate({**ONE_ZONE, **changes})


def zone(**changes: Any) -> dict[str, Any]:
    """The `zones` value of the one-zone house with some of the bench's keys replaced."""
    return {"bench": {**ONE_ZONE["zones"]["bench"], **changes}}


class Player:
    """Feeds control one tick after the other and keeps every Tick."""

    def __init__(self, plan: Plan | None = None, start: Now = START, **fresh_arguments: Any):
        self.plan = plan or make_plan(settings())
        self.now = start
        self.memory = fresh(self.plan, start, **fresh_arguments)
        self.ticks: list[Tick] = []

    def tick(
        self,
        temps: Mapping[str, float | Fault | None],
        *,
        after_s: float = 10.0,
        reports: Sequence[Condition] = (),
        requests: Sequence[Request] = (),
        orders: Sequence[Order] = (),
        morning: Morning | None = None,
    ) -> Tick:
        """temps: a temperature, a fault, or None for "no new reading"."""
        self.now = Now(self.now.mono_s + after_s, self.now.utc_s + after_s, self.now.clock_trusted)
        readings = {
            name: Reading(self.now.mono_s, None, temp)
            if isinstance(temp, Fault)
            else Reading(self.now.mono_s, temp)
            for name, temp in temps.items()
            if temp is not None
        }
        tick = decided(
            readings,
            self.memory,
            self.plan,
            self.now,
            reports=reports,
            requests=requests,
            orders=orders,
            morning=morning,
        )
        self.memory = tick.memory
        self.ticks.append(tick)
        return tick

    def bench(self, temp_c: float | Fault | None, **arguments: Any) -> Tick:
        """A tick in which both bench probes say the same."""
        return self.tick({"bench-left": temp_c, "bench-right": temp_c}, **arguments)

    def settle(self, temp_c: float, for_s: float = 120.0) -> Tick:
        """Ticks at one temperature until start-up holds are over."""
        for _ in range(int(for_s / 10.0)):
            tick = self.bench(temp_c)
        return tick


def decided(
    readings: Mapping[str, Reading], memory: Memory, plan: Plan, now: Now, **arguments: Any
) -> Tick:
    """One tick, proven to be the same without what the last one spared it."""
    tick = step(readings, memory, plan, now, **arguments)
    assert step(readings, memory._replace(views=(), calm=None), plan, now, **arguments) == tick
    return tick


def on(tick: Tick, output: str) -> bool:
    return next(command.on for command in tick.commands if command.output == output)


def reason(tick: Tick, output: str) -> str:
    return next(command.reason for command in tick.commands if command.output == output)


def codes(tick: Tick) -> set[tuple[str, str]]:
    """(code, phase) of the tick's events."""
    return {(event.code, event.phase.value) for event in tick.events}
