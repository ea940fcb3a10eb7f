"""What has to be said on one connection, and in which order.

    ANNOUNCING -> ANNOUNCED -> READY -> LEAVING -> LEFT
        ^                        |
        +-- our state deleted ---+

Lives here: the life of one connection as values in, messages out. `init`, description
and every value come first; `ready` only once the broker has acknowledged them all;
from then on what changed. No topic is under way twice at a time, so what waits is
bounded by the number of topics, and it is always the newest payload. Does not live
here: sockets and paho (link.py), time and reconnecting (client.py). Pure.
Source: Homie convention 5.0.0, "Device Lifecycle".
"""

from collections.abc import Mapping
from enum import Enum
from typing import NamedTuple

from greenkeeper.broker.homie import fault_of
from greenkeeper.broker.payloads import ABSENT

INIT, READY, DISCONNECTED, LOST = "init", "ready", "disconnected", "lost"

LARGEST_BYTES = 256 * 1024  # our own bound where the broker states none
MOST_STRAYS = 1000  # topics deleted on one connection; a hostile broker may show millions


class Stage(Enum):
    ANNOUNCING = "announcing"  # saying everything
    ANNOUNCED = "announced"  # everything is with the broker, `ready` is under way
    READY = "ready"
    LEAVING = "leaving"
    LEFT = "left"


class Message(NamedTuple):
    topic: str
    payload: str


class Session:
    """One connection's worth of messages, all retained and of one QoS."""

    def __init__(self, root: str, description: str, largest_bytes: int = LARGEST_BYTES) -> None:
        """largest_bytes: what the broker takes in one message."""
        self._root = root
        self._description = description
        self._largest_bytes = largest_bytes
        self.state_topic = f"{root}/$state"
        self._description_topic = f"{root}/$description"
        self.stage = Stage.ANNOUNCING
        self.refused: dict[str, str] = {}  # topic -> why the broker does not have it
        self._table: Mapping[str, str] | None = None
        self._undecided: set[str] = set()  # found retained before the first table came
        self._found = 0
        self._said: dict[str, str] = {}  # values and alerts as last made due
        self._due: dict[str, str] = {}  # Invariant: the newest payload of each topic
        self._flying: dict[str, str] = {}  # Invariant: at most one payload per topic
        self._contested = False
        self._removing = False
        self._announce()

    # --- what comes in ---------------------------------------------------------------

    def offer(self, table: Mapping[str, str]) -> None:
        """The newest table of values and alerts, whole."""
        if self._going:
            return
        self._table = table
        for topic, payload in table.items():
            self._tell(topic, payload)
        for topic in [*self._said, *self._undecided]:
            if topic not in table:
                self._tell(topic, ABSENT)
        self._undecided.clear()

    def acknowledged(self, topic: str, refusal: str | None = None) -> None:
        """The broker has answered for the message that was under way on this topic."""
        payload = self._flying.pop(topic)
        if refusal is not None:
            self.refused[topic] = refusal
        else:
            self.refused.pop(topic, None)
        if topic == self.state_topic:
            self._state_acknowledged(payload)
        elif payload == ABSENT and self._table is not None and topic not in self._table:
            self._forget(topic)
        if self._removing and not self._due and not self._flying:
            self.stage = Stage.LEFT

    def heard(self, topic: str, payload: bytes, *, replayed: bool) -> None:
        """Something came from under our own root. replayed: it was retained before."""
        if topic == self.state_topic:
            if not replayed and self.stage is Stage.READY and payload != READY.encode():
                self._contest(payload)
        elif replayed and payload:
            self._find(topic)

    # --- what the client asks for ----------------------------------------------------

    def take(self) -> Message | None:
        """The next message to send; it counts as under way from now on."""
        if self._told_all:
            self.stage = Stage.ANNOUNCED
            self._due[self.state_topic] = READY
        for topic, payload in self._due.items():
            if topic not in self._flying and not self._must_be_last(topic):
                del self._due[topic]
                self._flying[topic] = payload
                return Message(topic, payload)
        return None

    @property
    def waiting(self) -> bool:
        """The broker owes an answer."""
        return bool(self._flying)

    def affirm(self) -> None:
        """Say `ready` again: for the sake of the answer, or against a false word."""
        if self.stage is Stage.READY:
            self._contested = False
            self._push(self.state_topic, READY)

    def defend(self) -> None:
        """Put our state right if somebody else wrote it. To be called at a bounded rate, so
        that nobody can make us shout."""
        if self._contested:
            self.affirm()

    def insist(self) -> None:
        """Offer once more what the broker refused: its access list may have changed."""
        for topic in list(self.refused):
            if topic == self._description_topic:
                self._push(topic, self._description)
            elif topic in self._said:
                self._push(topic, self._said[topic])
            else:
                self.affirm()

    def leave(self) -> None:
        """Say the last values, then `disconnected`."""
        if not self._going:
            self.stage = Stage.LEAVING
            self._due[self.state_topic] = DISCONNECTED

    def remove(self) -> None:
        """Take the device off the broker: `$state` first, which is what its removal means, then
        everything else that was ever said."""
        if not self._going:
            self.stage = Stage.LEAVING
            self._removing = True
            self._due = {self.state_topic: ABSENT}

    # --- inside ----------------------------------------------------------------------

    @property
    def _going(self) -> bool:
        return self.stage in (Stage.LEAVING, Stage.LEFT)

    @property
    def _told_all(self) -> bool:
        nothing_open = self._table is not None and not self._due and not self._flying
        return self.stage is Stage.ANNOUNCING and nothing_open

    def _must_be_last(self, topic: str) -> bool:
        leaving = self.stage is Stage.LEAVING and not self._removing
        return leaving and topic == self.state_topic and len(self._due) > 1

    def _announce(self) -> None:
        self.stage = Stage.ANNOUNCING
        self._contested = False
        self._said.clear()
        self._due.clear()
        self._push(self.state_topic, INIT)
        self._push(self._description_topic, self._description)
        if self._table is not None:
            self.offer(self._table)

    def _state_acknowledged(self, payload: str) -> None:
        if self.stage is Stage.ANNOUNCED and payload == READY:
            self.stage = Stage.READY
        elif self.stage is Stage.LEAVING and payload == DISCONNECTED:
            self.stage = Stage.LEFT
        elif self._removing and payload == ABSENT:
            self._due |= dict.fromkeys([self._description_topic, *self._said], ABSENT)

    def _tell(self, topic: str, payload: str) -> None:
        """Make it due, unless the broker was last told the same."""
        if self._said.get(topic) != payload:
            self._said[topic] = payload
            self._push(topic, payload)

    def _push(self, topic: str, payload: str) -> None:
        fault = fault_of(topic, payload, self._largest_bytes)
        if fault is not None:
            self.refused[topic] = fault
            self._due.pop(topic, None)
        else:
            self._due[topic] = payload

    def _contest(self, payload: bytes) -> None:
        if payload:
            self._contested = True
        else:
            # Deleted: whoever did it may have deleted everything else as well.
            self._announce()

    def _find(self, topic: str) -> None:
        """A topic retained from an earlier run: an alert that is over, a probe that is no
        more. Deleted unless it is in use; what cannot be ours is left alone."""
        if not self._could_be_ours(topic) or self._going or self._found >= MOST_STRAYS:
            return
        self._found += 1
        if self._table is None:
            self._undecided.add(topic)
        elif topic not in self._table:
            self._tell(topic, ABSENT)

    def _could_be_ours(self, topic: str) -> bool:
        """A value or an alert: two levels under our root, both of them IDs."""
        ours = topic.startswith(f"{self._root}/") and topic.count("/") == self._root.count("/") + 2
        return ours and fault_of(topic, ABSENT, LARGEST_BYTES) is None

    def _forget(self, topic: str) -> None:
        """Gone from broker and table: an alert that is over must not be kept for ever."""
        if topic not in self._due:
            self._said.pop(topic, None)
