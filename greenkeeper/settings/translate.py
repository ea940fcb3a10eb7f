"""pydantic's errors into faults with a place: one for each slip, however often it shows.

Lives here: which key of the file an error is about, and which errors only repeat
another one. Does not live here: the sentences (wording.py).
"""

from collections.abc import Iterator
from typing import Any, NamedTuple

from pydantic_core import ErrorDetails

from greenkeeper.settings import wording
from greenkeeper.settings.basics import ID_PATTERN
from greenkeeper.settings.faults import NOTHING, Path, Place, SettingsFault, key_text
from greenkeeper.settings.guesses import nearest
from greenkeeper.settings.keys import ROOT, Kind, inside, key_at, members
from greenkeeper.settings.yamlnodes import Document

_LONGEST_LIST = 220  # of the keys a group may have: a longer line nobody reads

_OWN_NAME = "[key]"  # how pydantic ends the path of an error about a dict's key


class Slip(NamedTuple):
    """One error of pydantic's, its path being one in the file."""

    path: Path
    type: str
    value: Any
    of_name: bool = False  # about a name the owner chose, not about what stands under it

    @property
    def unknown(self) -> bool:
        return self.type == "extra_forbidden"

    @property
    def missing(self) -> bool:
        return self.type in ("missing", "union_tag_not_found")


def slips(errors: list[ErrorDetails], data: Any) -> list[Slip]:
    """pydantic's errors with the file's paths, in its order."""
    return [_slip(error, data) for error in errors]


def _slip(error: ErrorDetails, data: Any) -> Slip:
    path = _file_path(error["loc"], data)
    if _is_of_name(path, error["type"], data):
        return Slip(path[:-1], error["type"], path[-2], of_name=True)
    if error["type"] in ("union_tag_not_found", "union_tag_invalid"):
        path = (*path, "kind")
    # What the file holds, not error["input"]: that may be converted already.
    return Slip(path, error["type"], inside(path, data))


def _file_path(loc: tuple[str | int, ...], data: Any) -> Path:
    """pydantic's path without the kinds it puts in where a kind decides."""
    path: Path = ()
    kind_follows = False
    for part in loc:
        if kind_follows and part != _OWN_NAME:
            kind_follows = False
            continue
        path = (*path, part)
        key = key_at(path, data)
        kind_follows = key is not None and len(key.models) > 1
    return path


def _is_of_name(path: Path, error_type: str, data: Any) -> bool:
    if len(path) < 2 or path[-1] != _OWN_NAME or error_type == "extra_forbidden":
        return False
    group = key_at(path[:-2], data)
    return group is not None and group.kind is Kind.NAMED


class Translation:
    """All of one file's slips, told as faults."""

    def __init__(self, found: list[Slip], document: Document, file: str) -> None:
        self._slips = found
        self._document = document
        self._file = file
        # Unknown keys, each with the known one it most likely stands for.
        self._near = {
            slip.path: nearest(str(slip.path[-1]), self._known_beside(slip.path))
            for slip in found
            if slip.unknown
        }
        self._meant = {(*path[:-1], near) for path, near in self._near.items() if near}
        self._above = {slip.path[:depth] for slip in found for depth in range(len(slip.path))}

    def faults(self) -> Iterator[SettingsFault]:
        return (self._fault(slip) for slip in self._slips if not self._repeats(slip))

    def doubtful(self) -> Iterator[Path]:
        """Paths whose content is wrong, or was perhaps written under another key."""
        yield from (slip.path for slip in self._slips)
        yield from self._meant

    def _known_beside(self, path: Path) -> list[str]:
        group = key_at(path[:-1], self._document.data) or ROOT
        return list(members(group, inside(path[:-1], self._document.data)))

    def _repeats(self, slip: Slip) -> bool:
        unusable = self._document.unusable
        if any(slip.path[:depth] in unusable for depth in range(len(slip.path) + 1)):
            return True
        if slip.missing:
            return slip.path in self._meant or slip.path[:-1] in self._document.doubtful
        return slip.type == "too_short" and slip.path in self._above

    def _fault(self, slip: Slip) -> SettingsFault:
        return SettingsFault(
            self._file,
            *self._place(slip),
            key_text(slip.path, self._document.data),
            *self._words(slip),
        )

    def _place(self, slip: Slip) -> Place:
        places = self._document.places
        if slip.missing:
            return places.of_group(slip.path[:-1])
        if slip.of_name or slip.unknown:
            return places.of_key(slip.path)
        return places.of_value(slip.path)

    def _words(self, slip: Slip) -> tuple[str, str, str]:
        if slip.of_name:
            return wording.shown_name(slip.value), wording.PATTERN_WORDS[ID_PATTERN], ""
        if slip.unknown:
            return ("an unknown key", *self._unknown_words(slip))
        key = key_at(slip.path, self._document.data) or ROOT
        if slip.missing:
            return NOTHING, wording.allowed(key), ""
        return wording.found(key, slip.value), wording.allowed(key), wording.hint(key, slip.value)

    def _unknown_words(self, slip: Slip) -> tuple[str, str]:
        near = self._near[slip.path]
        if near:
            return f"{near} (the nearest known key)", ""
        known = ", ".join(self._known_beside(slip.path))
        if len(known) > _LONGEST_LIST:
            known = known[:_LONGEST_LIST].rpartition(", ")[0] + ", …"
        return known, wording.stray_hint(str(slip.path[-1]))
