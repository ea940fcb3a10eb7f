"""The JSON Schema, judged by an independent validator in the drafts editors know."""

import json
from typing import Any

import pytest
from jsonschema import Draft7Validator, Draft202012Validator

from greenkeeper.settings.json_schema import schema_json
from greenkeeper.settings.yamlnodes import read
from tests.settings import shipped
from tests.settings.examples import changed, said
from tests.settings.test_single_keys import FAULTS

SCHEMA: dict[str, Any] = json.loads(schema_json())
DRAFTS = [Draft7Validator, Draft202012Validator]

# Slips a schema has no words for: names of the tz database, a temperature with a unit.
_BEYOND_A_SCHEMA = {"a time zone in small letters", "a number out of range after its unit"}


def _data(text: str) -> Any:
    return read(text, "f").data


@pytest.mark.parametrize("draft", DRAFTS)
def test_the_schema_is_one(draft: Any) -> None:
    draft.check_schema(SCHEMA)


@pytest.mark.parametrize("draft", DRAFTS)
@pytest.mark.parametrize("file", shipped.FILES, ids=lambda file: file.name)
def test_the_shipped_files_pass(draft: Any, file: Any) -> None:
    assert list(draft(SCHEMA).iter_errors(_data(file.read_text(encoding="utf-8")))) == []


@pytest.mark.parametrize("draft", DRAFTS)
def test_every_key_passes(draft: Any) -> None:
    assert list(draft(SCHEMA).iter_errors(_data(shipped.all_switched_on()))) == []


@pytest.mark.parametrize("draft", DRAFTS)
@pytest.mark.parametrize("slip", [slip for slip in FAULTS if slip not in _BEYOND_A_SCHEMA])
def test_what_check_refuses_an_editor_refuses_too(draft: Any, slip: str) -> None:
    change, _ = FAULTS[slip]
    assert not draft(SCHEMA).is_valid(_data(changed(change)))


@pytest.mark.parametrize(
    "change",
    [
        ("setpoint_c: 5", "setpoint_c: '41 °F'"),
        ("setpoint_c: 5", "setpoint_c: 41 F"),
        ("stale_s: 45", "offset_k: -.5 K"),
        ("poll_s: 10", "poll_s: 10\nbroker:\ntariff: null"),
        ("poll_s: 10", "poll_s: 10\nbroker: {host: hub, tls: {}}"),
    ],
)
def test_what_check_takes_an_editor_takes_too(change: tuple[str, str]) -> None:
    assert said(changed(change)) == []
    assert Draft7Validator(SCHEMA).is_valid(_data(changed(change)))


def test_it_names_its_dialect_and_no_address_of_its_own() -> None:
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "$id" not in SCHEMA


def test_it_uses_no_word_that_draft_7_does_not_know() -> None:
    newer = {"prefixItems", "unevaluatedProperties", "unevaluatedItems", "dependentRequired"}
    newer |= {"dependentSchemas", "minContains", "maxContains", "$defs", "$dynamicRef"}
    assert not newer & set(_words(SCHEMA))


def test_every_key_has_a_title_and_a_description() -> None:
    bare = [
        name
        for group in _groups(SCHEMA)
        for name, key in group["properties"].items()
        if not key.get("title") or not (key.get("description") or name == "kind")
    ]
    assert bare == []


def test_its_defaults_are_valid_themselves() -> None:
    for group in _groups(SCHEMA):
        for key in group["properties"].values():
            if "default" in key:
                Draft202012Validator(key).validate(key["default"])


def _words(schema: Any) -> list[str]:
    if isinstance(schema, list):
        return [word for item in schema for word in _words(item)]
    if isinstance(schema, dict):
        return [*schema, *(word for item in schema.values() for word in _words(item))]
    return []


def _groups(schema: Any) -> list[dict[str, Any]]:
    if isinstance(schema, list):
        return [group for item in schema for group in _groups(item)]
    if not isinstance(schema, dict):
        return []
    own = [schema] if isinstance(schema.get("properties"), dict) else []
    return own + [group for item in schema.values() for group in _groups(item)]
