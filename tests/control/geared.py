"""The small invented house with an isolator, a fan that runs with the heat, and a roof vent.

HOUSE has all three; `player` takes what a test wants of them and changes it.
"""

from typing import Any

from greenkeeper.control import make_plan
from greenkeeper.model import Condition, Tick
from tests.control import houses
from tests.control.houses import ONE_ZONE, Player

OUTPUTS: dict[str, Any] = {
    **ONE_ZONE["outputs"],
    "isolator": {"kind": "modelled", "drives": "fan", "role": "isolator"},
    "stirrer": {"kind": "modelled", "drives": "fan", "min_on_s": 60.0, "min_off_s": 60.0},
    "roof-open": {"kind": "modelled", "drives": "fan"},
    "roof-close": {"kind": "modelled", "drives": "fan"},
}
HEAT: dict[str, Any] = {"output": "heater", "setpoint_c": 5.0, "hysteresis_k": 0.5}
VENTS: dict[str, Any] = {
    "roof": {"open": "roof-open", "close": "roof-close", "run_s": 50.0, "pause_s": 5.0}
}


def player(
    *,
    outputs: dict[str, dict[str, Any]] | None = None,
    heat: dict[str, Any] | None = None,
    vents: dict[str, Any] | None = None,
    zones: dict[str, Any] | None = None,
    **changes: Any,
) -> Player:
    """outputs: the changed keys of each, and only these beside heater and fan."""
    wanted = {"heater", "fan", *(outputs or {})}
    zone: dict[str, Any] = {"heat": {**HEAT, **(heat or {})}}
    if vents is not None:
        wanted |= {"roof-open", "roof-close"}
        zone["cool"] = {"output": "roof", "setpoint_c": 26.0, "hysteresis_k": 1.5}
        changes["vents"] = {"roof": {**VENTS["roof"], **vents}}
    made = houses.settings(
        outputs={
            name: {**output, **(outputs or {}).get(name, {})}
            for name, output in OUTPUTS.items()
            if name in wanted
        },
        zones=zones or houses.zone(**zone),
        **changes,
    )
    return Player(make_plan(made))


def states(tick: Tick, *names: str) -> tuple[bool, ...]:
    on = {command.output: command.on for command in tick.commands}
    return tuple(on[name] for name in names)


def failing(*names: str) -> tuple[Condition, ...]:
    """What the shell reports of outputs that could not be switched."""
    return tuple(Condition("output-failed", name, "told to fail") for name in names)
