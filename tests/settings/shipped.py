"""The settings files that come with the program, and the big one with every key on."""

import re
from pathlib import Path

FOLDER = Path(__file__).parents[2] / "config"
FILES = sorted(FOLDER.glob("*.yaml"))

# A key that is switched off has its # straight before it; prose has a space between.
_SWITCHED_OFF = re.compile(r"^( *)#(?=[a-z])", re.MULTILINE)


def text(name: str) -> str:
    return (FOLDER / name).read_text(encoding="utf-8")


def all_switched_on() -> str:
    """greenkeeper.yaml with every key in force; lines and columns of the rest as they are."""
    return _SWITCHED_OFF.sub(r"\1", text("greenkeeper.yaml"))
