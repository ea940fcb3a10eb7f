"""The settings as a JSON Schema, so that an editor completes and checks while one types.

Lives here: turning keys.py's view of the schema into JSON. Does not live here: any range
or choice. A schema can't hold the checks over several keys; `greenkeeper check` does.

It is written from our own keys, not by pydantic, because pydantic can't state the range
of a temperature that may carry its unit. Only words that drafts 7 and 2020-12 share are
used: editors mostly know draft 7. What load.py takes, the schema takes too; it is wider
where words like these can't follow, as in the range of a temperature with a unit.
"""

import json
from typing import Any

from greenkeeper.settings.keys import ROOT, Key, Kind, members
from greenkeeper.settings.wording import allowed, default_text

_NUMBER = r"^\s*[-+]?([0-9]+(\.[0-9]*)?|\.[0-9]+)\s*"
_UNIT_PATTERNS = {
    Kind.TEMPERATURE: _NUMBER + r"(°?\s*[CF])?\s*$",
    Kind.DIFFERENCE: _NUMBER + r"(°?\s*[CF]|K)?\s*$",
}


def schema_json() -> str:
    """The schema as a JSON text, with a line's end."""
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Greenkeeper settings",
        **_of(ROOT),
    }
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


def _described(key: Key) -> dict[str, Any]:
    """One key's schema with what an editor shows beside it."""
    default = default_text(key)
    schema = {
        "title": f"{allowed(key)}; default {default}" if default else allowed(key),
        "description": key.description,
        **_of(key),
    }
    if default:
        schema["default"] = key.default
    return schema


def _of(key: Key) -> dict[str, Any]:
    schema = _TYPES[key.kind](key)
    may_be_empty = bool(key.name) and not key.required and key.default is None
    return {"anyOf": [schema, {"type": "null"}]} if may_be_empty else schema


def _group(key: Key) -> dict[str, Any]:
    if len(key.models) == 1:
        return _one_group(members(key, None))
    kinds = [
        _one_group({**members(key, {"kind": kind}), "kind": _only(kind)}) for kind in key.models
    ]
    return {"type": "object", "required": ["kind"], "oneOf": kinds}


def _only(kind: str) -> Key:
    return Key("kind", Kind.CHOICE, required=True, choices=(kind,))


def _one_group(known: Any) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {name: _described(key) for name, key in known.items()},
        "required": [name for name, key in known.items() if key.required],
        "additionalProperties": False,
    }


def _named(key: Key) -> dict[str, Any]:
    return {
        "type": "object",
        "propertyNames": _text(key.names) if key.names else {},
        "additionalProperties": _of(key.item) if key.item else {},
        "minProperties": key.least or 0,
    }


def _list(key: Key) -> dict[str, Any]:
    items = _of(key.item) if key.item else {}
    most = {} if key.most is None else {"maxItems": key.most}
    return {"type": "array", "items": items, "minItems": key.least or 0, **most}


def _number(key: Key) -> dict[str, Any]:
    return {
        "type": "integer" if key.kind is Kind.WHOLE else "number",
        "exclusiveMinimum" if key.lowest_excluded else "minimum": key.lowest,
        "maximum": key.highest,
    }


def _with_unit(key: Key) -> dict[str, Any]:
    return {"anyOf": [_number(key), {"type": "string", "pattern": _UNIT_PATTERNS[key.kind]}]}


def _text(key: Key) -> dict[str, Any]:
    limits = {"pattern": key.pattern, "minLength": key.least, "maxLength": key.most}
    return {
        "type": "string",
        **{word: limit for word, limit in limits.items() if limit is not None},
    }


_TYPES: Any = {
    Kind.GROUP: _group,
    Kind.NAMED: _named,
    Kind.LIST: _list,
    Kind.TEMPERATURE: _with_unit,
    Kind.DIFFERENCE: _with_unit,
    Kind.NUMBER: _number,
    Kind.WHOLE: _number,
    Kind.YES_NO: lambda _: {"type": "boolean"},
    Kind.CHOICE: lambda key: {"enum": list(key.choices)},
    Kind.TEXT: _text,
}
