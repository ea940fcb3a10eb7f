"""JSON pointers, against the examples of RFC 6901."""

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper import pointer
from tests.support.tables import FOLDER

# RFC 6901, section 5.
DOCUMENT: dict[str, Any] = {
    "foo": ["bar", "baz"],
    "": 0,
    "a/b": 1,
    "c%d": 2,
    "e^f": 3,
    "g|h": 4,
    "i\\j": 5,
    'k"l': 6,
    " ": 7,
    "m~n": 8,
}


def _examples(file: Path = FOLDER / "json_pointer.csv") -> list[tuple[str, Any]]:
    lines = [line for line in file.read_text("utf-8").splitlines() if not line.startswith("#")]
    rows = csv.reader(lines[1:], delimiter=";", quoting=csv.QUOTE_NONE)
    return [(written, json.loads(value)) for written, value in rows]


@pytest.mark.parametrize(("written", "value"), _examples())
def test_the_standard_s_examples_are_found(written: str, value: Any) -> None:
    assert pointer.value_at(DOCUMENT, pointer.tokens(written)) == value


def test_the_empty_pointer_is_the_whole_and_a_list_is_reached_too() -> None:
    assert pointer.value_at(DOCUMENT, pointer.tokens("")) == DOCUMENT
    assert pointer.value_at(DOCUMENT, pointer.tokens("/foo")) == ["bar", "baz"]


def test_tilde_and_slash_are_unescaped_in_the_order_the_standard_wants() -> None:
    """Section 4: "~01" must become "~1", never "/"."""
    assert pointer.tokens("/~01/~1/~0") == ("~1", "/", "~")


@pytest.mark.parametrize("written", ["foo", "/a~", "/a~2", "#/foo", "/~"])
def test_what_is_no_pointer_is_refused(written: str) -> None:
    with pytest.raises(ValueError, match="is no JSON pointer"):
        pointer.tokens(written)


@pytest.mark.parametrize(
    "written", ["/nowhere", "/foo/2", "/foo/-", "/foo/01", "/foo/bar", "/c%d/deeper", "/foo/-1"]
)
def test_what_is_not_there_is_named(written: str) -> None:
    with pytest.raises(LookupError, match="there is no"):
        pointer.value_at(DOCUMENT, pointer.tokens(written))


JSON = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=20,
)


@given(JSON, st.lists(st.text(max_size=5), max_size=5))
def test_any_way_through_any_document_ends_in_a_value_or_a_lookup_error(
    document: Any, way: list[str]
) -> None:
    try:
        found = pointer.value_at(document, tuple(way))
    except LookupError:
        assert way
    else:
        assert way or found == document


@given(st.dictionaries(st.text(), st.integers(), min_size=1))
def test_every_name_can_be_pointed_at(document: dict[str, int]) -> None:
    for name, value in document.items():
        written = "/" + name.replace("~", "~0").replace("/", "~1")
        assert pointer.value_at(document, pointer.tokens(written)) == value
