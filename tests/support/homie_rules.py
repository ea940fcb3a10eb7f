"""The Homie 5 convention as checks over a description and payloads.

Written from the convention's text and from nothing in the package, so that it can
disagree with it. Covers a root device without children. Recorded traffic is walked by
homie_traffic.py; the numbers of the findings are those of its list.
Source: Homie convention 5.0.0 (11 May 2025), https://homieiot.github.io/specification/ ,
sections "Topic IDs", "Device Attributes", "Nodes", "Properties", "Payloads", "Formats",
"Units". Rules of this house that go further are marked "house rule".
"""

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from typing import Any, NamedTuple

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

_DEVICE_FIELDS = {
    *("homie", "version", "nodes", "name", "type", "children", "extensions", "root", "parent"),
}
_NODE_FIELDS = {"name", "type", "properties"}
_PROPERTY_FIELDS = {"name", "datatype", "format", "settable", "retained", "unit"}

NUMERIC_FORMAT = re.compile(r"([^:]*):([^:]*)(?::([^:]*))?")
EXTENSION = re.compile(r"[a-z0-9-]+(\.[a-z0-9-]+)+:[0-9.]+(:\[[^]]*\])?")

Document = dict[str, Any]


class Finding(NamedTuple):
    """What the convention objects to, by the number of the rule (homie_traffic.RULES)."""

    rule: int
    text: str


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
        for node_id, node in document.get("nodes", {}).items()
        for property_id, fields in node.get("properties", {}).items()
    }


def retained_properties(document: Document) -> dict[str, Document]:
    """Those that have values; a momentary command has none."""
    return {
        path: fields
        for path, fields in properties(document).items()
        if fields.get("retained", True)
    }


def document_faults(document: Document) -> list[Finding]:
    """What the convention would object to in a root device's description."""
    found = list(_device(document))
    for node_id, node in _mapping(document, "nodes").items():
        found += _id(node_id)
        found += _fields(node_id, node, _NODE_FIELDS, texts=("name", "type"))
        if isinstance(node, dict):
            for property_id, fields in _mapping(node, "properties").items():
                found += _id(property_id)
                found += _property(f"{node_id}/{property_id}", fields)
    return found


def payload_fault(fields: Document, payload: str) -> str | None:
    """Why this payload does not fit its property, or None."""
    finding = payload_finding(fields, payload)
    return None if finding is None else finding.text


def payload_finding(fields: Document, payload: str) -> Finding | None:
    kind, shape = fields.get("datatype"), fields.get("format", "")
    if payload.startswith("\N{ZERO WIDTH NO-BREAK SPACE}"):
        return Finding(4, "begins with a byte order mark")
    if kind == "string":
        return None if payload == "\0" or "\0" not in payload else Finding(28, "a NUL in a text")
    if payload == "\0":
        return Finding(28, f"an empty text for a {kind}")
    checks: dict[str, tuple[int, Callable[[], object]]] = {
        "integer": (24, lambda: INTEGER.fullmatch(payload) and -(2**63) <= int(payload) < 2**63),
        "float": (24, lambda: FLOAT.fullmatch(payload) and math.isfinite(float(payload))),
        "boolean": (26, lambda: payload in ("true", "false")),
        "enum": (26, lambda: payload in shape.split(",")),
        "datetime": (27, lambda: _is_instant(payload)),
        "duration": (27, lambda: DURATION.fullmatch(payload)),
        "json": (29, lambda: _is_json(payload)),
    }
    if kind not in checks:
        return None  # an unknown datatype is another finding; no colours in a greenhouse
    rule, fits = checks[kind]
    if not fits():
        return Finding(rule, f"{payload!r} is no {kind}")
    if kind in ("integer", "float") and not _in_range(float(payload), shape):
        return Finding(25, f"{payload} is not within {shape}")
    return None


# --- description ---------------------------------------------------------------------


def _device(document: Document) -> Iterator[Finding]:
    texts = ("name", "type", "root", "parent")
    yield from _fields("device", document, _DEVICE_FIELDS, texts=texts)
    if not re.fullmatch(r"5\.[0-9]+", str(document.get("homie"))):
        yield Finding(9, f"homie is {document.get('homie')!r}")
    version = document.get("version")
    if not isinstance(version, int) or isinstance(version, bool):
        yield Finding(10, f"version is {version!r}")
    elif abs(version) > 2**53:
        yield Finding(10, "version is more than every JSON reader keeps exactly (house rule)")
    for key in ("children", "extensions"):
        entries = document.get(key, [])
        if not isinstance(entries, list) or not all(isinstance(each, str) for each in entries):
            yield Finding(12, f"{key} is no list of texts")
        elif key == "extensions":
            bad = [each for each in entries if not EXTENSION.fullmatch(each) or "homie" in each]
            yield from (Finding(46, f"extension {each!r}") for each in bad)
    if "root" in document or "parent" in document:
        yield Finding(18, "a root has neither root nor parent")
    if not isinstance(document.get("nodes", {}), dict):
        yield Finding(12, "nodes is no object")


def _property(path: str, fields: Any) -> Iterator[Finding]:
    yield from _fields(path, fields, _PROPERTY_FIELDS, texts=("name", "format", "unit"))
    if not isinstance(fields, dict):
        return
    for flag in ("settable", "retained"):
        if not isinstance(fields.get(flag, False), bool):
            yield Finding(12, f"{path}: {flag} is no boolean")
    if fields.get("datatype") not in DATATYPES:
        yield Finding(13, f"{path}: datatype {fields.get('datatype')!r}")
    elif isinstance(fields.get("format", ""), str):
        yield from _format(path, fields["datatype"], fields.get("format"))
    if "unit" in fields and fields["unit"] not in UNITS:
        yield Finding(17, f"{path}: unit {fields['unit']!r}")


def _format(path: str, kind: str, shape: str | None) -> Iterator[Finding]:
    entries = (shape or "").split(",")
    if kind in ("enum", "color") and (not all(entries) or len(set(entries)) < len(entries)):
        yield Finding(14, f"{path}: {kind} format {shape!r}")
    if kind == "boolean" and shape is not None and (len(entries) != 2 or not all(entries)):
        yield Finding(14, f"{path}: boolean format {shape!r}")
    if kind in ("integer", "float") and shape is not None and _bounds(shape) is None:
        yield Finding(15, f"{path}: format {shape!r}")
    if kind == "json" and shape is not None and not _is_json(shape):
        yield Finding(16, f"{path}: format is no schema")


def _bounds(shape: str) -> tuple[float, float, float | None] | None:
    """Least, most and step; None for what is no numeric format."""
    match = NUMERIC_FORMAT.fullmatch(shape)
    if match is None:
        return None
    try:
        low, high = float(match[1] or "-inf"), float(match[2] or "inf")
        step = float(match[3]) if match[3] else None
    except ValueError:
        return None
    return None if low > high or (step is not None and step <= 0) else (low, high, step)


def _in_range(value: float, shape: str) -> bool:
    bounds = _bounds(shape or ":")
    if bounds is None:
        return True  # that is another finding
    low, high, step = bounds
    if not low <= value <= high:
        return False
    base = low if math.isfinite(low) else high
    if step is None or not math.isfinite(base):
        return True
    return abs((value - base) / step - round((value - base) / step)) < 1e-6


def _fields(where: str, fields: Any, known: set[str], texts: Iterable[str]) -> Iterator[Finding]:
    if not isinstance(fields, dict):
        yield Finding(12, f"{where} is no object")
        return
    yield from (Finding(12, f"{where}: unknown field {key!r}") for key in fields.keys() - known)
    for key in texts:
        if not isinstance(fields.get(key, ""), str):
            yield Finding(12, f"{where}: {key} is no text")


def _mapping(fields: Document, key: str) -> Document:
    found = fields.get(key, {})
    return found if isinstance(found, dict) else {}


def _id(topic_id: str) -> list[Finding]:
    return [] if ID.fullmatch(topic_id) else [Finding(2, f"not an ID: {topic_id!r}")]


# --- pieces --------------------------------------------------------------------------


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


def _is_json(text: str) -> bool:
    try:
        return isinstance(json.loads(text), dict | list)
    except ValueError:
        return False


def _is_instant(payload: str) -> bool:
    try:
        return datetime.fromisoformat(payload).utcoffset() is not None  # house rule: offset
    except ValueError:
        return False
