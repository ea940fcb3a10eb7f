"""One real connection, to find out whether a keeper could use this broker.

Lives here: the steps from the owner's files to a message that comes back, each told as it
is done. Does not live here: keeping a connection (conversation.py).

It disturbs nobody: it signs in under a client ID of its own, leaves no will, and writes
nothing that is retained. A running keeper goes on beside it.
"""

import secrets
import socket
import ssl
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from greenkeeper.broker import access, refusals
from greenkeeper.broker.client import client_id
from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.broker.link import (
    CONNECT_TIMEOUT_S,
    V5,
    V311,
    Acknowledged,
    Arrival,
    Broken,
    Connected,
    Ended,
    Heard,
    Link,
    LinkError,
    Refused,
    Target,
    Version,
)
from greenkeeper.settings.schema import Broker, Settings

ANSWER_S = 5.0  # for each answer of the broker
_SOON_S = 30 * 86_400.0  # a certificate that ends sooner is worth a word

FILES, NAME, PORT, CERTIFICATE, SIGN_IN, WRITE, READ, ORDERS = (
    *("files", "name", "port", "certificate", "sign-in", "write", "read", "orders"),
)


class Step(NamedTuple):
    name: str
    ok: bool
    text: str


class _FailedError(Exception):
    """This step failed, and there is no going on."""


def steps(settings: Settings) -> Iterator[Step]:
    """Each step as it is done; the first that fails is the last. Takes ANSWER_S for each at
    the most, and for a name as long as the system's resolver likes.

    Raises ValueError without broker settings.
    """
    if settings.broker is None:
        raise ValueError("the settings name no broker")
    trial = _Trial(settings, settings.broker)
    try:
        for name, act in trial.course():
            try:
                text = act()
            except _FailedError as error:
                yield Step(name, False, str(error))
                return
            yield Step(name, True, text)
    finally:
        trial.end()


class _Trial:
    def __init__(self, settings: Settings, broker: Broker) -> None:
        self._broker = broker
        device = KeeperDevice(settings, program="check", started_s=0.0)
        self._root = device.root
        self._commands = sorted(device.commands)
        self._mark = secrets.token_hex(8)
        self._password: str | None = None
        self._tls: ssl.SSLContext | None = None
        self._link: Link | None = None
        self._arrivals: list[Arrival] = []

    def course(self) -> Sequence[tuple[str, Callable[[], str]]]:
        broker = self._broker
        begin = [(FILES, self._files)]
        if not broker.is_socket:
            begin.append((NAME, self._name))
        begin.append((PORT, self._port))
        if broker.tls is not None:
            begin.append((CERTIFICATE, self._certificate))
        begin += [(SIGN_IN, self._sign_in), (WRITE, self._write), (READ, self._read)]
        return [*begin, (ORDERS, self._orders)] if self._commands else begin

    def end(self) -> None:
        if self._link is not None:
            self._link.part()
            self._link.turn(0.0)
            self._link.drop()

    # --- the steps -------------------------------------------------------------------

    def _files(self) -> str:
        try:
            self._password = access.password(self._broker)
            self._tls = access.tls_context(self._broker.tls)
        except access.AccessError as error:
            raise _FailedError(str(error)) from error
        return "password and certificate files can be read" if self._wants_files else "none needed"

    @property
    def _wants_files(self) -> bool:
        return self._broker.password_file is not None or self._broker.tls is not None

    def _name(self) -> str:
        host = self._broker.host
        try:
            found = socket.getaddrinfo(host, self._broker.port, type=socket.SOCK_STREAM)
        except (OSError, UnicodeError) as error:
            raise _FailedError(
                f"no machine is known by the name {host}: look for a slip of the pen, or write "
                "its address instead"
            ) from error
        addresses = dict.fromkeys(str(each[4][0]) for each in found)
        return ", ".join(addresses)

    def _port(self) -> str:
        broker = self._broker
        try:
            if broker.is_socket:
                with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as wire:
                    wire.settimeout(CONNECT_TIMEOUT_S)
                    wire.connect(broker.host)
                return f"somebody answers behind {broker.host}"
            address = (broker.host, broker.port)
            socket.create_connection(address, timeout=CONNECT_TIMEOUT_S).close()
        except OSError as error:
            hint = "" if broker.is_socket else ": is the broker running, and is this its port?"
            raise _FailedError(f"{refusals.of_connecting(error)}{hint}") from error
        return f"somebody answers on {broker.port}"

    def _certificate(self) -> str:
        broker, tls = self._broker, self._tls or ssl.create_default_context()
        try:
            with (
                socket.create_connection((broker.host, broker.port), CONNECT_TIMEOUT_S) as wire,
                tls.wrap_socket(wire, server_hostname=broker.host) as safe,
            ):
                shown = safe.getpeercert() or {}
        except ssl.SSLCertVerificationError as error:
            raise _FailedError(refusals.of_connecting(error)) from error
        except OSError as error:
            why = refusals.of_connecting(error)
            raise _FailedError(f"{why}: is TLS offered on port {broker.port}?") from error
        end_s = ssl.cert_time_to_seconds(str(shown["notAfter"]))
        until = f"trusted, until {datetime.fromtimestamp(end_s, UTC):%-d %b %Y}"
        return f"{until}: soon" if end_s - time.time() < _SOON_S else until

    def _sign_in(self) -> str:
        answer, words = self._connect(V5), "MQTT 5"
        if isinstance(answer, Refused) and answer.code == refusals.UNSUPPORTED_PROTOCOL:
            answer, words = self._connect(V311), "MQTT 3.1.1"
        if isinstance(answer, Refused):
            raise _FailedError(refusals.words(answer.code))
        return f"{words}, as {self._broker.username or 'nobody in particular'}"

    def _write(self) -> str:
        link = self._signed_in()
        topic = f"{self._root}/$log/debug"
        link.subscribe([f"{self._root}/+/+"])
        link.post(topic, f"greenkeeper check {self._mark}".encode(), retain=False)
        answer = self._await(lambda each: isinstance(each, Acknowledged) and each.topic == topic)
        refusal = answer.refusal if isinstance(answer, Acknowledged) else None
        if answer is None:
            raise _FailedError(f"no answer to a message on {topic}")
        if refusal is not None:
            raise _FailedError(f"{topic}: {refusals.words(refusal)}")
        return f"{self._root}/…"

    def _read(self) -> str:
        """The message of the step before comes back. MQTT 3.1.1 does not say when it was
        thrown away instead."""
        mark = self._mark.encode()
        heard = self._await(lambda each: isinstance(each, Heard) and mark in each.payload)
        if heard is None:
            also = "" if self._signed_in().protocol == V5 else " or may not be written"
            raise _FailedError(
                f"what was written did not come back: {self._root}/+/+ may not be read{also}; "
                "see the broker's access list"
            )
        return f"{self._root}/+/+"

    def _orders(self) -> str:
        """An empty message orders nothing, also to a keeper that runs at this moment."""
        link = self._signed_in()
        link.subscribe(self._commands)
        for topic in self._commands:
            link.post(topic, b"", retain=False)
        deaf = [topic for topic in self._commands if self._heard(topic) is None]
        if deaf:
            raise _FailedError(
                f"{deaf[0]} may not be read: nothing ordered there would be heard; see the "
                "broker's access list"
            )
        return f"{len(self._commands)} topics can be heard"

    # --- inside ----------------------------------------------------------------------

    def _heard(self, topic: str) -> Arrival | None:
        return self._await(lambda each: isinstance(each, Heard) and each.topic == topic)

    def _connect(self, protocol: Version) -> Connected | Refused:
        broker = self._broker
        if self._link is not None:
            self._link.drop()
            self._arrivals.clear()
        target = Target(
            host=broker.host,
            port=broker.port,
            keepalive_s=broker.keepalive_s,
            client_id=f"{client_id(self._root)[:15]}{self._mark[:8]}",
            username=broker.username,
            password=self._password,
            tls=access.tls_context(broker.tls),
            root=self._root,
            protocol=protocol,
            will=False,
        )
        try:
            self._link = Link(target)
        except (OSError, LinkError) as error:
            why = refusals.of_connecting(error) if isinstance(error, OSError) else str(error)
            raise _FailedError(why) from error
        answer = self._await(lambda each: isinstance(each, Connected | Refused))
        if isinstance(answer, Connected | Refused):
            return answer
        raise _FailedError("it accepts the call and says nothing: is this its port?")

    def _signed_in(self) -> Link:
        if self._link is None:
            raise _FailedError("not signed in")
        return self._link

    def _await(self, wanted: Callable[[Arrival], bool]) -> Arrival | None:
        """The first that fits, of those that came and those that come in time."""
        until_s = time.monotonic() + ANSWER_S
        while True:
            for arrival in self._arrivals:
                if wanted(arrival):
                    self._arrivals.remove(arrival)
                    return arrival
                if isinstance(arrival, Ended | Broken):
                    raise _FailedError(self._over(arrival))
            left_s = until_s - time.monotonic()
            if left_s <= 0.0:
                return None
            self._arrivals += self._signed_in().turn(left_s)

    def _over(self, arrival: Ended | Broken) -> str:
        if isinstance(arrival, Broken):
            return f"a fault in this program: {arrival.error!r}"
        if arrival.code is not None:
            return refusals.words(arrival.code)
        hints = {
            True: "it hung up during the sign-in: does it want tls: cert_file as well?",
            False: "it hung up without a word: is this its port, and does it want tls?",
        }
        return hints[self._broker.tls is not None]
