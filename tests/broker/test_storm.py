"""Thousands of senseless messages on every topic a keeper listens to: nothing comes of it."""

import math
from collections.abc import Callable

import pytest

from greenkeeper.broker.exchange import Exchange
from greenkeeper.clock import HandClock
from greenkeeper.model import Ask, Fault, Order
from greenkeeper.outputs.broker import BrokerSwitch, Words
from greenkeeper.probes.broker import (
    TO_CELSIUS,
    TO_PERCENT,
    BrokerHygrometers,
    BrokerProbes,
    Source,
)
from tests.broker import storm
from tests.broker.house import QUICK, ROOT, STATE, Keeper, seen
from tests.support.gate import UNSUPPORTED_V5, Gate
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

ZONE = f"{ROOT}/zone-bench"
COMMANDS = [f"{ZONE}/{name}/set" for name in ("heat-setpoint", "back-to-plan", "switch")]
TEMPERATURE, DAMP = "sensors/orchard/ridge", "sensors/orchard/damp"
MAT, ANSWERS = "sockets/mat/set", "sockets/mat/state"
FOREIGN = [TEMPERATURE, DAMP, ANSWERS]
ALL = [*COMMANDS, *FOREIGN, STATE, f"{ZONE}/coldest", f"{ROOT}/stray/thing"]
EACH = 500
ALLOWED = {"setpoints": ["bench"], "switches": ["bench"]}


def allowed(order: Order) -> bool:
    if order.zone != "bench":
        return False
    if order.ask is Ask.SETPOINT:
        return order.setpoint_c is not None and 4.0 <= order.setpoint_c <= 20.0
    return order.setpoint_c is None


class Neighbours:
    """A probe, a hygrometer and a switch of others, and how much the storm said to them."""

    def __init__(self, exchange: Exchange) -> None:
        self.clock = HandClock(utc_s=0.0)
        self.heard = dict.fromkeys(FOREIGN, 0)
        self.probes = BrokerProbes(
            {"ridge": Source(TEMPERATURE, "", TO_CELSIUS["°C"])}, exchange, self.clock
        )
        self.hygrometers = BrokerHygrometers(
            {"damp": Source(DAMP, "/value", TO_PERCENT["%"])}, exchange, self.clock
        )
        words = Words(MAT, "on", "off", ANSWERS, (), "armed", "off", hold_s=60.0)
        self.switch = BrokerSwitch("mat", words, exchange, self.clock, confirm_s=10.0, repeat_s=9.0)
        for topic in FOREIGN:
            exchange.subscribe(topic, self._counter(topic))

    def _counter(self, topic: str) -> Callable[[bytes, bool], None]:
        def count(payload: bytes, retained: bool) -> None:
            self.heard[topic] += 1

        return count

    def judge(self) -> None:
        """A number, or a fault; and a switch that is never certain of what was not ordered."""
        ridge = self.probes.read()["ridge"]
        assert (ridge.temp_c is None) is (ridge.fault is not None)
        assert ridge.temp_c is None or math.isfinite(ridge.temp_c)
        damp = self.hygrometers.read()["damp"]
        assert (damp.rh_pct, damp.fault) in {(8.0, None), (None, Fault.UNREADABLE)}
        assert not self.switch.certain, "nothing was ordered, so nothing can agree"


@pytest.mark.parametrize("older", [False, True], ids=["mqtt5", "mqtt311"])
def test_a_storm_changes_nothing_but_what_is_allowed(hub: Mosquitto, older: bool) -> None:
    exchange = Exchange()
    neighbours = Neighbours(exchange)
    pace = QUICK._replace(send_s=0.1)
    with (
        hub.recorder(MAT) as orders,
        Gate(hub.port, refuse_v5=UNSUPPORTED_V5 if older else None) as gate,
    ):
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
            eventually(
                lambda: min(neighbours.heard.values()) >= EACH * 0.9,
                lambda: f"the readers' share: {neighbours.heard}",
            )
            neighbours.judge()
            assert orders.payloads(MAT) == [], "a storm makes nobody switch"
            _answers_once_more(hub, neighbours)
            assert set(keeper.trouble) <= {"order-refused"}
            neighbours.switch.close()
        assert len(set(gate.connects)) == (2 if older else 1)
        assert len(gate.connects) == (2 if older else 1), "one connection all along"
        assert set(orders.payloads(MAT)) == {"off"}


def _answers_once_more(hub: Mosquitto, neighbours: Neighbours) -> None:
    """Sense after the storm is understood as before it."""
    hub.publish(TEMPERATURE, "7.5")
    eventually(lambda: neighbours.probes.read()["ridge"].temp_c == 7.5, "a sound reading")
    neighbours.switch.switch(on=False)
    hub.publish(ANSWERS, "off")
    eventually(lambda: neighbours.switch.certain, "a sound answer")
