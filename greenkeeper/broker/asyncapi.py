"""The keeper's topics as an AsyncAPI 3 document, for programs that read such documents.

Lives here: the document's shape. What it says of the keeper's own topics comes from the
very properties that make the description and the values (keeper.py), so that none of the
three can drift apart; what it says of other devices' topics, from the settings that name
them. Pure. `greenkeeper check --topics` writes it.

Payloads are texts, as the convention has them: a number's bounds and unit stand in words.
Source: AsyncAPI 3.0.0, https://www.asyncapi.com/docs/reference/specification/v3.0.0 ; its
MQTT bindings 0.2.0.
"""

from typing import Any

from greenkeeper import pointer
from greenkeeper.broker.client import client_id, place
from greenkeeper.broker.homie import Property
from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.broker.link import QOS
from greenkeeper.broker.session import DISCONNECTED, INIT, LOST, READY
from greenkeeper.model import Tick
from greenkeeper.settings.damp import BrokerHygrometer
from greenkeeper.settings.schema import Broker, Settings
from greenkeeper.settings.sensors import BrokerProbe
from greenkeeper.settings.switches import HOLD, BrokerOutput

Document = dict[str, Any]

_MQTT = "0.2.0"
_JSON = "application/json"
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
    made.neighbours(settings)
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
            content=_JSON,
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

    def neighbours(self, settings: Settings) -> None:
        """What others on the broker report, and the switches of others."""
        for name, probe in settings.probes.items():
            if isinstance(probe, BrokerProbe):
                self._report(f"probe-{name}", probe, probe.unit)
        for name, hygrometer in settings.hygrometers.items():
            if isinstance(hygrometer, BrokerHygrometer):
                unit = "per cent" if hygrometer.unit == "%" else "a share of one"
                self._report(f"hygrometer-{name}", hygrometer, unit)
        for name, output in settings.outputs.items():
            if isinstance(output, BrokerOutput):
                self._switch(f"output-{name}", output)

    def _report(self, path: str, source: BrokerProbe | BrokerHygrometer, unit: str) -> None:
        words = f"{path}: what it measures, in {unit}; retained ones count for nothing"
        payload = _within(source.field, {"type": "number"})
        at = source.topic
        self._add(f"{path}/report", "receive", words, payload, content=_JSON, at=at, retained=False)

    def _switch(self, path: str, output: BrokerOutput) -> None:
        on = output.order_on.replace(HOLD, f"{output.hold_s:.0f}")
        orders = {"type": "string", "enum": [on, output.order_off]}
        words = f"{path}: told again at every poll; it must go off by itself without that"
        self._add(f"{path}/order", "send", words, orders, at=output.topic, retained=False)
        said = {"description": f"{output.says_on}: on, {output.says_off}: off"}
        answer = _within(output.answer_field, said) if output.answer_field else said
        self._add(
            f"{path}/answer",
            "receive",
            f"{path}: how it stands, after every order; retained ones count for nothing",
            answer,
            content=_JSON if output.answer_field else None,
            at=output.answers,
            retained=False,
        )

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
        at: str | None = None,
    ) -> None:
        """at: the topic, where it is not one of the keeper's own."""
        key = path.translate(str.maketrans("/", "_", "${}"))  # letters, digits, "-" and "_" alone
        message: Document = {"summary": words, "payload": payload}
        if content is not None:
            message["contentType"] = content
        channel: Document = {
            "address": at or f"{self._root}/{path}",
            "messages": {"text": message},
        }
        if parameters is not None:
            channel["parameters"] = parameters
        self.channels[key] = channel
        # Words in passing are not worth an answer; everything else is.
        qos = QOS if retained or action == "receive" or at is not None else 0
        self.operations[f"{action}_{key}"] = {
            "action": action,
            "channel": {"$ref": f"#/channels/{key}"},
            "summary": words,
            "messages": [{"$ref": f"#/channels/{key}/messages/text"}],
            "bindings": {"mqtt": {"qos": qos, "retain": retained, "bindingVersion": _MQTT}},
        }


def _within(field: str | None, found: Document) -> Document:
    """A JSON text in which this stands where the pointer says."""
    for token in reversed(pointer.tokens(field or "")):
        # "0" may be an item of a list or a name: then nothing is said of its type.
        either = {} if token.isdigit() else {"type": "object", "required": [token]}
        found = {**either, "properties": {token: found}}
    return found


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
