"""Serving the page: one process, few connections, no patience with those who dawdle.

Lives here: uvicorn with the limits it has no options for. A caller who does not finish
asking, or does not take what he asked for, is let go; and no address may hold more than
its share of the connections. Does not live here: the pages (app.py), who is let in (gate.py).
"""

import asyncio
import socket
import struct
from collections import Counter
from typing import Any, ClassVar

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from greenkeeper.errors import GreenkeeperError

ASKING_S = 15.0  # so long a request may take to arrive, and a connection be idle
TAKING_S = 30.0  # so long nothing may be taken of an answer
_MOST_EACH = 32  # connections of one address: a browser opens six
_MOST = 256  # of all together
_LARGEST_HEAD = 16 * 1024  # bytes
_SENDING = 64 * 1024  # bytes the kernel holds for a caller who does not take them
_NO_LINGER = struct.pack("ii", 1, 0)  # socket(7), SO_LINGER


class Impatient(H11Protocol):
    """HTTP/1.1 as uvicorn speaks it, with deadlines."""

    _open: ClassVar[Counter[str]] = Counter()  # by address: one protocol is one connection
    _address = ""
    _asking: asyncio.TimerHandle | None = None
    _taking: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override] # theirs is narrower than what asyncio hands over
        super().connection_made(transport)
        peer = transport.get_extra_info("peername")
        self._address = str(peer[0]) if isinstance(peer, tuple) else ""
        self._open[self._address] += 1
        if self._open[self._address] > _MOST_EACH:
            self._let_go()
            return
        self._wait_for_request()

    def connection_lost(self, exc: Exception | None) -> None:
        self._open[self._address] -= 1
        if self._open[self._address] <= 0:
            del self._open[self._address]
        for timer in (self._asking, self._taking):
            if timer is not None:
                timer.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if self.cycle is not None and not self.cycle.response_complete:
            self._stop_waiting()  # all of a request's head is there
        elif self._asking is None:
            self._wait_for_request()

    def on_response_complete(self) -> None:
        super().on_response_complete()
        if self._asking is None and not self.transport.is_closing():
            self._wait_for_request()

    def pause_writing(self) -> None:
        super().pause_writing()
        self._taking = self.loop.call_later(TAKING_S, self._let_go)

    def resume_writing(self) -> None:
        super().resume_writing()
        if self._taking is not None:
            self._taking.cancel()
            self._taking = None

    def _wait_for_request(self) -> None:
        self._asking = self.loop.call_later(ASKING_S, self._let_go)

    def _let_go(self) -> None:
        """At once: what the kernel still holds for a caller is thrown away with him."""
        sock = self.transport.get_extra_info("socket")
        if sock is not None:
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _NO_LINGER)
        self.transport.abort()

    def _stop_waiting(self) -> None:
        if self._asking is not None:
            self._asking.cancel()
            self._asking = None


def config(app: ASGIApp) -> uvicorn.Config:
    options: dict[str, Any] = {
        "http": Impatient,
        "ws": "none",
        "lifespan": "on",
        "loop": "asyncio",
        "limit_concurrency": _MOST,
        "timeout_keep_alive": int(ASKING_S),
        "timeout_graceful_shutdown": 2,
        "h11_max_incomplete_event_size": _LARGEST_HEAD,
        "backlog": 64,
        "access_log": False,
        "log_config": None,
        "server_header": False,
        "proxy_headers": False,
    }
    return uvicorn.Config(app, **options)


def listening(address: str, port: int) -> socket.socket:
    """A socket that listens there. Raises GreenkeeperError."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SENDING)  # accepted ones inherit it
        made.bind((address, port))
        made.listen(64)
    except OSError as error:
        made.close()
        raise GreenkeeperError(
            f"cannot listen on {address} port {port}: {error.strerror}. Another program may "
            "have that port, or this machine not that address (page.address, page.port)"
        ) from error
    return made


def serve(app: ASGIApp, sock: socket.socket) -> None:
    """Until a signal ends it."""
    uvicorn.Server(config(app)).run(sockets=[sock])
