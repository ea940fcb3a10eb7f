"""One MQTT connection, from CONNECT to its end. Never used twice.

Lives here: all that knows paho-mqtt. A client that is thrown away with its connection
takes its queue along: no message that a broker refuses, no stale value and no session
can come back after a reconnect. Does not live here: what is said (session.py), when to
try again (client.py).

One thread does everything, through paho's interface for an event loop of one's own
(loop_read, loop_write, loop_misc). paho's callbacks only note what happened; `turn`
hands the notes over. An exception in a callback ends this connection and nothing else.
"""

import select
import socket
import ssl
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple, cast

from greenkeeper.broker.library import (
    CallbackAPIVersion,
    MQTTErrorCode,
    MQTTProtocolVersion,
    PacketTypes,
    Properties,
    ReasonCode,
    SubscribeOptions,
    mqtt,
)
from greenkeeper.broker.session import LOST, Message
from greenkeeper.errors import GreenkeeperError

Version = MQTTProtocolVersion
V5, V311 = MQTTProtocolVersion.MQTTv5, MQTTProtocolVersion.MQTTv311

QOS = 1  # of every message and of the will: MQTT keeps the order only within one QoS
MOST_IN_FLIGHT = 20  # unacknowledged at a time
CONNECT_TIMEOUT_S = 5.0
LARGEST_INCOMING_BYTES = 64 * 1024  # asked of the broker (MQTT 5.0, 3.1.2.11.4)


class Connected(NamedTuple):
    """The broker let us in."""

    largest_bytes: int | None  # the largest message it takes, if it says so


class Refused(NamedTuple):
    code: int  # an MQTT 5 reason code


class Acknowledged(NamedTuple):
    topic: str
    refusal: int | None  # an MQTT 5 reason code


class Heard(NamedTuple):
    topic: str
    payload: bytes
    replayed: bool  # it was retained before we subscribed


class Subscribed(NamedTuple):
    """The broker has answered for what was asked together."""

    refusals: Mapping[str, int | None]  # topic -> an MQTT 5 reason code


class Ended(NamedTuple):
    code: int | None  # what the broker said at parting, if it said anything


class Broken(NamedTuple):
    """A callback failed: what is known of this connection can't be trusted any more."""

    error: Exception


class LinkError(GreenkeeperError):
    """This connection is over, and why.

    needs_a_person: trying again will not help by itself. older_mqtt: the broker does not
    speak this version of the protocol.
    """

    def __init__(self, why: str, *, needs_a_person: bool = False, older_mqtt: bool = False) -> None:
        super().__init__(why)
        self.needs_a_person = needs_a_person
        self.older_mqtt = older_mqtt


Arrival = Connected | Refused | Acknowledged | Heard | Subscribed | Ended | Broken


class Target(NamedTuple):
    """Where to connect, and as whom. Its repr shows no password."""

    host: str
    port: int
    keepalive_s: int
    client_id: str
    username: str | None
    password: str | None
    tls: ssl.SSLContext | None
    root: str
    protocol: MQTTProtocolVersion
    will: bool = True  # the broker is to say `lost` when we vanish

    def __repr__(self) -> str:
        return f"Target({self.host}:{self.port}, {self.client_id}, {self.protocol.name})"


class Link:
    """An attempt to connect, and the connection if it succeeds."""

    def __init__(self, target: Target) -> None:
        """Connects and sends CONNECT; whether it is accepted comes as an arrival.

        Blocks for CONNECT_TIMEOUT_S for each of the host's addresses, and for as long as
        the system's resolver likes. Raises OSError or LinkError.
        """
        self.protocol = target.protocol
        self.encrypted = target.tls is not None
        self._root = target.root
        self._arrivals: list[Arrival] = []
        self._in_flight: dict[int, str] = {}  # paho's message number -> topic
        self._asked: dict[int, tuple[str, ...]] = {}  # the same of subscriptions
        self._window = MOST_IN_FLIGHT
        self._client = client = _make_client(target)
        client.on_connect = self._guard(self._on_connect)
        client.on_disconnect = self._guard(self._on_disconnect)
        client.on_publish = self._guard(self._on_publish)
        client.on_message = self._guard(self._on_message)
        client.on_subscribe = self._guard(self._on_subscribe)
        version_5: dict[str, Any] = {}
        if target.protocol == V5:
            version_5 = {"clean_start": True, "properties": _connect_properties()}
        if target.host.startswith("/"):
            knock(target.host)
        try:
            client.connect(target.host, target.port, keepalive=target.keepalive_s, **version_5)
        except UnicodeError as error:
            raise LinkError("that is no host name", needs_a_person=True) from error

    # --- in --------------------------------------------------------------------------

    def turn(self, timeout_s: float, bell: socket.socket | None = None) -> list[Arrival]:
        """Let the network do its work, until something comes, the bell rings or time is up."""
        wire = self._client.socket()
        if wire is None:
            return [*self._taken(), Ended(None)]
        decrypted = isinstance(wire, ssl.SSLSocket) and wire.pending() > 0
        if decrypted or self._arrivals:
            timeout_s = 0.0  # it is here already, where select() can't see it
        # paho types its socket as a protocol of its own; it is a socket.
        on_wire = cast(socket.socket, wire)
        reading = [on_wire] if bell is None else [on_wire, bell]
        writing = [on_wire] if self._client.want_write() else []
        readable, writable, _ = select.select(reading, writing, [], timeout_s)
        results = []
        if on_wire in readable or decrypted:
            results.append(self._client.loop_read())
        if on_wire in writable:
            results.append(self._client.loop_write())
        results.append(self._client.loop_misc())
        arrivals = self._taken()
        failed = any(result != MQTTErrorCode.MQTT_ERR_SUCCESS for result in results)
        if failed and not any(isinstance(each, Ended | Refused) for each in arrivals):
            arrivals.append(Ended(None))
        return arrivals

    # --- out -------------------------------------------------------------------------

    @property
    def has_room(self) -> bool:
        """Another message may be sent before one is acknowledged. paho would queue it, and
        does not heed the broker's own limit; what waits here can still be overtaken by
        newer values."""
        return len(self._in_flight) < self._window

    def send(self, message: Message) -> None:
        """Publish, retained. If it can't go, the link is at its end, and an arrival says so."""
        self.post(message.topic, message.payload.encode(), retain=True)

    def post(self, topic: str, payload: bytes, *, retain: bool) -> None:
        """The same for any message."""
        info = self._client.publish(topic, payload, QOS, retain=retain)
        if info.rc == MQTTErrorCode.MQTT_ERR_SUCCESS:
            self._in_flight[info.mid] = topic
        else:
            self._window = 0
            self._arrivals.append(Ended(None))

    def listen(self) -> None:
        """Ask for our own state, for good, and for our own values as they are retained now."""
        state, values = f"{self._root}/$state", f"{self._root}/+/+"
        if self.protocol == V5:
            self._client.subscribe(
                [(state, SubscribeOptions(qos=1)), (values, SubscribeOptions(qos=0, noLocal=True))]
            )
        else:
            self._client.subscribe([(state, 1), (values, 0)])

    def listen_less(self) -> None:
        """Our own values need not come back any more."""
        self._client.unsubscribe(f"{self._root}/+/+")

    def subscribe(self, topics: Sequence[str]) -> None:
        """Ask for these as well, and for what is retained on them; the answer is an arrival."""
        result, number = self._client.subscribe([(topic, QOS) for topic in topics])
        if result == MQTTErrorCode.MQTT_ERR_SUCCESS and number is not None:
            self._asked[number] = tuple(topics)

    def listen_for_commands(self, topics: Sequence[str]) -> None:
        """Ask for what is commanded from now on, not for what was; the answer is an arrival.

        MQTT 5 can spare us what is retained (retain handling 2), and tells of each message
        whether its sender wanted it retained. 3.1.1 can do neither: there the retain flag
        marks what was retained before.
        """
        if self.protocol == V5:
            options = SubscribeOptions(
                qos=QOS,
                noLocal=True,
                retainAsPublished=True,
                retainHandling=SubscribeOptions.RETAIN_DO_NOT_SEND,
            )
            result, number = self._client.subscribe([(topic, options) for topic in topics])
        else:
            result, number = self._client.subscribe([(topic, QOS) for topic in topics])
        if result == MQTTErrorCode.MQTT_ERR_SUCCESS and number is not None:
            self._asked[number] = tuple(topics)

    def mention(self, topic: str, text: str) -> None:
        """Say something once that nobody need keep: not retained, and no answer is awaited."""
        self._client.publish(topic, text.encode(), 0, retain=False)

    def unsubscribe(self, topics: Sequence[str]) -> None:
        self._client.unsubscribe(list(topics))

    def part(self) -> None:
        """Take leave: the broker then sends no will."""
        self._client.disconnect()

    def drop(self) -> None:
        """Hang up without a word: the broker then sends the will. Safe to call twice."""
        wire = self._client.socket()
        if wire is not None:
            wire.close()

    # --- paho's callbacks ------------------------------------------------------------

    def _guard(self, callback: Callable[..., None]) -> Callable[..., None]:
        """An exception that left a callback would end the thread that called it."""

        def guarded(*arguments: Any) -> None:
            try:
                callback(*arguments)
            except Exception as error:  # noqa: BLE001 - whatever it is, the thread lives on
                self._arrivals.append(Broken(error))

        return guarded

    def _on_connect(self, _c: Any, _u: Any, _f: Any, code: ReasonCode, more: Properties) -> None:
        if code.is_failure:
            self._arrivals.append(Refused(code.value))
        else:
            self._window = min(MOST_IN_FLIGHT, getattr(more, "ReceiveMaximum", MOST_IN_FLIGHT))
            self._arrivals.append(Connected(getattr(more, "MaximumPacketSize", None)))

    def _on_disconnect(self, _c: Any, _u: Any, flags: Any, code: ReasonCode, _p: Any) -> None:
        told = code.value if flags.is_disconnect_packet_from_server else None
        self._arrivals.append(Ended(told))

    def _on_publish(self, _c: Any, _u: Any, mid: int, code: ReasonCode, _p: Any) -> None:
        refusal = code.value if code.is_failure else None
        topic = self._in_flight.pop(mid, None)
        if topic is not None:  # else it was only mentioned
            self._arrivals.append(Acknowledged(topic, refusal))

    def _on_subscribe(
        self, _c: Any, _u: Any, mid: int, codes: Sequence[ReasonCode], _p: Any
    ) -> None:
        topics = self._asked.pop(mid, ())
        answers = [code.value if code.is_failure else None for code in codes]
        self._arrivals.append(Subscribed(dict(zip(topics, answers, strict=False))))

    def _on_message(self, _c: Any, _u: Any, message: mqtt.MQTTMessage) -> None:
        self._arrivals.append(Heard(message.topic, bytes(message.payload), bool(message.retain)))

    def _taken(self) -> list[Arrival]:
        arrivals, self._arrivals = self._arrivals, []
        return arrivals


def knock(path: str) -> None:
    """Whether somebody answers behind this file: paho would leave its own socket open for
    the collector if nobody did. Raises OSError."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as wire:
        wire.settimeout(CONNECT_TIMEOUT_S)
        wire.connect(path)


def _make_client(target: Target) -> mqtt.Client:
    client = mqtt.Client(
        CallbackAPIVersion.VERSION2,
        transport="unix" if target.host.startswith("/") else "tcp",
        client_id=target.client_id,
        protocol=target.protocol,
        reconnect_on_failure=False,
        clean_session=None if target.protocol == V5 else True,
    )
    client.connect_timeout = CONNECT_TIMEOUT_S
    client.max_inflight_messages_set(MOST_IN_FLIGHT)
    client.max_queued_messages_set(MOST_IN_FLIGHT)
    # No will delay: brokers in use differ in how they count it.
    if target.will:
        client.will_set(f"{target.root}/$state", LOST, QOS, retain=True)
    if target.username is not None:
        client.username_pw_set(target.username, target.password)
    if target.tls is not None:
        target.tls.sslsocket_class = _TidySocket
        client.tls_set_context(target.tls)
    return client


class _TidySocket(ssl.SSLSocket):
    """paho leaves the socket of a failed handshake open, to be found by the collector."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except OSError as error:
            self.close()
            if isinstance(error, ConnectionError):
                raise LinkError("it hung up at once: is TLS offered on this port?") from error
            raise


def _connect_properties() -> Properties:
    """A session that ends with its connection: nothing may be waiting on our return."""
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call] # paho's gap
    properties.SessionExpiryInterval = 0
    properties.MaximumPacketSize = LARGEST_INCOMING_BYTES
    return properties
