"""The Homie 5 convention as checks over a description, payloads and recorded traffic.

Written from the convention's text and from nothing in the package, so that it can
disagree with it. Covers a root device without children whose properties nobody may set.
Source: Homie convention 5.0.0 (11 May 2025), https://homieiot.github.io/specification/ ,
sections "Topic IDs", "Device Lifecycle", "Device Attributes", "Nodes", "Properties",
"Payloads", "Formats", "Units", "QoS choices and retained messages". Rules of this house
that go further are marked "house rule".
"""

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from tests.support.mosquitto import Record

ID = re.compile(r"[a-z0-9-]+")
STATES = ("init", "ready", "disconnected", "sleeping", "lost")
DATATYPES = (
    *("integer", "float", "boolean", "string", "enum", "color"),
    *("datetime", "duration", "json"),
)
UNITS = (
    *("°C", "°F", "°", "L", "gal", "V", "W", "kW", "kWh", "A", "Hz", "rpm", "%", "m", "m³", "ft"),
    *("m/s", "kn", "Pa", "psi", "ppm", "s", "min", "h", "lx", "K", "MK⁻¹", "#"),
)
INTEGER = re.compile(r"-?[0-9]+")
FLOAT = re.compile(r"-?([0-9]+\.?[0-9]*|\.[0-9]+)([eE]-?[0-9]+)?")
DURATION = re.compile(r"PT(?=.)([0-9]+H)?([0-9]+M)?([0-9]+S)?")

_DEVICE_FIELDS = {"homie", "version", "nodes", "name", "type", "children", "extensions"}
_NODE_FIELDS = {"name", "type", "properties"}
_PROPERTY_FIELDS = {"name", "datatype", "format", "settable", "retained", "unit"}

Document = dict[str, Any]


def parse(text: str) -> Document:
    """The description document. Raises AssertionError for anything but one JSON object
    with unique keys and without null."""
    document = json.loads(text, object_pairs_hook=_unique)
    assert isinstance(document, dict), "not an object"
    assert not any(value is None for value in _leaves(document)), "null in the description"
    return document


def properties(document: Document) -> dict[str, Document]:
    """ "node/property" -> its part of the description."""
    return {
        f"{node_id}/{property_id}": fields
        for node_id, node in document["nodes"].items()
        for property_id, fields in node["properties"].items()
    }


def retained_properties(document: Document) -> dict[str, Document]:
    """Those that have values; a momentary command has none."""
    return {
        path: fields
        for path, fields in properties(document).items()
        if fields.get("retained", True)
    }


def document_faults(document: Document) -> list[str]:
    """What the convention would object to in a root device's description."""
    faults = _unknown("device", document, _DEVICE_FIELDS)
    if not re.fullmatch(r"5\.[0-9]+", str(document.get("homie"))):
        faults.append(f"homie is {document.get('homie')!r}")
    version = document.get("version")
    if not isinstance(version, int) or isinstance(version, bool):
        faults.append(f"version is {version!r}")
    elif abs(version) > 2**53:
        faults.append("version is more than every JSON reader keeps exactly (house rule)")
    for node_id, node in document["nodes"].items():
        faults += _id_faults(node_id) + _unknown(node_id, node, _NODE_FIELDS)
        faults += _text_faults(node_id, node, ("name", "type"))
    for path, fields in properties(document).items():
        faults += _id_faults(path.split("/")[1]) + _property_faults(path, fields)
    return faults


def payload_fault(fields: Document, payload: str) -> str | None:
    """Why this payload does not fit its property, or None."""
    kind, shape = fields["datatype"], fields.get("format", "")
    if payload.encode().startswith(b"\xef\xbb\xbf"):
        return "begins with a byte order mark"
    if kind == "string":
        return None if payload == "\0" or "\0" not in payload else "a NUL inside a text"
    checks: dict[str, Callable[[], object]] = {
        "integer": lambda: INTEGER.fullmatch(payload) and -(2**63) <= int(payload) < 2**63,
        "float": lambda: FLOAT.fullmatch(payload) and math.isfinite(float(payload)),
        "boolean": lambda: payload in ("true", "false"),
        "enum": lambda: payload in shape.split(","),
        "datetime": lambda: _is_instant(payload),
        "duration": lambda: DURATION.fullmatch(payload),
    }
    return None if checks[kind]() else f"{payload!r} is no {kind}"


def traffic_faults(
    records: Sequence[Record], late: Mapping[str, str], domain: str, device: str
) -> list[str]:
    """What the convention would object to in all that was recorded of one device.

    late: what a subscriber is given that joins after the last record.
    """
    root = f"{domain}/5/{device}"
    ours = [record for record in records if record.topic.startswith(f"{root}/")]
    faults = [f"outside the device: {each.topic}" for each in records if each not in ours]
    faults += [fault for each in ours for fault in _record_faults(each, root)]
    faults += _order_faults(ours, root)
    faults += _late_faults(late, root)
    if len({record.qos for record in ours}) > 1:
        faults.append("more than one QoS")
    return faults


# --- description ---------------------------------------------------------------------


def _property_faults(path: str, fields: Document) -> list[str]:
    faults = _unknown(path, fields, _PROPERTY_FIELDS)
    faults += _text_faults(path, fields, ("name", "format", "unit"))
    kind, shape = fields.get("datatype"), fields.get("format", "")
    if kind not in DATATYPES:
        faults.append(f"{path}: datatype {kind!r}")
    entries = shape.split(",")
    if kind == "enum" and (not all(entries) or len(set(entries)) < len(entries)):
        faults.append(f"{path}: enum format {shape!r}")
    if kind == "boolean" and "format" in fields and (len(entries) != 2 or not all(entries)):
        faults.append(f"{path}: boolean format {shape!r}")
    if "unit" in fields and fields["unit"] not in UNITS:
        faults.append(f"{path}: unit {fields['unit']!r}")
    for flag in ("settable", "retained"):
        if not isinstance(fields.get(flag, False), bool):
            faults.append(f"{path}: {flag} is no boolean")
    return faults


def _unknown(where: str, fields: Document, known: set[str]) -> list[str]:
    return [f"{where}: unknown field {key!r}" for key in fields.keys() - known]


def _text_faults(where: str, fields: Document, keys: Iterable[str]) -> list[str]:
    wrong = [key for key in keys if not isinstance(fields.get(key, ""), str)]
    return [f"{where}: {key} is no text" for key in wrong]


def _id_faults(topic_id: str) -> list[str]:
    return [] if ID.fullmatch(topic_id) else [f"not an ID: {topic_id!r}"]


def _unique(pairs: list[tuple[str, Any]]) -> Document:
    document = dict(pairs)
    assert len(document) == len(pairs), "a key appears twice"
    return document


def _leaves(value: Any) -> Iterator[Any]:
    if isinstance(value, dict):
        for part in value.values():
            yield from _leaves(part)
    elif isinstance(value, list):
        for part in value:
            yield from _leaves(part)
    else:
        yield value


def _is_instant(payload: str) -> bool:
    try:
        return datetime.fromisoformat(payload).utcoffset() is not None  # house rule: offset
    except ValueError:
        return False


# --- traffic -------------------------------------------------------------------------


def _record_faults(record: Record, root: str) -> list[str]:
    faults = []
    path = record.topic.removeprefix(f"{root}/")
    if not record.retain:
        faults.append(f"{path} is not retained")
    if len(record.topic.encode()) > 65_535:
        faults.append("a topic is too long")
    for level in record.topic.split("/"):
        faults += _id_faults(level.removeprefix("$"))
    if path == "$state" and record.payload not in (*STATES, ""):
        faults.append(f"$state is {record.payload!r}")
    if path.startswith("$") and not re.fullmatch(r"\$(state|description|alert/[^/]+)", path):
        faults.append(f"no such attribute: {path}")
    if not path.startswith("$") and path.count("/") != 1:
        faults.append(f"neither attribute nor value: {path}")
    return faults


def _order_faults(ours: Sequence[Record], root: str) -> list[str]:
    """`ready` comes after the description and a word about every property; while it
    stands, the description does; every value belongs to a property and fits it."""
    faults: list[str] = []
    state, told = "", set[str]()
    document: Document = {}
    documents: dict[Any, str] = {}
    for record in ours:
        path = record.topic.removeprefix(f"{root}/")
        if path == "$state":
            state = record.payload
            if state == "init":
                told = set()
            if state == "ready" and (missing := properties(document).keys() - told):
                faults.append(f"ready without {sorted(missing)}" if document else "ready at once")
        elif path == "$description":
            if state not in ("init", "disconnected", "lost"):
                faults.append(f"description changed while {state}")
            document = parse(record.payload)
            faults += document_faults(document)
            if documents.setdefault(document["version"], record.payload) != record.payload:
                faults.append("two descriptions share a version")
        elif not path.startswith("$"):
            told.add(path)
            fields = properties(document).get(path) if document else None
            if record.payload and fields is None:
                faults.append(f"{path} is not in the description")
            elif record.payload and fields and (fault := payload_fault(fields, record.payload)):
                faults.append(f"{path}: {fault}")
    return faults


def _late_faults(late: Mapping[str, str], root: str) -> list[str]:
    named = properties(parse(late[f"{root}/$description"]))
    faults = []
    for topic in late:
        path = topic.removeprefix(f"{root}/")
        attribute = path in ("$state", "$description") or path.startswith("$alert/")
        if not attribute and path not in named:
            faults.append(f"retained, but not in the description: {path}")
    return faults
