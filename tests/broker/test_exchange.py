"""What other rooms read from the broker and send through it, on a real one."""

import threading
from pathlib import Path

import pytest

from greenkeeper.broker.client import client_id
from greenkeeper.broker.exchange import LARGEST_PAYLOAD, MOST_WAITING, Exchange, Parcel
from tests.broker.house import QUICK, ROOT, Keeper, seen
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

CLIENT = client_id(ROOT)
TOPIC = "sensors/orchard/ridge"


class Reader:
    """Remembers what it was given; breaks when told to."""

    def __init__(self) -> None:
        self.got: list[tuple[bytes, bool]] = []
        self.thread = ""
        self.broken = False

    def __call__(self, payload: bytes, retained: bool) -> None:
        self.thread = threading.current_thread().name
        if self.broken:
            raise ZeroDivisionError("a mistake of the reader's")
        self.got.append((payload, retained))


# --- on a real broker ----------------------------------------------------------------


def test_a_reader_gets_what_is_kept_and_what_comes_and_knows_which_is_which(
    hub: Mosquitto,
) -> None:
    hub.publish(TOPIC, "7.5", retain=True)
    exchange, reader = Exchange(), Reader()
    exchange.subscribe(TOPIC, reader)
    with Keeper(hub.port, exchange=exchange) as keeper:
        keeper.tick()
        eventually(lambda: reader.got == [(b"7.5", True)], lambda: str(reader.got))
        hub.publish(TOPIC, "7.8", retain=True)
        eventually(lambda: reader.got[1:] == [(b"7.8", False)], lambda: str(reader.got))
    assert reader.thread == "broker"


def test_a_subscription_may_come_and_go_while_connected(hub: Mosquitto) -> None:
    exchange, reader = Exchange(), Reader()
    with Keeper(hub.port, exchange=exchange) as keeper:
        keeper.tick()
        keeper.wait_until_well()
        end = exchange.subscribe(TOPIC, reader)
        eventually(lambda: f"{TOPIC} (QoS 1)" in hub.log(), "the subscription")
        hub.publish(TOPIC, "1")
        eventually(lambda: reader.got, "the first message")
        end()
        eventually(lambda: f"Received UNSUBSCRIBE from {CLIENT}" in hub.log(), "its end")
        hub.publish(TOPIC, "2")
        assert reader.got == [(b"1", False)]


def test_a_reader_that_breaks_ends_neither_the_link_nor_the_others(hub: Mosquitto) -> None:
    exchange, broken, sound = Exchange(), Reader(), Reader()
    broken.broken = True
    exchange.subscribe(TOPIC, broken)
    exchange.subscribe(TOPIC, sound)
    with Keeper(hub.port, exchange=exchange) as keeper:
        keeper.tick()
        eventually(lambda: ("$state", "ready") in seen(hub).items(), "ready")
        hub.publish(TOPIC, "1")
        eventually(lambda: sound.got, "the other reader")
        keeper.wait_for_trouble("part-failed", "ZeroDivisionError")
        broken.broken = False
        hub.publish(TOPIC, "2")
        eventually(lambda: broken.got, "the mended reader")
        keeper.wait_until_well()
    assert hub.log().count(f" as {CLIENT} ") == 1, "one connection all along"


def test_what_is_sent_leaves_at_once_and_not_at_the_next_beat(hub: Mosquitto) -> None:
    exchange = Exchange()
    slow = QUICK._replace(send_s=500.0)
    with hub.recorder() as recorder, Keeper(hub.port, pace=slow, exchange=exchange) as keeper:
        keeper.tick()
        eventually(lambda: exchange.connected, "a connection")
        assert exchange.send("sockets/heater/set", b"on")
        recorder.wait_for("sockets/heater/set", "on", within_s=5.0)
        (record,) = [each for each in recorder.records if each.topic.startswith("sockets/")]
        assert (record.qos, record.retain) == (1, False)


def test_of_many_messages_on_one_topic_the_last_arrives(hub: Mosquitto) -> None:
    exchange = Exchange()
    with hub.recorder() as recorder, Keeper(hub.port, exchange=exchange) as keeper:
        keeper.tick()
        eventually(lambda: exchange.connected, "a connection")
        for number in range(500):
            assert exchange.send("sockets/heater/set", str(number).encode())
        recorder.wait_for("sockets/heater/set", "499")
        sent = [int(each) for each in recorder.payloads("sockets/heater/set")]
        assert sent == sorted(sent)


def test_nothing_is_kept_for_a_broker_that_is_away(hub: Mosquitto) -> None:
    exchange = Exchange()
    assert not exchange.send(TOPIC, b"1")
    with hub.recorder() as recorder, Keeper(hub.port, exchange=exchange) as keeper:
        keeper.tick()
        eventually(lambda: exchange.connected, "a connection")
        hub.stop()
        eventually(lambda: not exchange.connected, "its end")
        assert not exchange.send(TOPIC, b"2")
        hub.start()
        eventually(lambda: exchange.connected, "another connection")
        eventually(
            lambda: exchange.send(TOPIC, b"3") and recorder.payloads(TOPIC),
            "a message, once the recorder is back as well",
        )
        assert set(recorder.payloads(TOPIC)) == {"3"}


def test_the_keepers_own_topics_are_not_written_through_it(hub: Mosquitto) -> None:
    exchange = Exchange()
    with Keeper(hub.port, exchange=exchange) as keeper:
        keeper.tick()
        eventually(lambda: exchange.connected, "a connection")
        exchange.send(f"{ROOT}/$state", b"lost")
        keeper.wait_for_trouble("broker-refused", "own device")
    assert seen(hub)["$state"] == "disconnected"


def test_a_topic_the_broker_does_not_let_us_write_is_named(tmp_path: Path) -> None:
    access = f"topic readwrite {ROOT}/#\n"
    exchange = Exchange()
    with (
        Mosquitto(tmp_path / "hub", access=access) as hub,
        Keeper(hub.port, exchange=exchange) as keeper,
    ):
        keeper.tick()
        eventually(lambda: exchange.connected, "a connection")
        exchange.send(TOPIC, b"1")
        keeper.wait_for_trouble("broker-refused", "not authorised")
        assert {each.subject for each in keeper.client.conditions()} >= {TOPIC}


# --- alone ---------------------------------------------------------------------------


@pytest.mark.parametrize("topic", ["", "a/+/b", "a/#", "$SYS/broker", "a\nb", "x" * 70_000])
def test_what_is_no_single_topic_is_refused_at_once(topic: str) -> None:
    with pytest.raises(ValueError, match=r"topic|wildcard|broker"):
        Exchange().subscribe(topic, Reader())
    with pytest.raises(ValueError, match=r"topic|wildcard|broker"):
        Exchange().send(topic, b"1")


def test_what_waits_is_bounded_in_number_and_size() -> None:
    exchange = Exchange()
    exchange.opened(lambda: None)
    sent = [exchange.send(f"a/{number}", b"1") for number in range(MOST_WAITING + 5)]
    assert sent.count(True) == MOST_WAITING
    assert exchange.send("a/0", b"2"), "a newer one takes the place of the older"
    with pytest.raises(ValueError, match="is the most"):
        exchange.send("a/0", b"x" * (LARGEST_PAYLOAD + 1))


def test_a_topic_with_a_message_under_way_waits() -> None:
    exchange = Exchange()
    exchange.opened(lambda: None)
    exchange.send("a", b"1")
    assert exchange.take({"a"}) is None
    assert exchange.take(set()) == Parcel("a", b"1", retain=False)
    assert exchange.take(set()) is None


def test_an_old_connection_that_ends_late_does_not_close_the_new_one() -> None:
    exchange = Exchange()
    old, new = (lambda: None), (lambda: None)
    exchange.opened(old)
    exchange.opened(new)
    exchange.closed(old)
    assert exchange.connected
    exchange.closed(new)
    assert not exchange.connected
