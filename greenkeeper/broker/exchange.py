"""Exchange: what other rooms read from the broker and send through it.

    readings.subscribe("sensors/ridge", reader)     a probe's room, at its start
    switches.send("sockets/heater/set", b"on")      an output's room, every tick

Lives here: the table of who reads which topic, and the newest message of each topic that
waits to be sent. It outlives every connection, and the client that makes them. Does not
live here: connecting (client.py), MQTT (link.py), and what a payload means (its reader).

Nothing is kept for a broker that is away: `send` says no then, and what waited when a
connection ended is forgotten. A reader runs on the client's thread: it puts the payload
where its own room finds it, and returns at once. What it raises ends here.
"""

import threading
from collections.abc import Callable
from typing import NamedTuple

from greenkeeper.broker.homie import LONGEST_TOPIC
from greenkeeper.lean import structlog
from greenkeeper.model import Condition

MOST_WAITING = 200  # topics with a message to be sent
LARGEST_PAYLOAD = 16 * 1024  # bytes, of one that is sent

# payload, and whether the broker had kept it (retained) from before: its age is unknown then.
Reader = Callable[[bytes, bool], None]


class Parcel(NamedTuple):
    """One message for another's topic."""

    topic: str
    payload: bytes
    retain: bool


class Exchange:
    """Safe to use from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._readers: dict[str, tuple[Reader, ...]] = {}
        self._waiting: dict[str, Parcel] = {}  # Invariant: the newest of each topic
        self._wake: Callable[[], None] | None = None  # None: no connection stands
        self._failing: dict[str, Condition] = {}
        self._refused: dict[str, Condition] = {}

    # --- for probes and outputs ------------------------------------------------------

    def subscribe(self, topic: str, reader: Reader) -> Callable[[], None]:
        """Call `reader` for whatever comes on this topic, from now on or from the next
        connection. Returns what ends it.

        Raises ValueError for a topic with a wildcard, or none at all.
        """
        if (why := topic_fault(topic)) is not None:
            raise ValueError(why)
        with self._lock:
            self._readers[topic] = (*self._readers.get(topic, ()), reader)
        return lambda: self._end(topic, reader)

    def send(self, topic: str, payload: bytes, *, retain: bool = False) -> bool:
        """Have this sent as soon as may be; it takes the place of one that still waits.

        False: no connection stands, or too much waits already, and nothing will be sent.
        True is no proof of arrival. Raises ValueError for what no broker would take.
        """
        if (why := topic_fault(topic)) is not None:
            raise ValueError(why)
        if len(payload) > LARGEST_PAYLOAD:
            raise ValueError(f"{len(payload)} bytes for {topic}: {LARGEST_PAYLOAD} is the most")
        with self._lock:
            wake = self._wake
            full = topic not in self._waiting and len(self._waiting) >= MOST_WAITING
            if wake is None or full:
                return False
            self._waiting[topic] = Parcel(topic, payload, retain)
        wake()
        return True

    @property
    def connected(self) -> bool:
        return self._wake is not None

    # --- for the client's thread -----------------------------------------------------

    @property
    def topics(self) -> frozenset[str]:
        """What somebody reads."""
        with self._lock:
            return frozenset(self._readers)

    def opened(self, wake: Callable[[], None]) -> None:
        """A connection stands. wake: called, from any thread, when something waits."""
        with self._lock:
            self._refused.clear()
            self._wake = wake

    def closed(self, wake: Callable[[], None]) -> None:
        """It is over; unless another one has opened since."""
        with self._lock:
            if self._wake == wake:
                self._wake = None
                self._waiting.clear()

    def take(self, under_way: set[str]) -> Parcel | None:
        """The next to be sent whose topic has nothing under way."""
        with self._lock:
            topic = next((each for each in self._waiting if each not in under_way), None)
            return None if topic is None else self._waiting.pop(topic)

    def deliver(self, topic: str, payload: bytes, *, retained: bool) -> bool:
        """Hand it to whoever reads the topic; whether anybody does. Raises nothing."""
        with self._lock:
            readers = self._readers.get(topic, ())
        fault: Exception | None = None
        for reader in readers:
            try:
                reader(payload, retained)
            except Exception as error:  # noqa: BLE001 - a reader's fault is not the link's
                fault = error
        if fault is not None:
            self._note(topic, fault)
        elif self._failing:
            with self._lock:
                self._failing.pop(topic, None)
        return bool(readers)

    def refused(self, topic: str, why: str | None) -> None:
        """The broker does not let us read or write this topic; None: it does."""
        with self._lock:
            if why is None:
                self._refused.pop(topic, None)
            elif topic in self._refused or len(self._refused) < MOST_WAITING:
                self._refused[topic] = Condition("broker-refused", topic, why)

    def conditions(self) -> tuple[Condition, ...]:
        with self._lock:
            return (*self._failing.values(), *self._refused.values())

    # --- inside ----------------------------------------------------------------------

    def _end(self, topic: str, reader: Reader) -> None:
        with self._lock:
            left = tuple(each for each in self._readers.get(topic, ()) if each is not reader)
            if left:
                self._readers[topic] = left
            else:
                self._readers.pop(topic, None)
                self._failing.pop(topic, None)
                self._refused.pop(topic, None)

    def _note(self, topic: str, error: Exception) -> None:
        condition = Condition("part-failed", topic, f"its reader: {error!r}")
        with self._lock:
            known = self._failing.get(topic)
            self._failing[topic] = condition
        if condition != known:
            _log(condition, error)


def _log(condition: Condition, error: Exception) -> None:
    try:
        structlog.get_logger().error(
            condition.code, subject=condition.subject, text=condition.text, exc_info=error
        )
    except Exception:  # noqa: BLE001 - a log that can't be written must not end the link
        return


def topic_fault(topic: str) -> str | None:
    """Why this is no topic that one can read or write by itself, or None.

    Source: MQTT 5.0, 4.7.
    """
    if not topic or len(topic.encode(errors="replace")) > LONGEST_TOPIC:
        return f"{topic[:40]!r} is no topic: it is empty or too long"
    if any(sign in topic for sign in "+#"):
        return f"{topic!r} has a wildcard: name one topic"
    if topic.startswith("$"):
        return f"{topic!r} belongs to the broker itself"
    if not topic.isprintable():
        return f"{topic!r} holds characters that brokers refuse"
    return None
