"""What the YAML parser stumbled over, in words for a grower.

Lives here: the translation of its error texts, by a part of each that has not changed
between PyYAML 5 and 6, with a plain fallback for the rest. Does not live here: faults
in sound YAML; yamlnodes.py has those.
"""

from typing import Any, NamedTuple

import yaml
from yaml.reader import ReaderError

from greenkeeper.settings.faults import Place, plain


class Words(NamedTuple):
    """The last three fields of a SettingsFault."""

    found: str
    allowed: str
    hint: str = ""


class _Case(NamedTuple):
    """From_opening: the place to show is where the unfinished thing began."""

    part: str
    words: Words
    from_opening: bool = False


UNREADABLE = Words("text that is no YAML", "lines such as key: value")

_LINE_UP = "Line it up with the other keys of its group, with spaces."
_QUOTES = "Put the value in quotes."
_QUOTES_FOR_COLON = "A text that holds ': ' needs quotes."

_CASES = (
    _Case("found character '\\t'", Words("a tab", "spaces, two for each level")),
    _Case(
        "mapping values are not allowed",
        Words(
            "a colon where no key can be",
            "one key: value on a line",
            f"{_LINE_UP} {_QUOTES_FOR_COLON}",
        ),
    ),
    _Case(
        "sequence entries are not allowed",
        Words("a dash where no list can begin", "each - item on a line of its own"),
    ),
    _Case("mapping keys are not allowed", Words("a question mark", "a word and a colon", _QUOTES)),
    _Case(
        "could not find expected ':'",
        Words("a line without a colon", "lines such as key: value"),
        from_opening=True,
    ),
    _Case(
        "found unexpected end of stream",
        Words("a quote that is never closed", "a quote at both ends, on one line"),
        from_opening=True,
    ),
    _Case(
        "expected ',' or ']'",
        Words("a list that is not closed properly", "one such as [bench-left, bench-right]"),
        from_opening=True,
    ),
    _Case(
        "expected ',' or '}'",
        Words("a group that is not closed properly", "one such as {kind: modelled, place: bench}"),
        from_opening=True,
    ),
    _Case(
        "expected <block end>",
        Words(
            "a line that fits no group above it", "the same indentation within a group", _LINE_UP
        ),
    ),
    _Case("expected alphabetic or numeric", Words("a lone * or &", "* and & in quotes only")),
    _Case("escape", Words("a backslash with no meaning here", "backslashes between single quotes")),
    _Case("tag", Words("a tag (a word with !)", "the value alone")),
    _Case("'<document start>'", Words("more text after the end", "one document")),
)


def explained(error: yaml.YAMLError, text: str) -> tuple[Place, Words]:
    """Where and what, for an error met while parsing `text`."""
    if isinstance(error, ReaderError):
        return _odd_character(error, text)
    problem: str = getattr(error, "problem", None) or ""
    case = next((case for case in _CASES if case.part in problem), None)
    if case is not None:
        return _place(error, case.from_opening), case.words
    if "cannot start any token" in problem:
        place = _place(error, False)
        character = _character_at(text, place)
        return place, Words(f"the sign {plain(character)}", "that sign in quotes only", _QUOTES)
    return _place(error, False), UNREADABLE


def _place(error: Any, from_opening: bool) -> Place:
    mark = (error.context_mark if from_opening else None) or error.problem_mark
    return Place(mark.line + 1, mark.column + 1) if mark else Place(1, 1)


def _odd_character(error: Any, text: str) -> tuple[Place, Words]:
    before = text[: error.position]
    line = before.count("\n") + 1
    column = error.position - (before.rfind("\n") + 1) + 1
    name = f"the character U+{ord(text[error.position]):04X}"
    return Place(line, column), Words(name, "text that can be seen", "Delete it.")


def _character_at(text: str, place: Place) -> str:
    lines = text.splitlines()
    line = lines[place.line - 1] if place.line <= len(lines) else ""
    return line[place.column - 1 : place.column]
