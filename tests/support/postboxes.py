"""Real servers on loopback that take what is sent to them: over HTTP, HTTPS and SMTP.

    with WebBox() as box: ...             # http://127.0.0.1:{box.port}/
    box.requests[0].path, .body
    with MailBox() as box: ...            # one RFC 5321 conversation after another
    box.mails[0].to, .text

Lives here: taking, answering as told (`status`, `delay_s`, a refusal), and keeping. Does
not live here: any expectation.
"""

import http.server
import json
import socketserver
import ssl
import threading
import time
from typing import Any, NamedTuple, Self

from tests.support.authority import Certificate


class Request(NamedTuple):
    method: str
    path: str
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


class WebBox:
    """status: what it answers. delay_s: how long it waits before."""

    def __init__(self, *, tls: Certificate | None = None) -> None:
        self.requests: list[Request] = []
        self.status, self.delay_s = 200, 0.0
        box = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                length = int(self.headers.get("Content-Length") or 0)
                box.requests.append(Request(self.command, self.path, self.rfile.read(length)))
                time.sleep(box.delay_s)
                self.send_response(box.status)
                if box.status in (301, 302):
                    self.send_header("Location", "/elsewhere")
                self.send_header("Content-Length", "0")
                self.end_headers()

            def do_POST(self) -> None:
                self.do_GET()

            def log_message(self, *_: object) -> None:
                """Silent: requests are kept instead."""

        self._server = _QuietServer(("127.0.0.1", 0), Handler)
        if tls is not None:
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            context.load_cert_chain(tls.cert_file, tls.key_file)
            self._server.socket = context.wrap_socket(
                self._server.socket, server_side=True, do_handshake_on_connect=False
            )
        self.port: int = self._server.server_address[1]

    def __enter__(self) -> Self:
        _serve(self._server)
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._server.server_close()


class _QuietServer(http.server.ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, *_: object) -> None:
        """A client that hangs up, or refuses a certificate, is what the tests are about."""


class Mail(NamedTuple):
    sender: str
    to: tuple[str, ...]
    text: str


class MailBox:
    """As much of SMTP (RFC 5321) as taking a mail needs. refusing: every recipient is."""

    def __init__(self) -> None:
        self.mails: list[Mail] = []
        self.refusing = False
        box = self

        class Handler(socketserver.StreamRequestHandler):
            def handle(self) -> None:
                _converse(self, box)

        self._server = _MailServer(("127.0.0.1", 0), Handler)
        self.port: int = self._server.server_address[1]

    def __enter__(self) -> Self:
        _serve(self._server)
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._server.server_close()


class _MailServer(socketserver.ThreadingTCPServer):
    daemon_threads = True


def _converse(wire: socketserver.StreamRequestHandler, box: MailBox) -> None:
    def say(line: str) -> None:
        wire.wfile.write(f"{line}\r\n".encode())

    sender, to = "", []
    say("220 127.0.0.1 ready")
    for raw in wire.rfile:
        line = raw.decode().strip()
        verb = line.split(" ")[0].upper()
        if verb in ("EHLO", "HELO", "RSET", "NOOP"):
            say("250 fine")
        elif verb == "MAIL":
            sender = line
            say("250 fine")
        elif verb == "RCPT":
            to.append(line)
            say("550 nobody of that name" if box.refusing else "250 fine")
        elif verb == "DATA":
            say("354 go on")
            lines = []
            while (body := wire.rfile.readline().decode().rstrip("\r\n")) != ".":
                lines.append(body)
            box.mails.append(Mail(sender, tuple(to), "\n".join(lines)))
            say("250 taken")
        elif verb == "QUIT":
            say("221 goodbye")
            return
        else:
            say("502 not here")


def _serve(server: socketserver.BaseServer) -> None:
    threading.Thread(
        target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True
    ).start()
