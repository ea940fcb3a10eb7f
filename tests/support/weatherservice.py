"""A weather service on this machine: answers as it is told, and keeps what it was asked."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email.utils import formatdate
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import ClassVar

from greenkeeper.settings.schema import Forecast

NOW_S = 1.8e9
IDENTITY = "greenkeeper-test, nobody@example.org"
MODIFIED = "Fri, 15 Jan 2027 07:00:00 GMT"


class Service(BaseHTTPRequestHandler):
    status: ClassVar[int] = 200
    body: ClassVar[bytes] = b'{"first": 1}'
    expires_s: ClassVar[float] = NOW_S + 7200.0
    asked: ClassVar[list[tuple[str, str | None, str | None]]] = []

    def do_GET(self) -> None:
        known = self.headers.get("If-Modified-Since")
        Service.asked.append((self.path, self.headers.get("User-Agent"), known))
        status = 304 if known == MODIFIED and self.status == 200 else self.status
        self.send_response(status)
        self.send_header("Last-Modified", MODIFIED)
        self.send_header("Expires", formatdate(self.expires_s, usegmt=True))
        self.end_headers()
        if status == 200:
            self.wfile.write(self.body)

    def log_message(self, *_: object) -> None:
        """Nothing: pytest shows what failed."""


@contextmanager
def serving() -> Iterator[Forecast]:
    """Settings that lead to it."""
    Service.asked.clear()
    server = ThreadingHTTPServer(("127.0.0.1", 0), Service)
    threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True).start()
    url = f"http://127.0.0.1:{server.server_port}/compact?lat={{latitude}}&lon={{longitude}}"
    yield Forecast(url=url, identity=IDENTITY)
    server.shutdown()
    server.server_close()
