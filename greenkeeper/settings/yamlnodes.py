"""YAML text into plain data, with the place of every key and value.

Lives here: what a bare word means (YAML 1.2's core schema, less its octal, hexadecimal,
infinity and NaN), and refusing what a settings file has no use for: anchors and
aliases, tags, merge keys, keys given twice, several documents. Does not live here: what
the keys mean; schema.py has that.

It walks the parser's events instead of loading with a subclassed loader, because only
the events show a key given twice, and because nothing then nests deeper than allowed.
"""

import re
from typing import Any, NamedTuple, NoReturn

import yaml

from greenkeeper.settings import yamlwords
from greenkeeper.settings.faults import Path, Place, Places, SettingsFault, key_text, plain, shown

MOST_DEEP = 16
MOST_EVENTS = 20_000
LONGEST_TEXT = 1_000

_BOOLEANS = {
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_NULLS = frozenset(("", "~", "null", "Null", "NULL"))
_WHOLE = re.compile(r"[-+]?(0|[1-9][0-9]*)")
_NUMBER = re.compile(r"[-+]?(\.[0-9]+|[0-9]+\.[0-9]*|[0-9]+(?=[eE]))([eE][-+]?[0-9]+)?")
_MOST_DIGITS = 18  # a longer whole number is beyond every range here; int() has limits too
_ODD = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


class Document(NamedTuple):
    """What a text holds. `data` is only meaningful when `whole`: read to its end."""

    data: Any
    places: Places
    faults: tuple[SettingsFault, ...]
    unusable: frozenset[Path]  # values already found faulty: nothing more need be said
    doubtful: frozenset[Path]  # groups that may lack a key, and keys given twice
    whole: bool


class _Unusable:
    """Stands where a value could not be taken, so that lists keep their count."""


UNUSABLE = _Unusable()


class _Stop(Exception):  # noqa: N818  # not an error: the way out once reading is pointless
    pass


def read(text: str, file: str) -> Document:
    """Plain data from YAML text. Raises nothing: what is wrong is among the faults."""
    return _Reader(text, file).document()


def bare(text: str) -> Any:
    """What an unquoted word means: None, a bool, a number, or the text itself."""
    if text in _NULLS:
        return None
    if text in _BOOLEANS:
        return _BOOLEANS[text]
    if _WHOLE.fullmatch(text):
        return int(text) if len(text) <= _MOST_DIGITS else float(text)
    return float(text) if _NUMBER.fullmatch(text) else text


class _Reader:
    def __init__(self, text: str, file: str) -> None:
        self._text = text
        self._file = file
        self._events = iter(yaml.parse(text, Loader=yaml.SafeLoader))
        self._count = 0
        self._reached = Place(1, 1)
        self._places = Places({}, {})
        self._faults: list[SettingsFault] = []
        self._unusable: set[Path] = set()
        self._doubtful: set[Path] = set()

    def document(self) -> Document:
        data: Any = None
        try:
            data = self._only_document()
            whole = True
        except _Stop:
            whole = False
        return Document(
            data,
            self._places,
            tuple(self._faults),
            frozenset(self._unusable),
            frozenset(self._doubtful),
            whole,
        )

    def _only_document(self) -> Any:
        data: Any = None
        self._next()  # the stream starts
        event = self._next()
        if isinstance(event, yaml.DocumentStartEvent):
            data = self._value(self._next(), ())
            self._next()  # the document ends
            event = self._next()
        if not isinstance(event, yaml.StreamEndEvent):
            self._fault(event, (), "a second document", "one, without a line of --- inside")
            self._doubtful.add(())
        return data

    def _next(self) -> Any:
        try:
            event = next(self._events)
        except yaml.YAMLError as error:
            self._syntax_fault(*yamlwords.explained(error, self._text))
        except (ValueError, OverflowError):  # an escape such as "\UFFFFFFFF", or %YAML 1.<endless>
            self._syntax_fault(self._reached, yamlwords.UNREADABLE)
        self._reached = _place(event.end_mark)
        self._count += 1
        if self._count > MOST_EVENTS:
            self._fault(event, (), "too much", f"at most {MOST_EVENTS} keys, values and brackets")
            raise _Stop
        return event

    def _syntax_fault(self, place: Place, words: yamlwords.Words) -> NoReturn:
        self._faults.append(SettingsFault(self._file, *place, "", *words))
        raise _Stop

    def _value(self, event: Any, path: Path) -> Any:
        self._places.values[path] = _place(event.start_mark)
        if len(path) > MOST_DEEP:
            self._fault(event, (), "keys within keys without end", f"at most {MOST_DEEP} levels")
            raise _Stop
        if isinstance(event, yaml.AliasEvent) or not self._undecorated(event, path):
            return self._refused(event, path)
        if isinstance(event, yaml.MappingStartEvent):
            return self._group(path)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._list(path)
        return self._scalar(event, path)

    def _refused(self, event: Any, path: Path) -> _Unusable:
        if isinstance(event, yaml.AliasEvent):
            self._fault(
                event, path, f"*{plain(str(event.anchor))}", "the value itself, written out"
            )
        self._skip(event)
        self._unusable.add(path)
        return UNUSABLE

    def _undecorated(self, event: Any, path: Path) -> bool:
        if event.anchor is not None:
            self._fault(event, path, f"&{plain(event.anchor)}", "the value alone, without a mark")
        elif event.tag is not None:
            self._fault(event, path, f"the tag {plain(event.tag)}", "the value alone")
        else:
            return True
        return False

    def _list(self, path: Path) -> list[Any]:
        items: list[Any] = []
        while not isinstance(event := self._next(), yaml.SequenceEndEvent):
            items.append(self._value(event, (*path, len(items))))
        return items

    def _group(self, path: Path) -> dict[str, Any]:
        group: dict[str, Any] = {}
        while not isinstance(event := self._next(), yaml.MappingEndEvent):
            key = self._key(event, path, group)
            if key is None:
                self._doubtful.add(path)
                self._skip(self._next())
                continue
            self._places.keys[*path, key] = _place(event.start_mark)
            group[key] = self._value(self._next(), (*path, key))
        return group

    def _key(self, event: Any, path: Path, group: dict[str, Any]) -> str | None:
        """The key as it is written, whatever word it is; None when it can't be one."""
        if not isinstance(event, yaml.ScalarEvent):
            self._fault(event, path, "a key that is no plain word", "a word and a colon")
            self._skip(event)
            return None
        if not self._undecorated(event, path):
            return None
        key: str = event.value
        if key in group:
            first = self._places.keys[*path, key].line
            again = f"this key again, first on line {first}"
            self._fault(event, (*path, key), again, "each key once")
            self._doubtful.add((*path, key))
        elif key == "<<" and event.implicit[0]:
            self._fault(event, (*path, key), "a merge key", "the keys themselves, written out")
        elif len(key) > LONGEST_TEXT or _ODD.search(key):
            self._fault(event, path, f"the key {plain(key)}", "a short word of plain letters")
        else:
            return key
        return None

    def _scalar(self, event: yaml.ScalarEvent, path: Path) -> Any:
        text: str = event.value
        if len(text) > LONGEST_TEXT:
            self._fault(event, path, shown(text), f"at most {LONGEST_TEXT} characters")
        elif _ODD.search(text):
            found = "a line break or a control character"
            self._fault(event, path, found, "one line of plain text")
        else:
            return bare(text) if event.implicit[0] else text
        return self._refused(event, path)

    def _skip(self, event: Any) -> None:
        """Pass over a value that is not wanted, however deep it is."""
        depth = 0
        while True:
            if isinstance(event, yaml.CollectionStartEvent):
                depth += 1
            elif isinstance(event, yaml.CollectionEndEvent):
                depth -= 1
            if depth == 0:
                return
            event = self._next()

    def _fault(self, event: Any, path: Path, found: str, allowed: str) -> None:
        place = _place(event.start_mark)
        self._faults.append(SettingsFault(self._file, *place, key_text(path), found, allowed))


def _place(mark: Any) -> Place:
    return Place(mark.line + 1, mark.column + 1)
