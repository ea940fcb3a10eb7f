"""A storm of messages that make no sense, or nearly do, on the topics a keeper listens to.

Written out byte by byte (MQTT 3.1.1, 3.1 and 3.3), because Mosquitto's own client takes no
payload with a zero or a line end in it. The seed makes a storm the same every time.
"""

import random
import socket
from collections.abc import Iterator, Sequence

NEARLY = (
    *(b"8", b"4.0", b"20", b"3.99", b"20.01", b"-0", b"1e1", b"1e999", b"nan", b"inf", b"+8"),
    *(b" 8", b"8\n", b"off", b"armed", b"plan", b"OFF", b"off ", b"toggle", b"true", b"null"),
    *(b"{}", b"[]", b"\0", b"", b"\xff\xfe", b"\xc0\x80", b"\xed\xa0\x80", b"8" * 70, b"8" * 3000),
    *(
        b'{"value":8}',
        b"ready",
        b"lost",
        b"init",
        b"disconnected",
        "°C".encode(),
        "\uff18".encode(),
    ),
)

_CONNECT = b"\x10\x11\x00\x04MQTT\x04\x02\x00\x3c\x00\x05storm"
_PINGREQ, _PINGRESP = b"\xc0\x00", b"\xd0\x00"
_CONNACK_BYTES = 4
_TOGETHER = 200  # messages between two looks whether the broker has read them


def payloads(count: int, seed: int) -> Iterator[bytes]:
    chance = random.Random(seed)
    for _ in range(count):
        if chance.random() < 0.5:
            yield chance.choice(NEARLY)
        else:
            yield chance.randbytes(chance.choice((1, 3, 20, 200)))


def send(port: int, topics: Sequence[str], count: int, seed: int = 1) -> None:
    """So many on each of these topics, every tenth of them retained. Returns once the broker
    has taken them all."""
    with socket.create_connection(("127.0.0.1", port), timeout=60.0) as wire:
        wire.sendall(_CONNECT)
        _read(wire, _CONNACK_BYTES)
        for number, topic in enumerate(topics):
            for said, payload in enumerate(payloads(count, seed + number)):
                wire.sendall(_publish(topic, payload, retain=said % 10 == 0))
                if said % _TOGETHER == _TOGETHER - 1:
                    _wait(wire)
            _wait(wire)


def _publish(topic: str, payload: bytes, *, retain: bool) -> bytes:
    name = topic.encode()
    body = len(name).to_bytes(2, "big") + name + payload
    return bytes([0x31 if retain else 0x30]) + _length(len(body)) + body


def _length(size: int) -> bytes:
    """Seven bits a byte, the lowest first (MQTT 3.1.1, 2.2.3)."""
    found = bytearray()
    while True:
        size, low = divmod(size, 128)
        found.append(low | (0x80 if size else 0))
        if not size:
            return bytes(found)


def _wait(wire: socket.socket) -> None:
    wire.sendall(_PINGREQ)
    assert _read(wire, len(_PINGRESP)) == _PINGRESP


def _read(wire: socket.socket, size: int) -> bytes:
    found = b""
    while len(found) < size:
        more = wire.recv(size - len(found))
        assert more, "the broker hung up on the storm"
        found += more
    return found
