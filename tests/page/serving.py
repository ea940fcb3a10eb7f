"""The page served for real, at moments of our own.

Lives here: uvicorn in a thread, with the very gate and limits of `greenkeeper page`, and
asking it over a socket. Does not live here: the house (house.py).
"""

import http.client
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NamedTuple

import uvicorn

from greenkeeper.page import server
from greenkeeper.page.app import application
from greenkeeper.page.gate import Gate
from greenkeeper.page.sources import Sources
from tests.page.house import NOW_UTC_S, House
from tests.support.waiting import eventually


class Answer(NamedTuple):
    status: int
    headers: dict[str, str]
    text: str


class Served:
    """A page that is being served. now_utc_s may be set while it is."""

    def __init__(self, house: House, *, word: str | None = None) -> None:
        self.now_utc_s = NOW_UTC_S
        sources = Sources(house.file, lambda: self.now_utc_s)
        settings, _ = sources.settings()
        app = Gate(application(sources), names=settings.page.names, word=word)
        self._socket = server.listening("127.0.0.1", 0)
        self.port: int = self._socket.getsockname()[1]
        self._server = uvicorn.Server(server.config(app))
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True
        )

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        self._thread.start()
        eventually(lambda: self._server.started, "the page is served")

    def stop(self) -> None:
        self._server.should_exit = True
        self._thread.join(60.0)
        self._socket.close()
        assert not self._thread.is_alive()

    def ask(self, path: str = "/", method: str = "GET", **headers: str) -> Answer:
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20.0)
        try:
            named = {name.replace("_", "-"): value for name, value in headers.items()}
            link.request(method, path, headers=named)
            answer = link.getresponse()
            text = answer.read().decode("utf-8")
            found = {name.lower(): value for name, value in answer.getheaders()}
            return Answer(answer.status, found, text)
        finally:
            link.close()

    def text(self, path: str = "/") -> str:
        """Of a page that is there, as words between single blanks."""
        answer = self.ask(path)
        assert answer.status == 200, answer.text
        return answer.text

    def link(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=20.0)


@contextmanager
def served(house: House, *, word: str | None = None) -> Iterator[Served]:
    page = Served(house, word=word)
    page.start()
    try:
        yield page
    finally:
        page.stop()
