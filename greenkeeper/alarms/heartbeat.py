"""The heartbeat: an address outside that is called for as long as the house is kept.

Lives here: one plain HTTP GET now and then, in a thread of its own, and only while ticks
come. A dead Pi can tell nobody that it is dead; whoever is called (a monitoring service,
a computer at home) notices the silence and says so. Does not live here: what they do.

The standard library does it. TLS is verified, redirections are not followed, no answer
is read beyond its status line. The address is a secret (whoever has it can feign that
the house is kept), so no message holds it.
"""

import contextlib
import http.client
import socket
import ssl
import threading
import time
from collections.abc import Callable
from urllib.parse import urlsplit

from greenkeeper.alarms.addresses import AddressError, addresses
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Condition
from greenkeeper.settings.schema import Settings

FAILING = "heartbeat-failing"
SUBJECT = "heartbeat"
TIMEOUT_S = 10.0  # for each step of one call
_SOON_S = 60.0  # after a call that failed
_LATE_S = 60.0  # beyond its interval: a call hangs
_CLOSE_S = 1.0

_NAME_MISMATCH = frozenset({62, 64})  # X509_V_ERR_HOSTNAME_MISMATCH, _IP_ADDRESS_MISMATCH


class HeartbeatError(GreenkeeperError):
    """Nobody took the call; says why, and not where."""


def call(address: str) -> None:
    """One GET. Returns when the answer is a 2xx. Raises HeartbeatError, AddressError."""
    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
    except ValueError as error:
        raise AddressError("the heartbeat's address is not written like one") from error
    if parts.scheme not in ("http", "https") or not host:
        raise AddressError("the heartbeat's address must begin with https:// or http:// and a host")
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    try:
        status = _status(parts.scheme, host, port, target)
    except (OSError, http.client.HTTPException, ValueError) as error:
        raise HeartbeatError(_why(error)) from None  # its own words may hold the address
    if not 200 <= status < 300:
        raise HeartbeatError(f"the answer is {status}, not 200")


def _status(scheme: str, host: str, port: int | None, target: str) -> int:
    connection: http.client.HTTPConnection
    if scheme == "https":
        context = ssl.create_default_context()
        connection = http.client.HTTPSConnection(host, port, timeout=TIMEOUT_S, context=context)
    else:
        connection = http.client.HTTPConnection(host, port, timeout=TIMEOUT_S)
    with contextlib.closing(connection):
        headers = {"User-Agent": "greenkeeper", "Connection": "close"}
        connection.request("GET", target, headers=headers)
        with connection.getresponse() as answer:
            return answer.status


def _why(error: Exception) -> str:
    match error:
        case ssl.SSLCertVerificationError(verify_code=code) if code in _NAME_MISMATCH:
            return "its certificate is for another name"
        case ssl.SSLCertVerificationError():
            return f"its certificate is not accepted: {error.verify_message}"
        case ssl.SSLError():
            return "no encryption comes about: is it https on this port?"
        case TimeoutError():
            return f"no answer within {TIMEOUT_S:.0f} s"
        case socket.gaierror():
            return "its name cannot be resolved: no network, or a wrong name"
        case ConnectionRefusedError():
            return "the connection is refused"
        case OSError():
            return (error.strerror or type(error).__name__).lower()
    return "what it answers is not HTTP"


def only_address(file: str) -> str:
    """The one address in the file. Raises AddressError."""
    found = addresses(file)
    if len(found) > 1:
        raise AddressError(f"{file} holds {len(found)} addresses, and a heartbeat has one")
    return found[0].secret


class Heartbeat:
    """Calls while beat() is heard. Nothing here raises, and only close() waits, for a moment."""

    def __init__(self, settings: Settings, call: Callable[[str], None] = call) -> None:
        """Raises ValueError without a heartbeat in the settings."""
        if settings.alarms is None or settings.alarms.heartbeat_file is None:
            raise ValueError("the settings have no heartbeat")
        self._file = settings.alarms.heartbeat_file
        self._every_s = settings.alarms.heartbeat_s
        self._fresh_s = settings.lease_s
        self._call = call
        self._beaten_s: float | None = None
        self._trouble = ""
        self._began_s: float | None = None  # the call under way
        self._due = threading.Event()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def beat(self) -> None:
        """A tick was completed. The first one starts the thread."""
        self._beaten_s = time.monotonic()
        if self._thread is None or not (self._thread.is_alive() or self._stop.is_set()):
            self._start_thread()

    def conditions(self) -> tuple[Condition, ...]:
        began_s = self._began_s
        hangs = began_s is not None and time.monotonic() - began_s > TIMEOUT_S + _LATE_S
        trouble = "a call does not come to an end" if hangs else self._trouble
        return (Condition(FAILING, SUBJECT, trouble),) if trouble else ()

    def close(self) -> None:
        self._stop.set()
        self._due.set()
        if self._thread is not None:
            self._thread.join(_CLOSE_S)  # one that hangs is left behind: it is a daemon

    # --- the thread ------------------------------------------------------------------

    def _start_thread(self) -> None:
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)
        try:
            self._thread.start()
        except (RuntimeError, MemoryError):
            self._thread = None
            self._trouble = "this machine has no room for another thread"

    def _run(self) -> None:
        while not self._stop.is_set():
            wait_s = self._every_s
            beaten_s = self._beaten_s
            if beaten_s is not None and time.monotonic() - beaten_s <= self._fresh_s:
                self._trouble = self._try()
                if self._trouble:
                    wait_s = min(wait_s, _SOON_S)
            self._due.wait(wait_s)

    def _try(self) -> str:
        """Why the call failed; empty: it did not."""
        self._began_s = time.monotonic()
        try:
            self._call(only_address(self._file))
        except GreenkeeperError as error:
            return str(error)
        except Exception as error:  # noqa: BLE001 - nothing may end this thread
            return f"a fault in this program ({type(error).__name__})"
        finally:
            self._began_s = None
        return ""
