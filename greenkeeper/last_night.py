"""The last night in a few figures, for those who show it: the noun, and its file.

Lives here: one JSON file in the state folder, replaced as a whole. `greenkeeper lastnight
--keep` alone writes it, the keeper reads it for the broker. Does not live here: working it
out (reports/night.py), showing it (broker/last_night.py).
"""

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from greenkeeper import files

FILE_NAME = "last-night.json"
MOST_BYTES = 100_000  # some hundred times what it comes to: no more is read
LOOK_EVERY_S = 60.0


class LastNight(NamedTuple):
    """None where nothing is known, or no power or tariff is stated."""

    evening: str  # the night's date, ISO 8601
    to_utc_s: float  # until when it was looked at
    summary: str  # whether the plants were kept, in words
    outdoor_low_c: float | None
    lows_c: Mapping[str, float | None]  # by zone
    heated_s: float | None  # all heaters together
    kwh: float | None
    cost: float | None  # in the currency of the settings


def write(file: Path, night: LastNight) -> None:
    """Raises OSError, the old file untouched."""
    files.replace(file, json.dumps(night._asdict(), allow_nan=False) + "\n", durable=True)


def read(file: Path) -> LastNight | None:
    """None where there is none, or what is there makes no sense: it is only shown."""
    try:
        with file.open("rb") as source:
            found = json.loads(source.read(MOST_BYTES))
        return _checked(LastNight(**found))
    except (OSError, ValueError, TypeError, RecursionError):
        return None


def _checked(night: LastNight) -> LastNight:
    """Raises ValueError for what no night could be."""
    words = (night.evening, night.summary)
    maybe = (night.outdoor_low_c, night.heated_s, night.kwh, night.cost)
    if not isinstance(night.lows_c, dict) or not all(isinstance(each, str) for each in words):
        raise ValueError("not a night")
    if not _is_number(night.to_utc_s):
        raise ValueError("no time")
    if not all(each is None or _is_number(each) for each in (*maybe, *night.lows_c.values())):
        raise ValueError("not a number")
    return night


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def newest(file: Path) -> files.Watched[LastNight]:
    """The night as it is kept by now, for the broker's thread."""
    return files.Watched(file, read, LOOK_EVERY_S)
