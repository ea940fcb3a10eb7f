"""What this keeper shows of the air's damp on the broker. Pure.

Lives here: the node of a hygrometer. Does not live here: everything else (keeper.py).
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
