"""A device's document and topics, against the convention as tests/support/homie_rules has it."""

import pytest
from hypothesis import given, settings

from greenkeeper.broker.homie import Device, Node, Property, fault_of, identifier
from greenkeeper.broker.payloads import ABSENT
from tests.broker.strategies import TEXTS
from tests.support import homie_rules


def device(name: str = "plot", unit: str = "lx", value: str | None = "1") -> Device[str]:
    light = Property[str]("light", "integer", lambda _: value, unit=unit)
    return Device("homie", name, {"mast": Node("the mast", "mast", {"light": light})})


def test_a_description_says_no_more_than_the_convention_wants() -> None:
    document = homie_rules.parse(device().description)
    assert homie_rules.document_faults(document) == []
    assert document["nodes"] == {
        "mast": {
            "name": "the mast",
            "type": "mast",
            "properties": {"light": {"name": "light", "datatype": "integer", "unit": "lx"}},
        }
    }
    assert document["homie"] == "5.0"
    assert not {"root", "parent", "children"} & document.keys()


def test_the_version_changes_with_the_document_and_only_then() -> None:
    def version(of: Device[str]) -> int:
        return int(homie_rules.parse(of.description)["version"])

    assert version(device()) == version(device(value="another value"))
    assert len({version(device()), version(device(unit="%")), version(device("plot-2"))}) == 3


def test_a_value_that_is_absent_is_a_deleted_topic() -> None:
    assert device(value="7").values("view") == {"homie/5/plot/mast/light": "7"}
    assert device(value=None).values("view") == {"homie/5/plot/mast/light": ABSENT}


@pytest.mark.parametrize(
    ("words", "topic_id"),
    [
        ("lemon", "lemon"),
        ("lemon tree (old)", "lemon-tree-old"),
        ("--Bench  Left--", "bench-left"),
        ("Ω", "unnamed"),
        ("x" * 200, "x" * 120),
    ],
)
def test_any_words_become_an_id(words: str, topic_id: str) -> None:
    assert identifier(words) == topic_id


@settings(deadline=None)
@given(TEXTS)
def test_an_id_is_one_that_every_reader_accepts(words: str) -> None:
    assert homie_rules.ID.fullmatch(identifier(words))
    assert identifier(words).strip("-") == identifier(words)


@pytest.mark.parametrize(
    "topic",
    [
        *("", "/a", "a/", "a//b", "a/+/b", "a/#", "a/b\0", "a/b\n", "a/B", "a/ä", "a/$", "a/$$b"),
        *("a/-b", "a/b c", "a/\ud800"),
    ],
)
def test_a_topic_that_a_broker_might_refuse_is_never_sent(topic: str) -> None:
    assert fault_of(topic, "1", 1000) is not None


def test_size_is_counted_in_bytes_on_both_sides_of_the_bound() -> None:
    assert fault_of("a/b", "°" * 10, largest_bytes=23) is None
    assert fault_of("a/b", "°" * 10, largest_bytes=22) is not None
    assert fault_of("a" * 65_535, "", largest_bytes=100_000) is None
    assert fault_of("a" * 65_536, "", largest_bytes=100_000) is not None


def test_a_payload_that_is_no_text_is_never_sent() -> None:
    assert fault_of("a/b", "\ud800", 1000) is not None


def test_ordinary_topics_and_attributes_are_fine() -> None:
    for topic in ("homie/5/plot/$state", "homie/5/plot/$alert/x-1", "homie/5/plot/mast/light"):
        assert fault_of(topic, "", 100) is None
