"""The keeper's topics as an AsyncAPI 3 document, for programs that read such documents.

Lives here: the document's shape. What it says comes from the very properties that make
the description and the values (keeper.py), so that none of the three can drift apart.
Pure. `greenkeeper check --topics` writes it.

Payloads are texts, as the convention has them: a number's bounds and unit stand in words.
Source: AsyncAPI 3.0.0, https://www.asyncapi.com/docs/reference/specification/v3.0.0 ; its
MQTT bindings 0.2.0.
"""

from typing import Any

from greenkeeper.broker.client import client_id, place
from greenkeeper.broker.homie import Property
from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.broker.link import QOS
from greenkeeper.broker.session import DISCONNECTED, INIT, LOST, READY
from greenkeeper.model import Tick
from greenkeeper.settings.schema import Broker, Settings

Document = dict[str, Any]

_MQTT = "0.2.0"
_LEVELS = ("debug", "info", "warn", "error", "fatal")
_FLOAT = r"^-?([0-9]+\.?[0-9]*|\.[0-9]+)([eE]-?[0-9]+)?$"
_PATTERNS = {
    "float": _FLOAT,
    "integer": r"^-?[0-9]+$",
    "duration": r"^PT([0-9]+H)?([0-9]+M)?([0-9]+S)?$",
    "datetime": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?([+-]\d\d:\d\d|Z)$",
}


def document(settings: Settings, program: str) -> Document:
    """Everything this keeper says on the broker and hears from it.

    Raises ValueError without broker settings.
    """
    if settings.broker is None:
        raise ValueError("the settings name no broker")
    keeper = KeeperDevice(settings, program=program, started_s=0.0)
    made = _Made(keeper.root)
    made.attributes()
    for node_id, node in keeper.nodes.items():
        for property_id, prop in node.properties.items():
            made.property(f"{node_id}/{property_id}", f"{node.name}: {prop.name}", prop)
    return {
        "asyncapi": "3.0.0",
        "info": {
            "title": f"Greenkeeper at {settings.site.name}",
            "version": program,
            "description": "What this keeper tells its broker, and what may be ordered of it. "
            "The topics follow the Homie convention 5.0.",
        },
        "defaultContentType": "text/plain",
        "servers": {"broker": _server(settings.broker, keeper.root)},
        "channels": made.channels,
        "operations": made.operations,
    }


def _server(broker: Broker, root: str) -> Document:
    will = {"topic": f"{root}/$state", "qos": QOS, "message": LOST, "retain": True}
    return {
        "host": place(broker),
        "protocol": "mqtt" if broker.tls is None else "secure-mqtt",
        "protocolVersion": "5.0",
        "bindings": {
            "mqtt": {
                "clientId": client_id(root),
                "cleanSession": True,
                "lastWill": will,
                "keepAlive": broker.keepalive_s,
                "bindingVersion": _MQTT,
            }
        },
    }


class _Made:
    """The channels and operations so far."""

    def __init__(self, root: str) -> None:
        self.channels: Document = {}
        self.operations: Document = {}
        self._root = root

    def attributes(self) -> None:
        """What the convention itself asks for, beside the properties."""
        states = [INIT, READY, DISCONNECTED, LOST]
        self._add("$state", "send", "how the device is", {"type": "string", "enum": states})
        self._add(
            "$description",
            "send",
            "the device, its nodes and properties",
            {"type": "object", "required": ["homie", "version"]},
            content="application/json",
        )
        self._add(
            "$alert/{alert}",
            "send",
            "an alarm in words, deleted when it is over",
            {"type": "string"},
            parameters={"alert": {"description": "the alarm's code and what it is about"}},
        )
        self._add(
            "$log/{level}",
            "send",
            "a word in passing, such as a refused order",
            {"type": "string"},
            parameters={"level": {"enum": list(_LEVELS)}},
            retained=False,
        )

    def property(self, path: str, words: str, prop: Property[Tick]) -> None:
        if prop.value is not None:
            schema = _schema(prop)
            # Zero bytes delete a retained value: there is none at present.
            shown = {**schema, "description": f"{schema['description']}; empty: no value now"}
            if "enum" in shown:
                shown["enum"] = [*shown["enum"], ""]
            if "pattern" in shown:
                shown["pattern"] = f"^$|{shown['pattern']}"
            self._add(path, "send", words, shown)
        if prop.reads is not None:
            text = f"order: {words}; not retained, or it is not obeyed"
            self._add(f"{path}/set", "receive", text, _schema(prop), retained=False)

    def _add(
        self,
        path: str,
        action: str,
        words: str,
        payload: Document,
        *,
        content: str | None = None,
        parameters: Document | None = None,
        retained: bool = True,
    ) -> None:
        key = path.translate(str.maketrans("/", "_", "${}"))  # letters, digits, "-" and "_" alone
        message: Document = {"summary": words, "payload": payload}
        if content is not None:
            message["contentType"] = content
        channel: Document = {"address": f"{self._root}/{path}", "messages": {"text": message}}
        if parameters is not None:
            channel["parameters"] = parameters
        self.channels[key] = channel
        qos = QOS if retained or action == "receive" else 0
        self.operations[f"{action}_{key}"] = {
            "action": action,
            "channel": {"$ref": f"#/channels/{key}"},
            "summary": words,
            "messages": [{"$ref": f"#/channels/{key}/messages/text"}],
            "bindings": {"mqtt": {"qos": qos, "retain": retained, "bindingVersion": _MQTT}},
        }


def _schema(prop: Property[Tick]) -> Document:
    found: Document = {"type": "string", "description": _words(prop)}
    if prop.datatype in _PATTERNS:
        found["pattern"] = _PATTERNS[prop.datatype]
    if prop.datatype == "boolean":
        found["enum"] = ["true", "false"]
    if prop.datatype == "enum":
        found["enum"] = (prop.format or "").split(",")
    return found


def _words(prop: Property[Tick]) -> str:
    words = prop.datatype
    if prop.unit is not None:
        words += f" in {prop.unit}"
    if prop.format is not None and prop.datatype in ("float", "integer"):
        low, _, high = prop.format.partition(":")
        words += f", {low} to {high}"
    return words
