"""What a pin stands at, what pulls at it, and how its board is reached: words of all rooms.

Lives here: these words and nothing else. They are not among the settings' types, because
whoever drives a relay off after the keeper was killed must not wait for all of those first.
"""

from enum import StrEnum
from typing import Literal, NamedTuple, get_args

CHIP_PATTERN = r"^(auto|/dev/\S+)$"

Backend = Literal["auto", "lgpio", "gpiod", "mock"]
BACKENDS: tuple[Backend, ...] = get_args(Backend)
Pull = Literal["up", "down", "none"]


class Level(StrEnum):
    HIGH = "high"
    LOW = "low"


class Board(NamedTuple):
    """By which library, and through which chip: `gpio:` of the settings."""

    backend: Backend = "auto"
    chip: str = "auto"
