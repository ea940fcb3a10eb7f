"""A gate in front of a broker: a TCP relay that can lie, hang and cut.

For faults that no real broker shows on request: one that speaks only MQTT 3.1.1, a link
that dies without a word, a host that swallows everything. What passes is real traffic
between the client under test and a real Mosquitto.
"""

import contextlib
import socket
import threading
import time
from typing import Self

from tests.support.mosquitto import free_port

# CONNACK with "unsupported protocol version": as MQTT 5 has it (5.0, table 3-1, 0x84), and
# as a server answers that knows 3.1.1 alone (3.1.1, table 3.1, 0x01).
UNSUPPORTED_V5 = bytes([0x20, 3, 0, 0x84, 0])
UNSUPPORTED_V311 = bytes([0x20, 2, 0, 1])

_LAST_WORDS_S = 5.0  # only a client that never hangs up takes so long
_LEVEL_AT = 8  # of CONNECT: header, length byte(s) apart, "MQTT" with its length, then the level


class Gate:
    """Listens on `port` and passes everything on to `onward_port`, until told otherwise.

    refuse_v5: what a CONNECT of MQTT 5 is answered with, instead of being passed on.
    """

    def __init__(self, onward_port: int, *, refuse_v5: bytes | None = None) -> None:
        self.port = free_port()
        self.connects: list[int] = []  # protocol level of every CONNECT so far
        self._onward_port = onward_port
        self._refuse_v5 = refuse_v5
        self._open = threading.Event()
        self._open.set()
        self._ending = False
        self._sockets: set[socket.socket] = set()
        self._clients: set[socket.socket] = set()  # those of them that lead to clients
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", self.port))
        self._threads = [threading.Thread(target=self._accept, daemon=True)]
        self._threads[0].start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._open.set()
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        # What clients said last must still pass, a DISCONNECT above all.
        until_s = time.monotonic() + _LAST_WORDS_S
        while self._sockets and time.monotonic() < until_s:
            time.sleep(0.01)
        self._ending = True
        self.cut()
        for thread in self._threads:
            thread.join(timeout=20)

    def hold(self) -> None:
        """Take everything and pass nothing on, in neither direction."""
        self._open.clear()

    def release(self) -> None:
        """Pass on again, first what was held back."""
        self._open.set()

    def cut(self) -> None:
        """End every connection there is, without a word of the protocol."""
        with self._lock:
            for wire in self._sockets:
                with contextlib.suppress(OSError):  # its own thread was quicker
                    wire.shutdown(socket.SHUT_RDWR)

    def say(self, packet: bytes) -> None:
        """Say this to every client, as if the broker did; between two of its own packets."""
        with self._lock:
            for wire in self._clients:
                wire.sendall(packet)

    # --- inside ----------------------------------------------------------------------

    def _accept(self) -> None:
        while True:
            try:
                wire, _ = self._listener.accept()
            except OSError:
                return  # the listener was closed
            self._run(self._serve, wire)

    def _serve(self, wire: socket.socket) -> None:
        with wire:
            self._keep(wire, client=True)
            first = self._receive(wire)
            if first:
                level = first[_LEVEL_AT + (first[1] > 0x7F)]
                self.connects.append(level)
                if level == 5 and self._refuse_v5 is not None:
                    wire.sendall(self._refuse_v5)
                else:
                    with contextlib.suppress(OSError):  # nobody there: hang up as well
                        self._relay(wire, first)
            self._forget(wire)

    def _relay(self, wire: socket.socket, first: bytes) -> None:
        with socket.create_connection(("127.0.0.1", self._onward_port)) as onward:
            self._keep(onward)
            back = self._run(self._pump, onward, wire, b"")
            self._pump(wire, onward, first)
            back.join(timeout=20)
            self._forget(onward)

    def _pump(self, source: socket.socket, sink: socket.socket, data: bytes) -> None:
        while True:
            self._open.wait()
            with contextlib.suppress(OSError):  # the far end has gone; so does this one
                sink.sendall(data)
            data = self._receive(source)
            if not data:
                with contextlib.suppress(OSError):
                    sink.shutdown(socket.SHUT_WR)
                return

    def _receive(self, source: socket.socket) -> bytes:
        try:
            return source.recv(65_536)
        except OSError:
            return b""

    def _run(self, target: object, *arguments: object) -> threading.Thread:
        thread = threading.Thread(target=target, args=arguments, daemon=True)  # type: ignore[arg-type]
        self._threads.append(thread)
        thread.start()
        return thread

    def _keep(self, wire: socket.socket, *, client: bool = False) -> None:
        with self._lock:
            self._sockets.add(wire)
            if client:
                self._clients.add(wire)
        if self._ending:
            self.cut()

    def _forget(self, wire: socket.socket) -> None:
        with self._lock:
            self._sockets.discard(wire)
            self._clients.discard(wire)
