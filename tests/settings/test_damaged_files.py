"""No text whatever does anything but load or be refused in plain words."""

import json
import random
import re
import string
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from greenkeeper.settings import load
from greenkeeper.settings.faults import SettingsError
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.yamlnodes import read
from tests.settings import shipped
from tests.settings.examples import FILE, SOUND
from tests.settings.test_json_schema import SCHEMA

BATCHES = 24
DAMAGED_PER_BATCH = 12

# pydantic's and PyYAML's ways of speaking, none of which may get through.
_NOT_OURS = re.compile(
    r"Input should|Value error|pydantic|Extra inputs|valid (string|number|integer|dict|tuple)"
    r"|while (scanning|parsing)|expected <|<[a-z ]+>|token|Traceback|unusable"
)

_ODD = ["\t", "'", '"', "{", "}", "[", "]", ":", "#", "&", "*", "!", "|", ">", "%", "@", "-"]
_ODD += ["\u2028", "é", "°", "\u200b", "\ufeff", "😀", "\x00", "\x1b", "\r", "0", "~", "null"]

Lines = list[str]
Chance = random.Random


def _delete(lines: Lines, chance: Chance) -> None:
    at = chance.randrange(len(lines))
    lines[at : at + 1] = [] if len(lines) > 1 else [""]


def _double(lines: Lines, chance: Chance) -> None:
    at = chance.randrange(len(lines))
    lines.insert(at, lines[at])


def _swap(lines: Lines, chance: Chance) -> None:
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]


def _flip(lines: Lines, chance: Chance) -> None:
    _replace_one(lines, chance, chance.choice(string.printable))


def _odd(lines: Lines, chance: Chance) -> None:
    at = chance.randrange(len(lines))
    cut = chance.randrange(len(lines[at]) + 1)
    lines[at] = lines[at][:cut] + chance.choice(_ODD) + lines[at][cut:]


def _cut_off(lines: Lines, chance: Chance) -> None:
    at = chance.randrange(len(lines))
    lines[at] = lines[at][: chance.randrange(len(lines[at]) + 1)]
    del lines[at + 1 :]


def _shift(lines: Lines, chance: Chance) -> None:
    at = chance.randrange(len(lines))
    lines[at] = " " * chance.randrange(1, 4) + lines[at]


def _new_value(lines: Lines, chance: Chance) -> None:
    at = chance.randrange(len(lines))
    value = chance.choice(["", "true", "-1", "1e9", "none", "[]", "{}", "'x'", "2026-01-02", "5 F"])
    lines[at] = lines[at].split(": ")[0] + ": " + value


def _replace_one(lines: Lines, chance: Chance, new: str) -> None:
    at = chance.randrange(len(lines))
    cut = chance.randrange(len(lines[at]) + 1)
    lines[at] = lines[at][:cut] + new + lines[at][cut + 1 :]


_DAMAGES: list[Callable[[Lines, Chance], None]] = [
    _delete,
    _double,
    _swap,
    _flip,
    _odd,
    _cut_off,
    _shift,
    _new_value,
]


def _damaged(seed: int) -> str:
    """greenkeeper.yaml, its comments mostly left out, with one to four damages."""
    chance = Chance(seed)
    lines = shipped.all_switched_on().splitlines()
    lines = [line for line in lines if line.strip() and not line.lstrip().startswith("# ")]
    for _ in range(chance.randrange(1, 5)):
        chance.choice(_DAMAGES)(lines, chance)
    return "\n".join(lines)


def _outcome(text: str) -> Settings | SettingsError:
    try:
        return load.parse(text, FILE)
    except SettingsError as error:
        return error


def _assert_told_plainly(error: SettingsError, text: str) -> None:
    lines = len(text.splitlines()) + 1
    assert error.faults
    for fault in error.faults:
        told = str(fault)
        assert 0 <= fault.line <= lines
        assert told.count("\n") <= 1
        assert max(map(len, told.split("\n"))) < 320
        assert not _NOT_OURS.search(fault.sentence + fault.hint), told
        assert told.replace("\n", "").isprintable(), told


@pytest.mark.parametrize("batch", range(BATCHES))
def test_a_damaged_file_loads_or_is_refused_in_our_own_words(batch: int) -> None:
    for number in range(DAMAGED_PER_BATCH):
        text = _damaged(batch * DAMAGED_PER_BATCH + number)
        outcome = _outcome(text)
        if isinstance(outcome, SettingsError):
            _assert_told_plainly(outcome, text)
        else:
            assert Draft202012Validator(SCHEMA).is_valid(read(text, FILE).data), text


def test_the_damages_damage() -> None:
    """Most of them at least: a mutation that changes nothing would test nothing."""
    outcomes = [_outcome(_damaged(seed)) for seed in range(40)]
    refused = [outcome for outcome in outcomes if isinstance(outcome, SettingsError)]
    assert len(refused) >= 30


_WORDS = st.sampled_from(
    [*SOUND.split(), "\n", "\n  ", "\n    ", ": ", "- ", "{", "}", "[", "]", ", ", "'", '"', *_ODD]
)


@given(st.lists(_WORDS, max_size=60).map("".join) | st.text(max_size=80))
@settings(max_examples=300, deadline=None)
def test_any_text_at_all_loads_or_is_refused(text: str) -> None:
    outcome = _outcome(text)
    if isinstance(outcome, SettingsError):
        _assert_told_plainly(outcome, text)


_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(section=st.sampled_from(list(Settings.model_fields)), value=_VALUES)
@settings(max_examples=200, deadline=None)
def test_any_value_in_any_section_loads_or_is_refused(section: str, value: object) -> None:
    lines = [line for line in SOUND.splitlines() if not line.startswith((" ", f"{section}:"))]
    text = "\n".join([f"{section}: {json.dumps(value)}", *lines])
    outcome = _outcome(text)
    if isinstance(outcome, SettingsError):
        _assert_told_plainly(outcome, text)
