"""The schema seen key by key: which keys there are, and what each may hold.

Lives here: reading pydantic's fields once into plain values that messages, the JSON
Schema and the documentation's test share, so that a range is stated in schema.py alone.
Does not live here: the words for it (wording.py).
"""

import math
from collections.abc import Callable, Iterator, Mapping
from enum import StrEnum
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, MaxLen, MinLen
from pydantic import BeforeValidator
from pydantic.fields import FieldInfo

from greenkeeper import units
from greenkeeper.settings.basics import Checked
from greenkeeper.settings.faults import Path
from greenkeeper.settings.schema import Settings


class Kind(StrEnum):
    GROUP = "group"  # keys the schema names
    NAMED = "named"  # keys the owner names
    LIST = "list"
    TEMPERATURE = "temperature"
    DIFFERENCE = "difference"
    NUMBER = "number"
    WHOLE = "whole number"
    YES_NO = "yes or no"
    CHOICE = "choice"
    TEXT = "text"


class Key(NamedTuple):
    """What one key of the file may hold. The bounds mean something for numbers only."""

    name: str
    kind: Kind
    required: bool = False
    default: Any = None
    description: str = ""
    lowest: float = -math.inf
    lowest_excluded: bool = False  # only above the lowest, not the lowest itself
    highest: float = math.inf
    least: int | None = None  # items, or characters
    most: int | None = None
    choices: tuple[str, ...] = ()
    pattern: str | None = None
    # What a group holds; more than one when its `kind` decides, by that kind.
    models: Mapping[str, type[Checked]] = {}
    item: "Key | None" = None  # of a list or of owner-named keys
    names: "Key | None" = None  # what the owner's names must be

    @property
    def is_number(self) -> bool:
        return self.kind in (Kind.TEMPERATURE, Kind.DIFFERENCE, Kind.NUMBER, Kind.WHOLE)


ROOT = Key("", Kind.GROUP, required=True, models={"": Settings})


@cache
def keys_of(model: type[Checked]) -> Mapping[str, Key]:
    """The keys of one group by their names in the file."""
    return {
        field.alias or name: _key(field.alias or name, field)
        for name, field in model.model_fields.items()
    }


def key_at(path: Path, data: Any) -> Key | None:
    """The key that governs this place of a file; None where the schema knows of none.

    `data` is the file's content: the `kind` written in it decides between groups.
    """
    key: Key | None = ROOT
    for part in path:
        if key is None:
            return None
        key = key.item or members(key, data).get(str(part))
        data = inside((part,), data)
    return key


def inside(path: Path, data: Any) -> Any:
    """What a file holds at this place; None where it holds nothing."""
    for part in path:
        if isinstance(data, dict):
            data = data.get(part)
        elif isinstance(data, list) and isinstance(part, int) and part < len(data):
            data = data[part]
        else:
            return None
    return data


def members(key: Key, data: Any) -> Mapping[str, Key]:
    """The keys a group may have, given its content; only `kind` while that is unknown."""
    if len(key.models) == 1:
        return keys_of(*key.models.values())
    kind = data.get("kind") if isinstance(data, dict) else None
    known = keys_of(key.models[kind]) if isinstance(kind, str) and kind in key.models else {}
    return {**known, "kind": _kind_key(key)} if key.models else {}


def walk(key: Key = ROOT, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Key]]:
    """Every key there is, with its path; an owner's name or a list's item is "*".

    Where a kind decides it stands in the path: ("probes", "*", "<onewire>", "rom").
    """
    if path:
        yield path, key
    if key.item is not None:
        yield from walk(key.item, (*path, "*"))
    for kind in key.models:
        within = (*path, f"<{kind}>") if len(key.models) > 1 else path
        for name, member in members(key, {"kind": kind}).items():
            yield from walk(member, (*within, name))


def _kind_key(group: Key) -> Key:
    return Key("kind", Kind.CHOICE, required=True, choices=tuple(group.models))


def _key(name: str, field: FieldInfo) -> Key:
    key = _shape(name, field.annotation, field.metadata)
    return key._replace(
        required=field.is_required(),
        default=None if field.is_required() else field.get_default(call_default_factory=True),
        description=field.description or "",
    )


def _shape(name: str, annotation: Any, notes: list[Any]) -> Key:
    """What an annotation allows, its optional None left out."""
    bare, more = _peeled(annotation)
    notes = [*notes, *more]
    origin = get_origin(bare)
    if origin is dict:
        names, item = (_shape("", arg, []) for arg in get_args(bare))
        key = Key(name, Kind.NAMED, item=item, names=names)
    elif origin is tuple:
        item = _shape("", get_args(bare)[0], [])
        if item.is_number:  # counts in the unit of the list's name, and may not be left empty
            item = item._replace(name=name, required=True)
        key = Key(name, Kind.LIST, item=item)
    elif origin in (Union, UnionType):
        key = Key(name, Kind.GROUP, models={_tag(model): model for model in get_args(bare)})
    elif origin is Literal:
        key = Key(name, Kind.CHOICE, choices=get_args(bare))
    else:
        key = _plain_shape(name, bare, notes)
    return _bounded(key, notes)


def _plain_shape(name: str, bare: type, notes: list[Any]) -> Key:
    if issubclass(bare, Checked):
        return Key(name, Kind.GROUP, models={"": bare})
    if issubclass(bare, StrEnum):
        return Key(name, Kind.CHOICE, choices=tuple(member.value for member in bare))
    befores = [note.func for note in notes if isinstance(note, BeforeValidator)]
    if units.temperature_c in befores:
        return Key(name, Kind.TEMPERATURE)
    if units.difference_k in befores:
        return Key(name, Kind.DIFFERENCE)
    return Key(name, _PLAIN_KINDS[bare])


_PLAIN_KINDS = {bool: Kind.YES_NO, int: Kind.WHOLE, float: Kind.NUMBER, str: Kind.TEXT}


def _tag(model: type[Checked]) -> str:
    tag: str = get_args(model.model_fields["kind"].annotation)[0]
    return tag


def _peeled(annotation: Any) -> tuple[Any, list[Any]]:
    """The annotation without Annotated and without an optional None; what they noted."""
    notes: list[Any] = []
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *more = get_args(annotation)
            for note in more:
                notes += note.metadata if isinstance(note, FieldInfo) else [note]
        elif type(None) in get_args(annotation):
            (annotation,) = (arg for arg in get_args(annotation) if arg is not type(None))
        else:
            return annotation, notes


_BOUNDS: dict[type, Callable[[Any], dict[str, Any]]] = {
    Ge: lambda note: {"lowest": note.ge},
    Gt: lambda note: {"lowest": note.gt, "lowest_excluded": True},
    Le: lambda note: {"highest": note.le},
    MinLen: lambda note: {"least": note.min_length},
    MaxLen: lambda note: {"most": note.max_length},
}


def _bounded(key: Key, notes: list[Any]) -> Key:
    for note in notes:
        if type(note) in _BOUNDS:
            key = key._replace(**_BOUNDS[type(note)](note))
        elif isinstance(pattern := getattr(note, "pattern", None), str):
            key = key._replace(pattern=pattern)
    return key
