"""Which commands are believed. Every way in which one may be old, wrong or too much."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.broker.orders import (
    LONGEST_PAYLOAD,
    MOST_AT_ONCE,
    OLDEST_S,
    REFILL_S,
    TOLD_S,
    Arrived,
    Orders,
)
from greenkeeper.model import Ask, Order
from tests.support.ticks import make_settings

ROOT = "homie/5/orchard-house/zone-bench"
SETPOINT, BACK, SWITCH = (
    f"{ROOT}/{name}/set" for name in ("heat-setpoint", "back-to-plan", "switch")
)


class Hand:
    """Seconds that move when told to."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


def made(time_s: Any = None) -> Orders:
    commands = {"setpoints": ["bench"], "switches": ["bench"]}
    settings = make_settings(broker={"host": "hub", "commands": commands})
    device = KeeperDevice(settings, program="0", started_s=0.0)
    return Orders(device.commands, time_s or Hand())


def arrived(topic: str, payload: bytes | str, **how: bool) -> Arrived:
    data = payload.encode() if isinstance(payload, str) else payload
    return Arrived(topic, data, **{"kept": False, "settled": True, **how})


@pytest.mark.parametrize(
    ("topic", "payload", "order"),
    [
        (SETPOINT, "8", Order("bench", Ask.SETPOINT, 8.0)),
        (SETPOINT, "8.257", Order("bench", Ask.SETPOINT, 8.26)),
        (SETPOINT, "0.8e1", Order("bench", Ask.SETPOINT, 8.0)),
        (SETPOINT, "4", Order("bench", Ask.SETPOINT, 4.0)),  # the lemon's minimum
        (SETPOINT, "20", Order("bench", Ask.SETPOINT, 20.0)),
        (BACK, "plan", Order("bench", Ask.PLAN)),
        (SWITCH, "off", Order("bench", Ask.OFF)),
        (SWITCH, "armed", Order("bench", Ask.ARMED)),
    ],
)
def test_what_a_property_takes_becomes_an_order(topic: str, payload: str, order: Order) -> None:
    orders = made()
    assert orders.take_in(arrived(topic, payload)) is None
    assert orders.take_out() == (order,)
    assert orders.take_out() == (), "each once"
    assert orders.conditions() == ()


@pytest.mark.parametrize(
    ("topic", "payload", "why"),
    [
        (SETPOINT, "3.99", "not within 4 to 20"),
        (SETPOINT, "20.01", "not within 4 to 20"),
        (SETPOINT, "-8", "not within"),
        (SETPOINT, "1e400", "is no number"),
        (SETPOINT, "nan", "is no number"),
        (SETPOINT, "Infinity", "is no number"),
        (SETPOINT, "+8", "is no number"),
        (SETPOINT, " 8", "is no number"),
        (SETPOINT, "8\n", "is no number"),
        (SETPOINT, "8,5", "is no number"),
        (SETPOINT, "8 °C", "is no number"),
        (SETPOINT, "0x8", "is no number"),
        (SETPOINT, "1_0", "is no number"),
        (SETPOINT, "\u0668", "is no number"),  # a digit, but not of ASCII
        (SETPOINT, "true", "is no number"),
        (SETPOINT, '{"value": 8}', "is no number"),
        (SETPOINT, "\0", "is no number"),
        (SETPOINT, b"\xff\xfe8", "no UTF-8"),
        (SETPOINT, b"\xc0\xb8", "no UTF-8"),
        (SETPOINT, "8" * (LONGEST_PAYLOAD + 1), "is the most"),
        (SWITCH, "OFF", "none of armed, off"),
        (SWITCH, "off ", "none of armed, off"),
        (SWITCH, "false", "none of armed, off"),
        (SWITCH, "toggle", "none of armed, off"),
        (BACK, "off", "none of plan"),
        (f"{ROOT}/cool-setpoint/set", "8", "nothing can be ordered there"),
        (f"{ROOT}/coldest/set", "8", "nothing can be ordered there"),
        ("homie/5/orchard-house/output-heater/on/set", "true", "nothing can be ordered"),
        ("homie/5/$broadcast/alert", "fire", "nothing can be ordered there"),
    ],
)
def test_anything_else_is_refused_and_told(topic: str, payload: bytes | str, why: str) -> None:
    orders = made()
    refusal = orders.take_in(arrived(topic, payload))
    assert refusal is not None
    assert why in refusal
    assert refusal.isprintable()
    assert orders.take_out() == ()
    (condition,) = orders.conditions()
    assert (condition.code, condition.subject) == ("order-refused", "broker")
    assert why in condition.text


@pytest.mark.parametrize(
    ("how", "why"),
    [({"kept": True}, "retained"), ({"settled": False}, "may be old")],
)
def test_what_may_be_old_is_refused(how: dict[str, bool], why: str) -> None:
    orders = made()
    assert why in (orders.take_in(arrived(SWITCH, "off", **how)) or "")
    assert orders.take_out() == ()


def test_a_deleted_topic_orders_nothing_and_is_not_worth_a_word() -> None:
    orders = made()
    assert orders.take_in(arrived(SWITCH, b"", kept=True)) is None
    assert (orders.take_out(), orders.conditions()) == ((), ())


def test_of_one_property_the_newest_counts_and_the_last_given_comes_last() -> None:
    orders = made()
    for topic, payload in [(SETPOINT, "6"), (SWITCH, "off"), (SETPOINT, "7")]:
        orders.take_in(arrived(topic, payload))
    assert orders.take_out() == (Order("bench", Ask.OFF), Order("bench", Ask.SETPOINT, 7.0))


def test_a_storm_is_let_through_drop_by_drop() -> None:
    time_s = Hand()
    orders = made(time_s)
    passed = 0
    for second in range(3600):
        time_s.now_s = 1000.0 + second
        for number in range(20):
            orders.take_in(arrived(SETPOINT, f"{4 + number % 10}"))
        passed += len(orders.take_out())
    assert passed <= MOST_AT_ONCE + 3600.0 / REFILL_S + 1
    assert "dropped: more than" in orders.conditions()[0].text


def test_what_control_did_not_take_in_time_is_old() -> None:
    time_s = Hand()
    orders = made(time_s)
    orders.take_in(arrived(SWITCH, "off"))
    time_s.now_s += OLDEST_S + 0.1
    assert orders.take_out() == ()


def test_a_refusal_is_told_for_a_while_and_counted() -> None:
    time_s = Hand()
    orders = made(time_s)
    for payload in ("a", "b", "c"):
        orders.take_in(arrived(SWITCH, payload))
    assert orders.conditions()[0].text.endswith("'a' is none of armed, off (3 in all)")
    time_s.now_s += TOLD_S + 0.1
    assert orders.conditions() == ()


def test_without_settings_that_say_so_there_is_nothing_to_order() -> None:
    for broker in ({"host": "hub"}, {"host": "hub", "commands": {}}):
        device = KeeperDevice(make_settings(broker=broker), program="0", started_s=0.0)
        assert device.commands == {}
        assert "settable" not in device.description


TOPICS = st.sampled_from([SETPOINT, BACK, SWITCH]) | st.text()
PAYLOADS = (
    st.binary(max_size=200)
    | st.text(max_size=20).map(str.encode)
    | st.floats().map(lambda value: repr(value).encode())
)


@given(st.lists(st.builds(Arrived, TOPICS, PAYLOADS, st.booleans(), st.booleans()), max_size=30))
def test_whatever_arrives_no_order_leaves_the_bounds(messages: list[Arrived]) -> None:
    orders = made()
    for message in messages:
        orders.take_in(message)
    for order in orders.take_out():
        assert order.zone == "bench"
        if order.ask is Ask.SETPOINT:
            assert order.setpoint_c is not None
            assert 4.0 <= order.setpoint_c <= 20.0
        else:
            assert order.setpoint_c is None
