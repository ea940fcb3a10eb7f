"""Reading a systemd unit file as systemd does, as far as tests need it.

Lives here: sections, repeated keys and comments (systemd.syntax(7)). Does not live here:
what the keys mean. configparser would not do: it keeps only the last of a repeated key.
"""

from pathlib import Path
from typing import NamedTuple


class Entry(NamedTuple):
    section: str
    key: str
    value: str


class Unit:
    def __init__(self, path: Path) -> None:
        self.entries: list[Entry] = []
        section = ""
        for line in path.read_text(encoding="utf-8").splitlines():
            text = line.strip()
            if text.startswith("[") and text.endswith("]"):
                section = text[1:-1]
            elif text and text[0] not in "#;":
                key, equals, value = text.partition("=")
                if not equals or not section:
                    raise ValueError(f"not a unit file's line: {line!r}")
                self.entries.append(Entry(section, key.strip(), value.strip()))

    def all(self, section: str, key: str) -> list[str]:
        return [each.value for each in self.entries if (each.section, each.key) == (section, key)]

    def one(self, section: str, key: str) -> str:
        """The only value. Raises ValueError when there is none, or more than one."""
        (value,) = self.all(section, key)
        return value

    def words(self, section: str, key: str) -> list[str]:
        return [word for value in self.all(section, key) for word in value.split()]
