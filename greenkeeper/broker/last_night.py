"""What the broker is shown of the last night. Pure, but for whoever hands the night over.

Lives here: its node. Does not live here: working it out (reports/night.py), the file
(greenkeeper/last_night.py).
"""

from collections.abc import Callable
from typing import TypeVar

from greenkeeper.broker import payloads
from greenkeeper.broker.homie import CELSIUS, Node, Property
from greenkeeper.last_night import LastNight
from greenkeeper.model import Tick
from greenkeeper.settings.schema import Settings

# Monotonic second -> the night that was kept last, if any.
Nights = Callable[[float], LastNight | None]

# Older than this, its timer does not run any more: an old night would be taken for the last.
SHOWN_FOR_S = 36 * 3600.0

T = TypeVar("T")


def last_night_node(settings: Settings, nights: Nights) -> Node[Tick]:
    """Without a night to show none of its properties has a value."""

    def of(
        read: Callable[[LastNight], T | None], written: Callable[[T], str | None]
    ) -> Callable[[Tick], str | None]:
        def value(tick: Tick) -> str | None:
            night = nights(tick.now.mono_s)
            if night is None or not tick.now.clock_trusted:
                return None
            if tick.now.utc_s - night.to_utc_s > SHOWN_FOR_S:
                return None
            found = read(night)
            return None if found is None else written(found)

        return value

    def low(zone: str) -> Property[Tick]:
        read = of(lambda night: night.lows_c.get(zone), payloads.decimal)
        return Property(f"lowest at {zone}", "float", read, unit=CELSIUS)

    outdoor = of(lambda night: night.outdoor_low_c, payloads.decimal)
    currency = "" if settings.tariff is None else f" in {settings.tariff.currency}"
    return Node(
        "last night",
        "night",
        {
            "evening": Property(
                "the evening it began", "string", of(lambda night: night.evening, payloads.text)
            ),
            "summary": Property(
                "how the plants fared", "string", of(lambda night: night.summary, payloads.text)
            ),
            "outdoor-low": Property("lowest outdoors", "float", outdoor, unit=CELSIUS),
            **{f"low-{zone}": low(zone) for zone in settings.zones},
            "heated": Property(
                "heaters on for", "duration", of(lambda night: night.heated_s, payloads.duration)
            ),
            "energy": Property(
                "energy of the heaters",
                "float",
                of(lambda night: night.kwh, payloads.decimal),
                unit="kWh",
            ),
            "cost": Property(
                f"its cost{currency}", "float", of(lambda night: night.cost, payloads.decimal)
            ),
        },
    )
