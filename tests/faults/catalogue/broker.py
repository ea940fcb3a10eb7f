"""A broker that is gone, silent, hostile or refuses; its client's thread and handles."""

import errno
import os
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import Any

from greenkeeper.broker.client import BrokerClient
from tests.faults.fault import Fault, Heat
from tests.faults.house import BREAKS_S, MENDS_S, House
from tests.support.mosquitto import Mosquitto, free_port
from tests.support.waiting import eventually


def at(port: int, more: str = "") -> Callable[[House], None]:
    def inject(house: House) -> None:
        house.write_settings(
            extra=f"broker: {{host: 127.0.0.1, port: {port}, keepalive_s: 5{more}}}\n"
        )

    return inject


def not_there(house: House) -> None:
    at(free_port())(house)


@contextmanager
def server(says: bytes | None) -> Iterator[int]:
    """Takes connections. Says this to each and hangs up; None: never says a word."""
    taken: list[socket.socket] = []
    listener = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        while True:
            try:
                wire, _ = listener.accept()
            except OSError:
                return  # it was closed
            if says is None:
                taken.append(wire)
                continue
            with closing(wire):
                try:
                    wire.recv(4096)
                    wire.sendall(says)
                except OSError:
                    continue  # the client was quicker

    thread = threading.Thread(target=serve, name="server")
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        thread.join()
        for wire in taken:
            wire.close()


def served(says: bytes | None, more: str = "") -> Callable[[House], None]:
    def inject(house: House) -> None:
        running = server(says)
        at(running.__enter__(), more)(house)
        house.afterwards(lambda: running.__exit__(None, None, None))

    return inject


def no_such_name(house: House) -> None:
    def unknown(*_: Any, **__: Any) -> Any:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    not_there(house)
    house.patch.setattr(socket, "getaddrinfo", unknown)


def resolver_hangs(house: House) -> None:
    """For minutes, as they do without a network. The end does not wait for it."""
    go_on = threading.Event()

    def slow(*_: Any, **__: Any) -> Any:
        go_on.wait(60.0)
        raise socket.gaierror(socket.EAI_AGAIN, "Temporary failure in name resolution")

    not_there(house)
    house.patch.setattr(socket, "getaddrinfo", slow)
    house.afterwards(go_on.set)


def thread_dies(house: House) -> None:
    connect = BrokerClient._connect_once
    met: list[bool] = []

    def die(client: BrokerClient) -> float:
        if not met:
            met.append(True)
            raise SystemExit(1)
        return connect(client)

    not_there(house)
    house.patch.setattr(threading, "excepthook", lambda _: None)  # its end is meant
    house.patch.setattr(BrokerClient, "_connect_once", die)


def no_handles(house: House) -> None:
    """The client needs two for its bell."""

    def refuses(*_: Any, **__: Any) -> None:
        raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))

    not_there(house)
    house.patch.setattr(BrokerClient, "__init__", refuses)


def killed(house: House) -> None:
    """A real one, by kill -9, and back with an empty store."""
    broker = Mosquitto(house.folder / "mosquitto")
    broker.start()
    at(broker.port)(house)

    def well() -> bool:
        return house.parts.broker is not None and not house.parts.broker.conditions()

    def kill() -> None:
        broker.kill()
        eventually(lambda: not well(), "the loss was not noticed")

    def back() -> None:
        broker.start()
        eventually(well, "it did not come back")

    house.at(25.0, eventually, well, "it did not connect")
    house.at(BREAKS_S, kill)
    house.at(MENDS_S, back)
    house.afterwards(broker.kill)


LOST, REFUSED = ("broker-lost",), ("broker-refused",)
FAULTS = (
    Fault("broker-not-there", "nobody listens on its port", not_there, Heat.GOES_ON, LOST),
    Fault("broker-silent", "it takes the connection and never answers", served(None),
          Heat.GOES_ON, LOST),
    Fault("broker-hangs-up", "it hangs up on every greeting", served(b""), Heat.GOES_ON, LOST),
    Fault("broker-talks-nonsense", "it answers with random bytes",
          served(b"\xf0\xff\x00HTTP/1.1 200 OK\r\n\r\n" * 50), Heat.GOES_ON, LOST),
    Fault("broker-is-no-tls", "TLS is wanted, and it speaks plainly",
          served(b"\x20\x02\x00\x00", ", tls: {}"), Heat.GOES_ON, LOST),
    Fault("broker-name-unknown", "its name has no address", no_such_name, Heat.GOES_ON, LOST),
    Fault("broker-resolver-hangs", "asking for its address takes minutes", resolver_hangs,
          Heat.GOES_ON, LOST),
    Fault("broker-password-gone", "the password's file is not there",
          at(1, ", username: keeper, password_file: /nowhere/password"), Heat.GOES_ON, REFUSED,
          may=LOST),
    Fault("broker-authority-gone", "the authority's certificate is not there",
          at(1, ", tls: {ca_file: /nowhere/ca.pem}"), Heat.GOES_ON, REFUSED, may=LOST),
    Fault("broker-killed", "a real broker is killed and comes back", killed, Heat.GOES_ON, LOST),
    Fault("broker-thread-dies", "its client's thread ends", thread_dies, Heat.GOES_ON, LOST),
    Fault("broker-no-handles", "its client cannot be made", no_handles, Heat.GOES_ON, LOST),
)  # fmt: skip
