"""A settings file into checked Settings, or into everything that is wrong with it.

Lives here: reading the file, and the order of the checks. Does not live here: YAML
(yamlnodes.py), single keys (translate.py, wording.py), several keys (rules.py).
"""

import re
from collections.abc import Iterable
from copy import deepcopy
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import ValidationError

from greenkeeper.settings import rules, yamlnodes
from greenkeeper.settings.checks.names import Names
from greenkeeper.settings.faults import (
    WHOLE_FILE,
    Place,
    Places,
    SettingsError,
    SettingsFault,
    plain,
    shown,
)
from greenkeeper.settings.guesses import either
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.yamlnodes import Document

__all__ = [
    "Loaded",
    "SettingsError",
    "SettingsFault",
    "load",
    "load_placed",
    "parse",
    "parse_placed",
    "with_value",
]

MOST_BYTES = 1 << 20

# Groups of things that bear names of the owner's: a sweep does not make another one up.
_NAMED = ("probes", "hygrometers", "inputs", "outputs", "zones")

# Longest first: the mark of UTF-32 begins like that of UTF-16.
_BYTE_ORDER_MARKS = (
    (b"\xff\xfe\0\0", "UTF-32"),
    (b"\0\0\xfe\xff", "UTF-32"),
    (b"\xef\xbb\xbf", "UTF-8"),
    (b"\xff\xfe", "UTF-16"),
    (b"\xfe\xff", "UTF-16"),
)


class Loaded(NamedTuple):
    """Settings, and where each of their keys stands in the file."""

    settings: Settings
    places: Places
    file: str

    def remarks(self) -> tuple[SettingsFault, ...]:
        return rules.remarks(self.settings, self.places, self.file)


def load(path: Path) -> Settings:
    """The settings in this file. Raises SettingsError, with all faults at once."""
    return load_placed(path).settings


def load_placed(path: Path) -> Loaded:
    """As load, with the places that remarks need. Raises SettingsError."""
    file = str(path).encode("utf-8", "backslashreplace").decode("utf-8")
    return parse_placed(_decoded(_content(path, file), file), file)


def parse(text: str, name: str) -> Settings:
    """The settings in this text; `name` stands for the file. Raises SettingsError."""
    return parse_placed(text, name).settings


def parse_placed(text: str, file: str) -> Loaded:
    """As parse, with the places that remarks need. Raises SettingsError."""
    document = yamlnodes.read(text, file)
    if not document.whole or () in document.unusable:
        raise SettingsError(document.faults)
    if document.data is None and not document.faults:
        raise _whole_file(file, "an empty file", "site, probes and zones at least")
    if not isinstance(document.data, dict):
        raise SettingsError([*document.faults, _no_group(document.data, file)])
    settings, faults = _checked(document.data, document, file)
    if settings is None or faults:
        raise SettingsError(faults)
    return Loaded(settings, document.places, file)


def with_value(path: Path, key: str, text: str) -> Settings:
    """The settings in this file with one key changed: what a sweep tries.

    key: as faults write it, `zones.bench.heat.hysteresis_k` or `plants[lemon].min_c`. text:
    the value as a file would have it. Raises SettingsError, as for a file that had it.
    """
    file = str(path).encode("utf-8", "backslashreplace").decode("utf-8")
    document = yamlnodes.read(_decoded(_content(path, file), file), file)
    value = yamlnodes.read(f"value: {text}", f"{key}={plain(text)}")
    if document.faults or value.faults or not isinstance(document.data, dict):
        raise SettingsError([*document.faults, *value.faults])
    data = deepcopy(document.data)
    _put(data, key, value.data["value"], file)
    settings, faults = _checked(data, document, f"{file} (with {key}={plain(text)})")
    if settings is None or faults:
        raise SettingsError(faults)
    return settings


def _put(data: Any, key: str, value: object, file: str) -> None:
    """Set it, in groups and lists that are there; a group left out in the file is begun."""
    parts = re.findall(r"[^.\[\]]+", key)
    for depth, part in enumerate(parts):
        last = depth == len(parts) - 1
        if isinstance(data, list):
            named = [each.get("name") if isinstance(each, dict) else each for each in data]
            if part not in named:
                raise _no_such(part, named, key, file)
            data, where = data[named.index(part)], None
        elif isinstance(data, dict):
            where = part
            if depth == 1 and parts[0] in _NAMED and part not in data:
                raise _no_such(part, data, key, file)
            if not last:
                data = data.setdefault(part, {})
        else:
            raise _whole_file(file, f"no group before '{plain(part)}' in {plain(key)}", "a key")
        if last:
            if where is None:
                raise _whole_file(file, plain(key), "a key of that item, after a dot")
            data[where] = value


def _no_such(part: str, names: Iterable[object], key: str, file: str) -> SettingsError:
    allowed = f"one that is there: {either([str(name) for name in names] or ['none'])}"
    return _whole_file(file, f"no '{plain(part)}' in {plain(key)}", allowed)


def _content(path: Path, file: str) -> bytes:
    try:
        with path.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _whole_file(file, "no such file", "") from None
    except IsADirectoryError:
        raise _whole_file(file, "a folder", "a settings file") from None
    except PermissionError:
        hint = "Give the keeper's user the right to read it."
        raise _whole_file(file, "a file that may not be read", "a readable one", hint) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise _whole_file(file, f"a file that can't be read: {shown(str(error))}", "") from None
    if len(content) > MOST_BYTES:
        raise _whole_file(file, "more than 1 MiB", "a settings file; some kilobytes are usual")
    return content


def _decoded(content: bytes, file: str) -> str:
    for mark, encoding in _BYTE_ORDER_MARKS:
        if content.startswith(mark):
            found = f"a byte-order mark ({encoding})"
            hint = "Save it as UTF-8 without a byte-order mark (BOM)."
            raise _whole_file(file, found, "plain UTF-8", hint)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8")
        line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
        found = f"the byte 0x{content[error.start]:02X}, which is no UTF-8"
        fault = SettingsFault(file, line, column, "", found, "UTF-8", "Save the file as UTF-8.")
        raise SettingsError([fault]) from None


def _whole_file(file: str, found: str, allowed: str, hint: str = "") -> SettingsError:
    return SettingsError([SettingsFault(file, *WHOLE_FILE, "", found, allowed, hint)])


def _no_group(data: Any, file: str) -> SettingsFault:
    return SettingsFault(file, *Place(1, 1), "", shown(data), "keys such as site, probes, zones")


def _checked(
    data: dict[str, Any], document: Document, file: str
) -> tuple[Settings | None, list[SettingsFault]]:
    """The settings if every single key is right, and all faults of every sort."""
    try:
        settings = Settings.model_validate(data)
    except ValidationError as error:
        # Here and not above: sound settings need none of it, and the keeper's memory is small.
        from greenkeeper.settings.draft import drafted
        from greenkeeper.settings.translate import Translation, slips

        found = slips(error.errors(include_url=False), data)
        translation = Translation(found, document, file)
        draft, left_out = drafted(data)
        doubtful = {*left_out, *translation.doubtful(), *document.doubtful}
        crossed = rules.faults(draft, _names(data), document.places, file, doubtful)
        return None, [*document.faults, *translation.faults(), *crossed]
    crossed = rules.faults(settings, _names(data), document.places, file, document.doubtful)
    return settings, [*document.faults, *crossed]


def _names(data: dict[str, Any]) -> Names:
    groups = (data.get(section) for section in Names._fields)
    return Names(*(list(group) if isinstance(group, dict) else () for group in groups))
