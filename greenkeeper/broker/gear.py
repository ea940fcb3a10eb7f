"""What this keeper shows of outputs, vents and contacts on the broker. Pure.

Lives here: their nodes. Does not live here: probes and the keeper itself (keeper.py), zones
(zones.py). Nobody may set any of these over the broker: an output obeys control alone.
"""

from collections.abc import Callable

from greenkeeper.broker import payloads
from greenkeeper.broker.homie import Node, Property
from greenkeeper.model import OutputMemory, Place, Tick, VentMemory
from greenkeeper.settings.switches import GpioOutput, Input, Output, Vent

_J_PER_KWH = 3.6e6

_Value = Callable[[Tick], str | None]


def output_node(name: str, output: Output) -> Node[Tick]:
    def kept(write: Callable[[Tick, OutputMemory], str | None]) -> _Value:
        def value(tick: Tick) -> str | None:
            memory = tick.memory.outputs.get(name)
            return None if memory is None else write(tick, memory)

        return value

    def on(tick: Tick) -> str | None:
        commands = (each for each in tick.commands if each.output == name)
        return next((payloads.boolean(each.on) for each in commands), None)

    def reason(tick: Tick) -> str | None:
        commands = (each for each in tick.commands if each.output == name)
        return next((payloads.text(each.reason) for each in commands), None)

    since = kept(lambda tick, memory: payloads.civil(tick.now, memory.since_s))
    operations = kept(lambda _, memory: payloads.integer(memory.operations))
    properties = {
        "on": Property("on", "boolean", on, format="off,on"),
        "reason": Property("why", "string", reason),
        "since": Property("as it is since", "datetime", since),
        "operations": Property("switched on, all its life", "integer", operations, unit="#"),
    }
    # Whole minutes, so that it is not news at every tick.
    on_time = kept(lambda tick, memory: payloads.integer(int(_on_s(tick, memory) // 60.0)))
    properties["on-time"] = Property("on since the keeper started", "integer", on_time, unit="min")
    if (power_w := output.power_w) is not None:
        properties["energy"] = Property(
            "used since the keeper started",
            "float",
            kept(lambda tick, memory: payloads.decimal(_on_s(tick, memory) * power_w / _J_PER_KWH)),
            unit="kWh",
        )
    if isinstance(output, GpioOutput):
        rated = output.rated_operations
        properties["life-left"] = Property(
            "relay's rated life left",
            "integer",
            kept(lambda _, memory: _life_left(memory.operations, rated)),
            unit="%",
            format="0:100",
        )
    return Node(name, "output", properties)


def _on_s(tick: Tick, memory: OutputMemory) -> float:
    return memory.on_s(tick.now.mono_s)


def _life_left(operations: int, rated: int) -> str:
    return payloads.integer(max(0, round(100.0 * (1.0 - operations / rated))))


def vent_node(name: str, vent: Vent) -> Node[Tick]:
    def place(tick: Tick) -> str:
        return tick.memory.vents.get(name, VentMemory()).place.value

    def moving(tick: Tick) -> str:
        on = {each.output for each in tick.commands if each.on}
        return "opening" if vent.open in on else "closing" if vent.close in on else "still"

    places = ",".join(each.value for each in Place)
    return Node(
        name,
        "vent",
        {
            "place": Property("where it stands", "enum", place, format=places),
            "moving": Property("which way", "enum", moving, format="still,opening,closing"),
        },
    )


def contact_node(name: str, contact: Input) -> Node[Tick]:
    """Its value is deleted while it cannot be read."""

    def active(tick: Tick) -> str | None:
        reading = tick.contacts.get(name)
        if reading is None or reading.active is None:
            return None
        return payloads.boolean(reading.active)

    def since(tick: Tick) -> str | None:
        reading = tick.contacts.get(name)
        if reading is None or reading.active is None:
            return None
        return payloads.civil(tick.now, reading.taken_s)

    def status(tick: Tick) -> str:
        reading = tick.contacts.get(name)
        return "missing" if reading is None or reading.active is None else "ok"

    return Node(
        name,
        "contact",
        {
            contact.tells: Property("what it tells is so", "boolean", active, format="no,yes"),
            "since": Property("as it is since", "datetime", since),
            "status": Property("whether it can be read", "enum", status, format="ok,missing"),
        },
    )
