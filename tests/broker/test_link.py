"""The network side alone, against a server that says exactly what the test wants."""

import contextlib
import socket
import ssl
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Self

import pytest

from greenkeeper.broker import access
from greenkeeper.broker.link import V5, Arrival, Broken, Connected, Heard, Link, Target
from greenkeeper.broker.session import Message
from greenkeeper.settings.schema import Tls
from tests.broker.house import QUICK, Keeper
from tests.support.authority import Authority, Certificate
from tests.support.waiting import eventually

ROOT = "homie/5/plot"

DISCONNECT = bytes([0xE0, 0])  # normal: no will (MQTT 5.0, 3.14)
CONNACK = bytes([0x20, 3, 0, 0, 0])  # success, no properties (MQTT 5.0, 3.2)


def connack(*properties: int) -> bytes:
    return bytes([0x20, 3 + len(properties), 0, 0, len(properties), *properties])


def publish(topic: str, payload: str) -> bytes:
    """A short PUBLISH of QoS 0 (MQTT 5.0, 3.3)."""
    name = topic.encode(errors="surrogateescape")
    body = len(name).to_bytes(2, "big") + name + b"\0" + payload.encode()
    return bytes([0x30, len(body)]) + body


class Server:
    """Answers the first packet of every connection with these bytes, in one piece, and
    hangs up once the client has."""

    def __init__(self, answer: bytes, certificate: Certificate | None = None) -> None:
        self.connections = 0
        self.received = bytearray()
        self._answer = answer
        self._certificate = certificate
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._thread = threading.Thread(target=self._serve)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)
        self._thread.join(timeout=20)
        self._listener.close()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):  # the listener was shut, or a client went early
            while True:
                wire, _ = self._listener.accept()
                self.connections += 1
                self._answer_one(wire)

    def _answer_one(self, wire: socket.socket) -> None:
        if self._certificate is not None:
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            context.load_cert_chain(self._certificate.cert_file, self._certificate.key_file)
            wire = context.wrap_socket(wire, server_side=True)
        with wire, contextlib.suppress(ConnectionError):
            self.received += wire.recv(10_000)
            wire.sendall(self._answer)
            while more := wire.recv(10_000):
                self.received += more


@contextlib.contextmanager
def linked(port: int, tls: ssl.SSLContext | None = None) -> Iterator[Link]:
    link = Link(Target("localhost", port, 20, "plot", None, None, tls, ROOT, V5))
    try:
        yield link
    finally:
        link.drop()


def arrivals(link: Link, count: int) -> list[Arrival]:
    """The first so many; a turn that waits for bytes it already has would fail the test."""
    found: list[Arrival] = []
    while len(found) < count:
        new = link.turn(10.0)
        assert new or not found, "it waited for what was there already"
        found += new
    return found


def test_packets_that_came_together_in_one_encrypted_record_are_all_seen(tmp_path: Path) -> None:
    certificate = Authority(tmp_path).issue()
    tls = access.tls_context(Tls(ca_file=str(certificate.ca_file)))
    answer = CONNACK + publish(f"{ROOT}/a/b", "1") + publish(f"{ROOT}/a/b", "2")
    with Server(answer, certificate) as server, linked(server.port, tls) as link:
        assert arrivals(link, 3) == [
            Connected(None),
            Heard(f"{ROOT}/a/b", b"1", False),
            Heard(f"{ROOT}/a/b", b"2", False),
        ]


def test_the_limits_a_broker_states_are_heeded() -> None:
    # Receive Maximum 2 (0x21), Maximum Packet Size 1000 (0x27): MQTT 5.0, 3.2.2.3.
    with Server(connack(0x21, 0, 2, 0x27, 0, 0, 3, 0xE8)) as server, linked(server.port) as link:
        assert arrivals(link, 1) == [Connected(1000)]
        sent = 0
        while link.has_room:
            link.send(Message(f"{ROOT}/a/b", str(sent)))
            sent += 1
        assert sent == 2


def test_an_exception_in_a_callback_is_told_among_the_rest_and_never_thrown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    mistake = ZeroDivisionError("a mistake of ours")

    def wrong(*_: object) -> None:
        raise mistake

    monkeypatch.setattr(Link, "_on_message", wrong)
    answer = CONNACK + publish(f"{ROOT}/a/b", "1")
    with Server(answer) as server, linked(server.port) as link:
        assert arrivals(link, 2) == [Connected(None), Broken(mistake)]


def test_who_could_not_say_disconnected_does_not_take_leave_either() -> None:
    """Else the broker would drop the will, and a false `ready` would stay for ever."""
    pace = QUICK._replace(farewell_s=0.05)
    with Server(CONNACK) as server:  # acknowledges nothing
        with Keeper(server.port, pace=pace) as keeper:
            keeper.tick()
            eventually(lambda: b"init" in server.received, "the announcement")
        said = bytes(server.received)
    assert b"disconnected" not in said
    assert not said.endswith(DISCONNECT)


def test_who_leaves_before_being_let_in_takes_leave() -> None:
    with Server(b"") as server:
        with Keeper(server.port):
            eventually(lambda: server.received, "a CONNECT")
        eventually(lambda: server.received.endswith(DISCONNECT), "DISCONNECT")


@pytest.mark.parametrize(
    "junk",
    [
        pytest.param(b"HTTP/1.1 400 Bad Request\r\n\r\n", id="another protocol"),
        pytest.param(CONNACK + b"\x30\xff\xff\xff\xff\x7f", id="impossible length"),
        pytest.param(CONNACK + b"\x30\x00", id="empty PUBLISH"),
        pytest.param(CONNACK + b"\x40\x02\x00\x07\x40\x01\x00", id="cut PUBACK"),
        pytest.param(CONNACK + b"\x90\x03\x00\x01\x99", id="SUBACK without properties"),
        pytest.param(connack(0x21, 0), id="cut property"),
        pytest.param(connack(0x7F, 0), id="unknown property"),
        pytest.param(CONNACK + b"\xe0\x02\x01\x00", id="unknown goodbye"),
        pytest.param(CONNACK + publish("\udcff", "1"), id="topic that is no UTF-8"),
    ],
)
def test_a_server_that_talks_nonsense_is_left_and_tried_again(junk: bytes) -> None:
    pace = QUICK._replace(silent_s=0.3)
    with Server(junk) as server, Keeper(server.port, pace=pace) as keeper:
        (before,) = [each for each in threading.enumerate() if each.name == "broker"]
        keeper.tick()
        eventually(lambda: server.connections >= 3, "it tries again")
        assert keeper.trouble
        assert before.is_alive()
