"""The files in config/ load, and greenkeeper.yaml documents every key as it truly is.

The convention: the comment above a key ends with a note in square brackets, on one line or
more, which says what the key may hold and whether it is required, optional or has a default:
    # Why one would change it.
    # [1 to 60 (seconds); default 10]
    #poll_s: 10
Groups need a comment, and no such note.
"""

from pathlib import Path

import pytest

from greenkeeper.settings import load
from greenkeeper.settings.faults import Path as KeyPath
from greenkeeper.settings.keys import ROOT, Key, Kind, inside, key_at, walk
from greenkeeper.settings.sensors import ModelledProbe
from greenkeeper.settings.switches import GpioOutput, ModelledOutput
from greenkeeper.settings.wording import allowed, default_text
from greenkeeper.settings.yamlnodes import read
from tests.settings import shipped

_GROUPS = (Kind.GROUP, Kind.NAMED)


@pytest.mark.parametrize("file", shipped.FILES, ids=lambda file: file.name)
def test_a_shipped_file_is_sound(file: Path) -> None:
    load.load(file)


def test_there_are_the_three_that_the_documents_promise() -> None:
    names = {file.name for file in shipped.FILES}
    assert {"greenkeeper.yaml", "small.yaml", "demo.yaml"} <= names


def test_the_big_one_is_sound_with_every_key_switched_on() -> None:
    loaded = load.parse_placed(shipped.all_switched_on(), "greenkeeper.yaml")
    assert loaded.settings.broker is not None
    assert loaded.settings.broker.tls is not None


def test_the_big_one_gives_no_remark() -> None:
    assert load.load_placed(shipped.FOLDER / "greenkeeper.yaml").remarks() == ()


def test_the_demo_is_all_modelled_and_says_that_it_is_invented() -> None:
    demo = load.load(shipped.FOLDER / "demo.yaml")
    assert all(isinstance(probe, ModelledProbe) for probe in demo.probes.values())
    assert all(isinstance(output, ModelledOutput) for output in demo.outputs.values())
    assert "INVENTED" in shipped.text("demo.yaml")
    assert (demo.folders.state, demo.folders.runtime) == (None, None)


def test_the_small_one_has_one_of_each() -> None:
    small = load.load(shipped.FOLDER / "small.yaml")
    assert (len(small.probes), len(small.outputs), len(small.zones)) == (1, 1, 1)
    assert isinstance(small.outputs["heater"], GpioOutput)


# --- every key, as it truly is -------------------------------------------------------


def _schema_keys() -> dict[tuple[str, ...], Key]:
    """Every key by its path without kinds, which share what they have in common."""
    return {tuple(part for part in path if part[0] != "<"): key for path, key in walk()}


def _without_names(path: KeyPath, data: object) -> tuple[str, ...]:
    """A path of the file with "*" for the owner's names and for items of lists."""
    parts = []
    for depth, part in enumerate(path):
        around = key_at(path[:depth], data) or ROOT
        parts.append("*" if around.item is not None else str(part))
    return tuple(parts)


def _note(key: Key) -> str:
    default = default_text(key)
    rest = "required" if key.required else f"default {default}" if default else "optional"
    return f"[{allowed(key)}; {rest}]"


def _note_above(lines: list[str]) -> str:
    """The note a comment ends with, its lines joined; empty when it ends with none."""
    starts = [number for number, line in enumerate(lines) if line.startswith("# [")]
    return " ".join(line.removeprefix("# ") for line in lines[starts[-1] :]) if starts else ""


def _comments() -> dict[tuple[str, ...], list[str]]:
    """The comment lines straight above each key's first appearance in greenkeeper.yaml."""
    document = read(shipped.all_switched_on(), "greenkeeper.yaml")
    lines = shipped.text("greenkeeper.yaml").splitlines()
    found: dict[tuple[str, ...], list[str]] = {}
    for path, place in document.places.keys.items():
        above: list[str] = []
        for line in reversed(lines[: place.line - 1]):
            if not line.lstrip().startswith("# "):
                break
            above.insert(0, line.strip())
        found.setdefault(_without_names(path, document.data), above)
    return found


_COMMENTS = _comments()


@pytest.mark.parametrize(
    "path",
    [path for path in _schema_keys() if path[-1] != "*"],
    ids=lambda path: ".".join(path),
)
def test_every_key_is_documented_as_it_is(path: tuple[str, ...]) -> None:
    key = _schema_keys()[path]
    assert path in _COMMENTS, "the key does not appear at all"
    if key.kind in _GROUPS or path == ("plants",):
        assert _COMMENTS[path], "a group needs a word on what it is for"
    else:
        assert _COMMENTS[path], "no comment straight above it"
        assert _note_above(_COMMENTS[path]) == _note(key)


def test_kinds_agree_on_the_keys_they_share() -> None:
    """Or one comment could not serve them all."""
    notes: dict[tuple[str, ...], set[str]] = {}
    for path, key in walk():
        plain = tuple(part for part in path if part[0] != "<")
        notes.setdefault(plain, set()).add(_note(key))
    assert [path for path, said in notes.items() if len(said) > 1] == []


def test_a_switched_off_key_with_a_default_shows_that_default() -> None:
    document = read(shipped.all_switched_on(), "greenkeeper.yaml")
    off = shipped.text("greenkeeper.yaml").splitlines()
    wrong = []
    for path, place in document.places.keys.items():
        key = key_at(path, document.data)
        if key is None or not off[place.line - 1].lstrip().startswith("#"):
            continue
        if default_text(key) and inside(path, document.data) != key.default:
            wrong.append(path)
    # An encrypted port is what the example shows, because tls is shown beside it; and what is
    # reported over the broker has to say how old it may get.
    assert wrong == [
        ("probes", "cold-frame", "stale_s"),
        ("hygrometers", "cold-frame-damp", "stale_s"),
        ("broker", "port"),
    ]


def test_a_false_note_would_be_found() -> None:
    """The test above is only worth something if the schema's change breaks it."""
    key = _schema_keys()[("poll_s",)]
    assert _note_above(_COMMENTS[("poll_s",)]) == _note(key)
    for change in (
        {"highest": 61.0},
        {"lowest": 2.0},
        {"default": 11.0},
        {"lowest_excluded": True},
    ):
        assert _note_above(_COMMENTS[("poll_s",)]) != _note(key._replace(**change))
