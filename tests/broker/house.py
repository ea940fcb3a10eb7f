"""A keeper on a broker, for the tests of this room: one client, and what it showed."""

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, Self

from greenkeeper.broker.client import BrokerClient
from greenkeeper.broker.exchange import Exchange
from greenkeeper.broker.pace import Pace
from greenkeeper.clock import HandClock
from greenkeeper.model import Tick
from greenkeeper.settings.schema import Settings
from tests.support import homie_rules
from tests.support.mosquitto import Mosquitto
from tests.support.ticks import NOW, make_settings, make_tick
from tests.support.waiting import eventually

ROOT = "homie/5/orchard-house"
# Told from files that timers leave, and no timer runs in these tests.
BY_TIMERS = ("last-night/", "outlook/")
STATE = f"{ROOT}/$state"

# Impatient, so that tests are quick; the limits that guard against silence stay far off.
QUICK = Pace(
    silent_s=60.0,
    affirm_s=60.0,
    stalled_s=600.0,
    send_s=0.02,
    first_retry_s=0.02,
    longest_retry_s=0.2,
)


class Keeper:
    """A started client; closed at the end of the `with`."""

    def __init__(
        self,
        port: int,
        *,
        pace: Pace = QUICK,
        exchange: Exchange | None = None,
        house: Mapping[str, Any] = MappingProxyType({}),
        **broker: Any,
    ) -> None:
        """house: what differs from the invented one."""
        self.settings: Settings = make_settings(
            **house, broker={"host": "127.0.0.1", "port": port, "keepalive_s": 5, **broker}
        )
        clock = HandClock(utc_s=NOW.utc_s - 3600.0, mono_s=NOW.mono_s - 3600.0)
        self.client = BrokerClient(self.settings, clock, "0.1.0", pace=pace, exchange=exchange)

    def __enter__(self) -> Self:
        self.client.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.client.close()

    def tick(self, *arguments: Any, **more: Any) -> Tick:
        """Make a tick and publish it."""
        tick = make_tick(self.settings, *arguments, **more)
        self.client.publish(tick)
        return tick

    @property
    def trouble(self) -> dict[str, str]:
        """Code -> text of what the client complains of."""
        return {each.code: each.text for each in self.client.conditions()}

    def wait_until_well(self) -> None:
        eventually(lambda: not self.client.conditions(), lambda: f"well: {self.trouble}")

    def wait_for_trouble(self, code: str, words: str) -> None:
        eventually(
            lambda: words in self.trouble.get(code, ""),
            lambda: f"{code} with {words!r}; it says {self.trouble}",
        )


def seen(broker: Mosquitto) -> dict[str, str]:
    """What a late subscriber is given of the device, without the root."""
    found = broker.retained(f"{ROOT}/#")
    return {topic.removeprefix(f"{ROOT}/"): payload for topic, payload in found.items()}


def is_complete(broker: Mosquitto) -> bool:
    """`ready`, and a late subscriber gets every property the description names, no more;
    only the end of an order, and a night that was not summed up yet, may be without a value."""
    late = seen(broker)
    state, description = late.pop("$state", None), late.pop("$description", None)
    if state != "ready" or description is None:
        return False
    named = homie_rules.properties(homie_rules.parse(description))
    retained = {path for path, fields in named.items() if fields.get("retained", True)}
    return late.keys() <= retained and all(
        path.endswith("-until") or path.startswith(BY_TIMERS) for path in retained - late.keys()
    )


def wait_until_complete(broker: Mosquitto) -> None:
    eventually(lambda: is_complete(broker), lambda: f"complete: {seen(broker)}")


def write_password(folder: Path, text: str) -> Path:
    file = folder / "broker-password"
    file.write_text(text, encoding="utf-8")
    return file
