"""Somebody else's Homie 5 client finds the house, reads all of it, and is obeyed where it may be.

The client is ebus-sdk (PyPI, MIT), a library for any Homie 5 device. It is lenient: what it
takes is not therefore right, which homie_rules.py judges.
"""

import json
from collections.abc import Iterator

import pytest
from ebus_sdk.homie import Controller, DiscoveredDevice

from tests.broker.house import Keeper
from tests.support.mosquitto import Mosquitto
from tests.support.ticks import make_alarm
from tests.support.waiting import eventually

# That library uses an older interface of the MQTT client, which warns.
pytestmark = pytest.mark.filterwarnings("ignore:Callback API version 1 is deprecated")

DEVICE = "orchard-house"
COMMANDS = {"setpoints": ["bench"], "switches": ["bench"]}


@pytest.fixture
def controller(hub: Mosquitto) -> Iterator[Controller]:
    made = Controller(mqtt_cfg={"host": "127.0.0.1", "port": hub.port}, homie_domain="homie")
    made.start_discovery()
    yield made
    made.stop()


def found(controller: Controller, state: str) -> DiscoveredDevice:
    def there() -> bool:
        device = controller.get_device(DEVICE)
        return device is not None and device.state == state and device.description is not None

    eventually(there, lambda: f"{DEVICE} {state}: {controller.get_all_devices()}")
    device = controller.get_device(DEVICE)
    assert device is not None
    return device


def test_it_finds_the_house_and_reads_every_property(
    hub: Mosquitto, controller: Controller
) -> None:
    with Keeper(hub.port, commands=COMMANDS) as keeper:
        keeper.tick(alarms=[make_alarm("zone-blind", "bench")], on={"heater"})
        device = found(controller, "ready")
        retained = hub.retained(f"homie/5/{DEVICE}/+/+")
        told = {tuple(topic.split("/")[-2:]): payload for topic, payload in retained.items()}
        assert len(told) > 30

        def read() -> dict[tuple[str, str], object]:
            return {
                (node, name): value
                for node, properties in device.properties.items()
                for name, value in properties.items()
            }

        eventually(lambda: set(read()) >= set(told), lambda: f"{set(told) - set(read())}")
        assert {key: str(value) for key, value in read().items() if key in told} == told
        description = json.loads(hub.retained(f"homie/5/{DEVICE}/$description").popitem()[1])
        assert device.description == description
        described = {
            (node, name)
            for node, each in description["nodes"].items()
            for name, what in each["properties"].items()
            if what.get("retained", True)
        }
        # While no order stands there is no end of one, and before the first morning no night.
        described -= {("zone-bench", "heat-setpoint-until"), ("zone-bench", "off-until")}
        described = {key for key in described if key[0] not in ("last-night", "outlook")}
        assert {key for key in told if key[0] != "$alert"} == described
        assert ("$alert", "zone-blind-bench") in told
    assert found(controller, "disconnected").state == "disconnected"


def test_what_it_orders_arrives_as_an_order(hub: Mosquitto, controller: Controller) -> None:
    with Keeper(hub.port, commands=COMMANDS) as keeper:
        keeper.tick()
        found(controller, "ready")

        def ordered() -> bool:
            # Again until it is taken: the first second after connecting obeys nobody.
            controller.set_property(DEVICE, "zone-bench", "heat-setpoint", "8")
            return keeper.client.orders() != ()

        eventually(ordered, "the order")
