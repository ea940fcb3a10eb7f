"""What the broker is shown of the coming night. Pure, but for whoever hands the outlook over.

Lives here: its node. Does not live here: reckoning it (reports/outlook.py), the file
(greenkeeper/outlook_file.py).
"""

from collections.abc import Callable
from typing import TypeVar

from greenkeeper.broker import payloads
from greenkeeper.broker.homie import CELSIUS, Node, Property
from greenkeeper.model import Tick
from greenkeeper.outlook_file import Said

# The outlook that holds now, if any.
Outlooks = Callable[[], Said | None]

T = TypeVar("T")


def outlook_node(outlooks: Outlooks) -> Node[Tick]:
    """Without an outlook for the night that is under way or next, nothing has a value."""

    def of(
        read: Callable[[Said], T], written: Callable[[T], str | None]
    ) -> Callable[[Tick], str | None]:
        def value(_: Tick) -> str | None:
            said = outlooks()
            return None if said is None else written(read(said))

        return value

    def temperature(name: str, read: Callable[[Said], float]) -> Property[Tick]:
        return Property(name, "float", of(read, payloads.decimal), unit=CELSIUS)

    return Node(
        "outlook",
        "outlook",
        {
            "zone": Property("which zone it is of", "string", of(lambda s: s.zone, payloads.text)),
            "advice": Property(
                "what to do about the coming night", "string", of(lambda s: s.advice, payloads.text)
            ),
            "by-season": Property(
                "covers and linings that are due",
                "string",
                of(
                    lambda s: s.due or None, lambda due: None if due is None else payloads.text(due)
                ),
            ),
            "too-cold": Property(
                "plants will be too cold", "boolean", of(lambda s: s.grave, payloads.boolean)
            ),
            "made": Property("when", "datetime", of(lambda s: s.made_utc_s, payloads.instant)),
            "outdoor-low": temperature("lowest outdoors", lambda s: s.outdoor_low_c),
            "outdoor-low-at": Property(
                "about when", "datetime", of(lambda s: s.outdoor_low_utc_s, payloads.instant)
            ),
            "outdoor-least": temperature("nine nights in ten not below", lambda s: s.least_c),
            "low": temperature("lowest at the plants", lambda s: s.inside_low_c),
            "low-without-heat": temperature("the same without heat", lambda s: s.cold_low_c),
            "energy": Property(
                "energy of the heater", "float", of(lambda s: s.kwh, payloads.decimal), unit="kWh"
            ),
        },
    )
