"""What can be wrong with a settings file, and where: the values every check here yields.

Lives here: places in a file, the fault with its two short lines, the error that carries
all faults at once, and how a value from the file is shown on one line. Does not live
here: finding faults (yamlnodes.py, load.py, rules.py) or wording them (wording.py).
"""

from collections.abc import Iterable
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError

# From the root of the file: keys as they are written, indexes of lists from 0.
Path = tuple[str | int, ...]

NOTHING = "nothing"
_SHOWN_LENGTH = 40


class Place(NamedTuple):
    """Line and column as an editor counts them, from 1. Line 0: the file as a whole."""

    line: int
    column: int


WHOLE_FILE = Place(0, 0)


class Places(NamedTuple):
    """Where each key and each value of a file stands."""

    keys: dict[Path, Place]
    values: dict[Path, Place]

    def of_key(self, path: Path) -> Place:
        """The key's own place, or that of the nearest group around it."""
        while path and path not in self.keys:
            path = path[:-1]
        return self.keys.get(path) or Place(1, 1)

    def of_group(self, path: Path) -> Place:
        """A group's name; in a list, where nothing has a name, its first word."""
        return self.of_value(path) if path and isinstance(path[-1], int) else self.of_key(path)

    def of_setting(self, path: Path) -> Place:
        """A value on its key's line, or an item of a list; otherwise the key."""
        key, value = self.of_key(path), self.values.get(path)
        in_list = bool(path) and isinstance(path[-1], int)
        return value if value and (in_list or value.line == key.line) else key

    def of_value(self, path: Path) -> Place:
        return self.values.get(path) or self.of_key(path)


class SettingsFault(NamedTuple):
    """One thing wrong, or, with nothing in `allowed`, one thing worth a remark.

    `key` is the path with dots (`zones.bench.heat.setpoint_c`); an item of a list is
    counted from 1 (`zones.bench.probes[2]`), a plant is called by its name
    (`plants[lemon].min_c`). An empty key means the file as a whole.
    """

    file: str
    line: int
    column: int
    key: str
    found: str
    allowed: str
    hint: str = ""

    def __str__(self) -> str:
        place = f":{self.line}:{self.column}" if self.line else ""
        key = f"  {self.key}:" if self.key else ":"
        hint = f"\n    {self.hint}" if self.hint else ""
        return f"{self.file}{place}{key} {self.sentence}{hint}"

    @property
    def sentence(self) -> str:
        if not self.allowed:
            return self.found
        return (
            f"found {self.found}; {'needed' if self.found == NOTHING else 'allowed'} {self.allowed}"
        )


class SettingsError(GreenkeeperError):
    """The settings can't be used. Carries every fault found, in the file's order."""

    def __init__(self, faults: Iterable[SettingsFault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda fault: (fault.line, fault.column)))
        super().__init__("\n".join(map(str, self.faults)))


def shown(value: object) -> str:
    """A value from the file on one short line, as a person would recognise it."""
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a group of keys"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, float):
        return number(value)
    return plain(str(value)) or "an empty text"


def plain(text: str) -> str:
    """Text in which everything can be seen, cut to a length that fits a line."""
    begin = text[: _SHOWN_LENGTH + 1]
    text = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in begin)
    return text if len(text) <= _SHOWN_LENGTH else text[: _SHOWN_LENGTH - 1] + "…"


def number(value: float) -> str:
    """As short as it can be written: 5, not 5.0; a float's last digit is not shown."""
    return f"{value:.10g}"


def key_text(path: Path, data: object = None) -> str:
    """A path as people write it; `data` is the file's content, for the plants' names."""
    text = ""
    for depth, part in enumerate(path):
        if isinstance(part, int):
            text += f"[{_item_name(path[: depth + 1], data) or part + 1}]"
        else:
            text += f"{'.' if text else ''}{plain(part)}"
    return text


def _item_name(path: Path, data: object) -> str | None:
    for part in path:
        try:
            data = data[part]  # type: ignore[index]  # unread YAML: any shape may come
        except (TypeError, KeyError, IndexError):
            return None
    name = data.get("name") if isinstance(data, dict) else None
    return plain(name) if isinstance(name, str) and name else None
