"""The outlooks that were made, kept until they can be held against what came.

Lives here: one file of JSON lines in the state folder, one for each outlook of each zone
(those made together lie together, the house's own air first), replaced as a whole.
`greenkeeper tonight --keep` alone writes it; the keeper reads the newest, to show it and to
raise its alarm. Does not live here: making them (reports/outlook.py), judging
them (reports/outlook_score.py), showing them (broker/outlook.py).
"""

import json
import math
import re
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from greenkeeper import files
from greenkeeper.clock import Clock
from greenkeeper.model import Condition

FILE_NAME = "outlooks.jsonl"
MOST = 1600  # two years of two a day in two zones
_MOST_BYTES = 2_000_000
LOOK_EVERY_S = 60.0
_LAST_BYTES = 65_536  # more than what is made at once: some 500 for each zone
_WORDS = ("zone", "source", "advice", "due")
# Less than this is the same outlook once more. Common practice, no source.
_NEWS_K, _NEWS_SHARE, _NEWS_KWH = 0.5, 0.2, 0.2
_SAME_NIGHT_S = 6 * 3600.0
_FIGURES = re.compile(r"[\d.:\N{MINUS SIGN}]+")


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
    outdoor_low_utc_s: float
    cold_low_c: float  # without heat
    kwh: float
    advice: str  # one sentence
    grave: bool  # plants will fall below their minimum whatever the heater does
    due: str = ""  # what is to be hung, laid or taken down by the season, in words
    corrected_k: float = 0.0  # in the outdoor low and its band: what its source always misses


def read(file: Path) -> list[Said]:
    """Oldest first. A line that makes no sense is left out: it only teaches less."""
    try:
        with file.open("rb") as source:
            raw = source.read(_MOST_BYTES)
    except OSError:
        return []
    found = [_said(line) for line in raw.splitlines()]
    return [each for each in found if each is not None]


def _newest(file: Path) -> tuple[Said, ...] | None:
    """Those made last, without reading all before them: the keeper's loop asks."""
    try:
        with file.open("rb") as source:
            source.seek(max(0, file.stat().st_size - _LAST_BYTES))
            lines = source.read(_LAST_BYTES).splitlines()
    except OSError:
        return None
    found: list[Said] = []
    for line in reversed(lines):
        said = _said(line)
        if said is None or (found and said.made_utc_s != found[0].made_utc_s):
            break
        if said.zone in {each.zone for each in found}:
            break
        found.insert(0, said)
    return tuple(found) or None


def standing(file: Path, now_utc_s: float) -> tuple[Said, ...]:
    """Those made last, of every zone, while their night lasts. Raises nothing."""
    return _lasting(_newest(file), now_utc_s)


def _lasting(said: tuple[Said, ...] | None, now_utc_s: float) -> tuple[Said, ...]:
    return tuple(each for each in said or () if each.made_utc_s <= now_utc_s < each.until_utc_s)


def is_news(said: Sequence[Said], before: Sequence[Said]) -> bool:
    """Whether those made now say more than those made before: of another night, of another
    source, another advice but for its figures, or figures that moved."""
    known = {each.zone: each for each in before}
    return {each.zone for each in said} != known.keys() or any(
        _is_news(each, known[each.zone]) for each in said
    )


def _is_news(now: Said, then: Said) -> bool:
    lows = (
        (now.outdoor_low_c, then.outdoor_low_c),
        (now.inside_low_c, then.inside_low_c),
        (now.cold_low_c, then.cold_low_c),
    )
    moved_kwh = abs(now.kwh - then.kwh)
    return (
        abs(now.until_utc_s - then.until_utc_s) > _SAME_NIGHT_S
        or (now.source, now.grave, now.due) != (then.source, then.grave, then.due)
        or _FIGURES.sub("", now.advice) != _FIGURES.sub("", then.advice)
        or any(abs(one - other) >= _NEWS_K for one, other in lows)
        or moved_kwh >= max(_NEWS_KWH, _NEWS_SHARE * then.kwh)
    )


def add(file: Path, *said: Said) -> None:
    """Those made together, at once. Raises OSError, the old file untouched."""
    kept = [*read(file), *said][-MOST:]
    lines = [json.dumps(each._asdict(), allow_nan=False) for each in kept]
    files.replace(file, "\n".join(lines) + "\n", durable=True)


class Newest:
    """The newest outlook, for as long as its night lasts: for the broker, and as an alarm.

    For one thread.
    """

    def __init__(self, file: Path, clock: Clock) -> None:
        self._clock = clock
        self._watched = files.Watched(file, _newest, LOOK_EVERY_S)

    def all(self) -> tuple[Said, ...]:
        """Of every zone, the house's own air first. Raises nothing."""
        now = self._clock.now()
        said = self._watched.at(now.mono_s)
        return _lasting(said, now.utc_s) if now.clock_trusted else ()

    def said(self) -> Said | None:
        """Of the zone that is in danger, else of the house's own air. Raises nothing."""
        said = self.all()
        return next((each for each in said if each.grave), next(iter(said), None))

    def conditions(self) -> tuple[Condition, ...]:
        """Raises nothing."""
        said = self.all()
        found = [Condition("cold-ahead", each.zone, each.advice) for each in said if each.grave]
        found += [Condition("cover-due", "covers", each.due) for each in said if each.due]
        return tuple(found)


def _said(line: bytes) -> Said | None:
    try:
        found = Said(**json.loads(line))
    except (ValueError, TypeError, RecursionError):
        return None
    words = (found.zone, found.source, found.advice, found.due)
    if not all(isinstance(each, str) for each in words) or not isinstance(found.grave, bool):
        return None
    numbers = (
        value for name, value in found._asdict().items() if name not in _WORDS and name != "grave"
    )
    sound = all(
        isinstance(each, int | float) and not isinstance(each, bool) and math.isfinite(each)
        for each in numbers
    )
    return found if sound else None
