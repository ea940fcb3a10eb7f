"""Thousands of senseless messages on every topic a keeper listens to: nothing comes of it."""

import pytest

from greenkeeper.broker.exchange import Exchange
from greenkeeper.model import Ask, Order
from tests.broker import storm
from tests.broker.house import QUICK, ROOT, STATE, Keeper, seen
from tests.support.gate import UNSUPPORTED_V5, Gate
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

ZONE = f"{ROOT}/zone-bench"
COMMANDS = [f"{ZONE}/{name}/set" for name in ("heat-setpoint", "back-to-plan", "switch")]
FOREIGN = "sensors/orchard/ridge"
ALL = [*COMMANDS, FOREIGN, STATE, f"{ZONE}/coldest", f"{ROOT}/stray/thing"]
EACH = 500
ALLOWED = {"setpoints": ["bench"], "switches": ["bench"]}


def allowed(order: Order) -> bool:
    if order.zone != "bench":
        return False
    if order.ask is Ask.SETPOINT:
        return order.setpoint_c is not None and 4.0 <= order.setpoint_c <= 20.0
    return order.setpoint_c is None


@pytest.mark.parametrize("older", [False, True], ids=["mqtt5", "mqtt311"])
def test_a_storm_changes_nothing_but_what_is_allowed(hub: Mosquitto, older: bool) -> None:
    exchange = Exchange()
    got: list[bytes] = []
    exchange.subscribe(FOREIGN, lambda payload, retained: got.append(payload))
    pace = QUICK._replace(send_s=0.1)
    with Gate(hub.port, refuse_v5=UNSUPPORTED_V5 if older else None) as gate:
        with Keeper(gate.port, pace=pace, exchange=exchange, commands=ALLOWED) as keeper:
            keeper.tick()
            keeper.wait_until_well()
            storm.send(hub.port, ALL, EACH)
            found = keeper.client.orders()
            assert len(found) <= len(COMMANDS)
            assert all(allowed(order) for order in found)
            # It still listens, speaks and holds its own against the last false word.
            keeper.tick({"bench": 1.25})
            eventually(lambda: seen(hub).get("probe-bench/temperature") == "1.25", "a new value")
            eventually(lambda: seen(hub).get("$state") == "ready", "its own word in the end")
            eventually(lambda: len(got) >= EACH * 0.9, lambda: f"the reader's share: {len(got)}")
            assert set(keeper.trouble) <= {"order-refused"}
        assert len(set(gate.connects)) == (2 if older else 1)
        assert len(gate.connects) == (2 if older else 1), "one connection all along"
