"""A roll call on a real broker: everybody is found, nobody is disturbed."""

import pytest

from greenkeeper.broker import houses
from greenkeeper.broker.access import AccessError
from greenkeeper.broker.roll_call import RollCallError, call_roll
from greenkeeper.settings.schema import Broker
from tests.support.authority import Authority
from tests.support.gate import UNSUPPORTED_V5, UNSUPPORTED_V311, Gate
from tests.support.mosquitto import Mosquitto, free_port


def broker(port, **more):
    return Broker(host="127.0.0.1", port=port, **more)


def test_what_is_retained_is_found_and_nothing_is_left_behind(hub):
    hub.publish("a/b", "kept", retain=True)
    hub.publish("a/c", "gone")
    with hub.recorder("#") as seen:
        assert call_roll(broker(hub.port), ["a/+", "z/#"]) == {"a/b": b"kept"}
        assert {record.topic for record in seen.records} == {"a/b"}  # it publishes nothing
    assert "will" not in hub.log().lower().partition("as gknow")[2].partition("\n")[0]


def test_more_than_a_broker_holds_back_for_one_client_is_found_whole(tmp_path):
    """20 are the most this one keeps for a client that is slow to read."""
    with Mosquitto(tmp_path / "hub", top_lines=["max_queued_messages 20"]) as hub:
        for number in range(60):
            hub.publish(f"a/{number}", "x", retain=True)
        wanted = [f"a/{number}" for number in range(60)]

        def missing(found):
            return [topic for topic in wanted if topic not in found]

        assert sorted(call_roll(broker(hub.port), ["a/+"], missing)) == sorted(wanted)


def test_a_stream_of_news_does_not_hold_it_up(hub):
    """Only what was retained before counts: on a busy broker something always comes."""
    import threading

    hub.publish("a/b", "kept", retain=True)
    stop = threading.Event()

    def chatter():
        while not stop.is_set():
            hub.publish("a/news", "x")

    thread = threading.Thread(target=chatter)
    thread.start()
    try:
        assert call_roll(broker(hub.port), ["a/+"]) == {"a/b": b"kept"}
    finally:
        stop.set()
        thread.join()


def test_a_broker_behind_a_socket_is_asked_as_well(tmp_path):
    path = tmp_path / "s"
    with Mosquitto(tmp_path / "hub", socket_file=path) as hub:
        hub.publish("a/b", "kept", retain=True)
        assert call_roll(Broker(host=str(path)), ["a/+"]) == {"a/b": b"kept"}
    with pytest.raises(RollCallError, match=r"nobody: there is no such socket"):
        call_roll(Broker(host=str(tmp_path / "nobody")), ["a/+"])


def test_with_tls_and_a_password(tmp_path):
    certificate = Authority(tmp_path / "ca").issue()
    (tmp_path / "password").write_text("s3cret\n")
    with Mosquitto(tmp_path / "hub", users={"eye": "s3cret"}, tls=certificate) as hub:
        hub.publish("a/b", "kept", retain=True)
        asked = broker(
            hub.port,
            username="eye",
            password_file=str(tmp_path / "password"),
            tls={"ca_file": str(certificate.ca_file)},
        )
        assert call_roll(asked, ["a/+"]) == {"a/b": b"kept"}
        (tmp_path / "password").write_text("wrong\n")
        with pytest.raises(RollCallError, match=r"wrong user name|not authorised"):
            call_roll(asked, ["a/+"])
        (tmp_path / "password").write_text("")
        with pytest.raises(AccessError, match="is empty"):
            call_roll(asked, ["a/+"])


@pytest.mark.parametrize(
    "answer", [UNSUPPORTED_V5, UNSUPPORTED_V311], ids=["answer-of-5", "answer-of-3.1.1"]
)
def test_a_broker_that_speaks_the_older_protocol_alone(hub, answer):
    hub.publish("a/b", "kept", retain=True)
    with Gate(hub.port, refuse_v5=answer) as gate:
        assert call_roll(broker(gate.port), ["a/+"]) == {"a/b": b"kept"}


def test_nobody_there_and_somebody_who_never_answers_are_told(hub):
    with pytest.raises(RollCallError, match="nothing listens there"):
        call_roll(broker(free_port()), ["a/+"])
    with pytest.raises(RollCallError, match="name is not known"):
        call_roll(Broker(host="no-such-host.invalid"), ["a/+"])
    hub.freeze()
    with pytest.raises(RollCallError, match="no answer"):
        call_roll(broker(hub.port), ["a/+"], patience_s=0.5)
    hub.thaw()


def test_it_asks_for_each_filter_by_itself():
    assert len(set(houses.wanted("homie"))) == len(houses.wanted("homie"))
