"""The outlooks that were made, kept until they can be held against what came.

Lives here: one file of JSON lines in the state folder, one for each outlook, replaced as a
whole. `greenkeeper tonight --keep` alone writes it. Does not live here: making them
(reports/outlook.py), judging them (reports/outlook_score.py).
"""

import json
import math
from pathlib import Path
from typing import NamedTuple

from greenkeeper import files

FILE_NAME = "outlooks.jsonl"
MOST = 800  # two years of two a day
_MOST_BYTES = 1_000_000


class Said(NamedTuple):
    """What is needed to judge it."""

    made_utc_s: float
    until_utc_s: float
    zone: str
    source: str  # of the outdoor course: "evening", "nights"
    outdoor_low_c: float
    least_c: float  # the band of the outdoor low
    most_c: float
    inside_low_c: float  # as it stood: with the heater, if there is one


def read(file: Path) -> list[Said]:
    """Oldest first. A line that makes no sense is left out: it only teaches less."""
    try:
        with file.open("rb") as source:
            raw = source.read(_MOST_BYTES)
    except OSError:
        return []
    found = [_said(line) for line in raw.splitlines()]
    return [each for each in found if each is not None]


def add(file: Path, said: Said) -> None:
    """Raises OSError, the old file untouched."""
    kept = [*read(file), said][-MOST:]
    lines = [json.dumps(each._asdict(), allow_nan=False) for each in kept]
    files.replace(file, "\n".join(lines) + "\n", durable=True)


def _said(line: bytes) -> Said | None:
    try:
        found = Said(**json.loads(line))
    except (ValueError, TypeError, RecursionError):
        return None
    numbers = (each for each in found if not isinstance(each, str))
    if not isinstance(found.zone, str) or not isinstance(found.source, str):
        return None
    sound = all(
        isinstance(each, int | float) and not isinstance(each, bool) and math.isfinite(each)
        for each in numbers
    )
    return found if sound else None
