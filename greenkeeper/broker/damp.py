"""What this keeper shows of the air's damp on the broker. Pure.

Lives here: the node of a hygrometer, and what a zone shows of its airing. Does not live
here: everything else (keeper.py).
"""

from collections.abc import Callable

from greenkeeper.broker import payloads
from greenkeeper.broker.homie import CELSIUS, Node, Property
from greenkeeper.model import Bad, Damp, Fault, Tick

_OK = "ok"


def hygrometer(name: str) -> Node[Tick]:
    """Values are deleted while it is not trusted, as a probe's are."""

    def decimal(read: Callable[[Damp], float | None]) -> Callable[[Tick], str | None]:
        def value(tick: Tick) -> str | None:
            verdict = tick.humidity.get(name)
            return payloads.decimal(read(verdict)) if isinstance(verdict, Damp) else None

        return value

    def status(tick: Tick) -> str:
        verdict = tick.humidity.get(name, Bad(Fault.MISSING, ""))
        return _OK if isinstance(verdict, Damp) else verdict.fault.value

    humidity = decimal(lambda damp: damp.rh_pct)
    dew_point = decimal(lambda damp: damp.dew_point_c)
    statuses = ",".join([_OK, *(fault.value for fault in Fault)])
    return Node(
        name,
        "hygrometer",
        {
            "humidity": Property("relative humidity", "float", humidity, unit="%"),
            "dew-point": Property("dew point", "float", dew_point, unit=CELSIUS),
            "status": Property("what the hygrometer is good for", "enum", status, format=statuses),
        },
    )


def airing(zone: str) -> dict[str, Property[Tick]]:
    """Properties of a zone that may be aired."""

    def asking(tick: Tick) -> str | None:
        known = tick.memory.airing.get(zone)
        return None if known is None else payloads.boolean(known.asking)

    def reason(tick: Tick) -> str | None:
        known = tick.memory.airing.get(zone)
        return None if known is None else payloads.text(known.reason)

    def let_out(tick: Tick) -> str | None:
        known = tick.memory.airing.get(zone)
        if known is None:
            return None
        return payloads.decimal(sum(wh for _, wh in known.hours) / 1000.0, 3)

    return {
        "airing": Property("asks to be aired", "boolean", asking),
        "airing-reason": Property("why it is aired, or not", "string", reason),
        "heat-let-out": Property(
            "heat let out by airing in 24 h, estimate", "float", let_out, unit="kWh"
        ),
    }
