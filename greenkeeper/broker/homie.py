"""One Homie 5 root device: its description document and its topics.

Lives here: the convention's shapes, for any device. Each property carries the function
that fills it, so that the document and the values cannot drift apart. Does not live
here: what this keeper shows (keeper.py), and when it is said (session.py).
Source: Homie convention 5.0.0, "Topology", "Description", "Properties".
"""

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from typing import Any, Generic, NamedTuple, TypeVar

from greenkeeper.broker.orders import Reads
from greenkeeper.broker.payloads import ABSENT

LEVEL_PATTERN = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")  # what every known reader accepts
CELSIUS = "\N{DEGREE SIGN}C"  # these bytes, not the look-alike ordinal: Homie 5, "Units"
LONGEST_ID = 120  # characters; our own choice, a topic is to stay readable
LONGEST_TOPIC = 65_535  # bytes: MQTT 5.0, 1.5.4

View = TypeVar("View")


class Property(NamedTuple, Generic[View]):
    """One value, retained, that nobody may set unless it has `reads`.

    value gives None while there is none; without it the property has no value at all, as a
    momentary command has not. reads: what a commanded payload orders.
    """

    name: str
    datatype: str
    value: Callable[[View], str | None] | None
    unit: str | None = None
    format: str | None = None
    reads: Reads | None = None

    def document(self) -> dict[str, Any]:
        """Its part of the description. Left-out fields have the convention's defaults:
        retained, not settable."""
        fields = {
            "name": self.name,
            "datatype": self.datatype,
            "unit": self.unit,
            "format": self.format,
            "settable": None if self.reads is None else True,
            "retained": None if self.value is not None else False,
        }
        return {key: value for key, value in fields.items() if value is not None}


class Node(NamedTuple, Generic[View]):
    name: str
    kind: str
    properties: Mapping[str, Property[View]]

    def document(self) -> dict[str, Any]:
        properties = {key: value.document() for key, value in self.properties.items()}
        return {"name": self.name, "type": self.kind, "properties": properties}


class Device(Generic[View]):
    """One root device without children, as a description and a table of topics."""

    def __init__(self, domain: str, name: str, nodes: Mapping[str, Node[View]]) -> None:
        self.root = f"{domain}/5/{name}"
        self.description = _description(name, nodes)
        self.nodes = nodes
        properties = {
            f"{self.root}/{node_id}/{property_id}": prop
            for node_id, node in nodes.items()
            for property_id, prop in node.properties.items()
        }
        self._values = {
            topic: prop.value for topic, prop in properties.items() if prop.value is not None
        }
        self.commands: Mapping[str, Reads] = {
            f"{topic}/set": prop.reads
            for topic, prop in properties.items()
            if prop.reads is not None
        }

    @property
    def topics(self) -> frozenset[str]:
        """The value topic of every property that has values."""
        return frozenset(self._values)

    def values(self, view: View) -> dict[str, str]:
        """Payload of every value topic; ABSENT where there is no value now."""
        return {topic: value(view) or ABSENT for topic, value in self._values.items()}

    def alert_topic(self, alert_id: str) -> str:
        return f"{self.root}/$alert/{alert_id}"


def _description(name: str, nodes: Mapping[str, Node[Any]]) -> str:
    document: dict[str, Any] = {
        "homie": "5.0",
        "name": name,
        "nodes": {key: node.document() for key, node in nodes.items()},
    }
    return _written({**document, "version": _version(_written(document))})


def _version(document: str) -> int:
    """Another number whenever the document is another one, the same after a restart.

    48 bits, because many JSON readers keep integers exactly only up to 2^53.
    """
    return int.from_bytes(hashlib.sha256(document.encode()).digest()[:6], "big")


def _written(document: Mapping[str, Any]) -> str:
    return json.dumps(document, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def identifier(words: str) -> str:
    """A topic ID from any words: "lemon tree (old)" becomes "lemon-tree-old"."""
    return "-".join(re.findall(r"[a-z0-9]+", words.lower()))[:LONGEST_ID].strip("-") or "unnamed"


def fault_of(topic: str, payload: str, largest_bytes: int) -> str | None:
    """Why a broker might refuse this message, or None.

    A refused message ends the connection with some brokers, and would again after every
    return: so nothing doubtful is ever sent.
    """
    levels = topic.split("/")
    if not all(_level_fits(level) for level in levels):
        return "its topic has a level that is not an ID"
    size = len(topic.encode())
    if size > LONGEST_TOPIC:
        return f"its topic is {size} bytes long, {LONGEST_TOPIC} is the most"
    try:
        size += len(payload.encode())
    except UnicodeEncodeError:
        return "its text cannot be written as UTF-8"
    return f"it has {size} bytes, {largest_bytes} is the most" if size > largest_bytes else None


def _level_fits(level: str) -> bool:
    return LEVEL_PATTERN.fullmatch(level.removeprefix("$")) is not None
