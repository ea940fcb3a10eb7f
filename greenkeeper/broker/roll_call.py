"""A roll call: come to the broker, read what is retained, and leave.

Lives here: one short-lived connection that subscribes and never publishes, not even a
will. Does not live here: what the topics mean (houses.py), and the keeper's own
connection (link.py).

Filters are asked for a few at a time, until nothing more comes for a moment: a broker has
a bound on what waits for one client (Mosquitto: 1000 messages) and drops what is beyond
it, so a large village would be read with gaps.
"""

import secrets
import time
from collections.abc import Callable, Sequence
from typing import Any

from greenkeeper.broker import access, refusals
from greenkeeper.broker.client import place
from greenkeeper.broker.library import (
    CallbackAPIVersion,
    MQTTErrorCode,
    MQTTProtocolVersion,
    PacketTypes,
    Properties,
    mqtt,
)
from greenkeeper.broker.link import knock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.settings.schema import Broker

CONNECT_TIMEOUT_S = 5.0
QUIET_S = 0.25  # nothing more comes of this filter
LARGEST_BYTES = 256 * 1024  # of one message
MOST_TOPICS = 100_000
_AT_ONCE = 100  # topics in one request
_COMFORTABLE = 400  # messages that may come of one

Missing = Callable[[dict[str, bytes]], Sequence[str]]


class RollCallError(GreenkeeperError):
    """The broker could not be asked; says why, and what to look at."""


def call_roll(
    broker: Broker,
    filters: Sequence[str],
    missing: Missing = lambda _: (),
    *,
    patience_s: float = 30.0,
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> dict[str, bytes]:
    """Every retained message on these topics, by topic.

    The first filter is to match one topic of each house. missing: topics that should have
    come, to be asked for once more. patience_s: for all of it. progress: told how many
    filters of how many are done. Raises RollCallError, AccessError.
    """
    last: RollCallError | None = None
    for protocol in (MQTTProtocolVersion.MQTTv5, MQTTProtocolVersion.MQTTv311):
        visit = _Visit(broker, protocol, time.monotonic() + patience_s)
        try:
            visit.arrive()
        except _OlderError as error:
            last = error
            continue
        try:
            done = 0
            while done < len(filters):
                progress(done, len(filters))
                # The first filter tells how large the village is.
                together = max(1, _COMFORTABLE // max(1, len(visit.found))) if done else 1
                visit.ask(filters[done : done + together])
                done += together
            absent = list(missing(visit.found))
            for begin in range(0, len(absent), _AT_ONCE):
                visit.ask(absent[begin : begin + _AT_ONCE])
            progress(len(filters), len(filters))
            return visit.found
        finally:
            visit.leave()
    raise last or RollCallError("the broker was not asked")


class _OlderError(RollCallError):
    """It does not speak this version of MQTT."""


class _Visit:
    """One connection, driven by its caller's own thread."""

    def __init__(self, broker: Broker, protocol: MQTTProtocolVersion, end_s: float) -> None:
        self.found: dict[str, bytes] = {}
        self._broker = broker
        self._end_s = end_s
        self._connected: bool | None = None  # None: not answered yet
        self._refusal = 0
        self._answered: set[int] = set()
        self._newest_s = 0.0
        self._client = client = mqtt.Client(
            CallbackAPIVersion.VERSION2,
            transport="unix" if broker.is_socket else "tcp",
            client_id=f"gknow{secrets.token_hex(6)}",
            protocol=protocol,
            reconnect_on_failure=False,
            clean_session=None if protocol == MQTTProtocolVersion.MQTTv5 else True,
        )
        client.connect_timeout = CONNECT_TIMEOUT_S
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        if broker.username is not None:
            client.username_pw_set(broker.username, access.password(broker))
        context = access.tls_context(broker.tls)
        if context is not None:
            client.tls_set_context(context)

    def arrive(self) -> None:
        version_5: dict[str, Any] = {}
        if self._client.protocol == MQTTProtocolVersion.MQTTv5:
            version_5 = {"clean_start": True, "properties": _properties()}
        try:
            if self._broker.is_socket:
                knock(self._broker.host)
            self._client.connect(self._broker.host, self._broker.port, keepalive=30, **version_5)
        except UnicodeError:
            raise self._trouble("that is no host name") from None
        except OSError as error:
            raise self._trouble(refusals.of_connecting(error)) from error
        limit_s = min(self._end_s, time.monotonic() + CONNECT_TIMEOUT_S)
        fine = True
        while fine and self._connected is None and time.monotonic() < limit_s:
            fine = self._client.loop(timeout=0.05) == MQTTErrorCode.MQTT_ERR_SUCCESS
        if self._connected:
            return
        if self._refusal == refusals.UNSUPPORTED_PROTOCOL:
            raise _OlderError(str(self._trouble()))
        raise self._trouble("no answer" if fine else "it hung up")

    def ask(self, topics: Sequence[str]) -> None:
        """Subscribe, take what is retained there, and unsubscribe."""
        result, number = self._client.subscribe([(topic, 0) for topic in topics])
        if result != MQTTErrorCode.MQTT_ERR_SUCCESS or number is None:
            raise self._trouble("it hung up")
        self._newest_s = time.monotonic()
        while number not in self._answered or time.monotonic() - self._newest_s < QUIET_S:
            if time.monotonic() > self._end_s:
                raise self._trouble("it takes too long to tell what it has")
            self._turn()
        self._client.unsubscribe(list(topics))

    def leave(self) -> None:
        """Take leave. Nothing that goes wrong here matters any more."""
        self._client.disconnect()
        self._client.loop(timeout=0.05)

    def _turn(self) -> None:
        if self._client.loop(timeout=0.05) != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise self._trouble()

    def _trouble(self, why: str = "it hung up") -> RollCallError:
        """The broker's own reason, if it gave one, else `why`."""
        told = refusals.words(self._refusal) if self._refusal else why
        return RollCallError(f"the broker {place(self._broker)}: {told}")

    # --- paho's callbacks, on the thread that calls loop() -----------------------------

    def _on_connect(self, _c: Any, _u: Any, _f: Any, code: Any, _p: Any) -> None:
        if code.is_failure:
            self._refusal = code.value
        self._connected = not code.is_failure

    def _on_disconnect(self, _c: Any, _u: Any, _f: Any, code: Any, _p: Any) -> None:
        self._refusal = self._refusal or (code.value if code.is_failure else 0)

    def _on_subscribe(self, _c: Any, _u: Any, number: int, _codes: Any, _p: Any) -> None:
        self._answered.add(number)

    def _on_message(self, _c: Any, _u: Any, message: mqtt.MQTTMessage) -> None:
        if not message.retain or len(message.payload) > LARGEST_BYTES:
            return
        self._newest_s = time.monotonic()
        if message.topic in self.found or len(self.found) < MOST_TOPICS:
            self.found[message.topic] = bytes(message.payload)


def _properties() -> Properties:
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call] # paho's gap
    properties.SessionExpiryInterval = 0
    properties.MaximumPacketSize = LARGEST_BYTES
    return properties
