"""What the outlooks were worth: each held against the night that came.

Lives here: what came, from the journal, and the misses. Does not live here: keeping what
was said (outlook_file.py), layout (outlook_sheet.py).

A low is the lowest minute of the journal between the making of the outlook and an hour
after sunrise: the night's minimum, not that of a day of the weather services, which runs
from a fixed hour to a fixed hour.
"""

import math
from collections.abc import Sequence
from statistics import fmean
from typing import NamedTuple

from greenkeeper.journal.reader import Journal
from greenkeeper.outlook_file import Said
from greenkeeper.settings.schema import Settings

LATELY = 30  # so many are shown and teach the band


class Scored(NamedTuple):
    said: Said
    outdoor_c: float | None  # what came. None: not measured
    inside_c: float | None

    @property
    def outdoor_miss_k(self) -> float | None:
        """What came, less what was said."""
        return None if self.outdoor_c is None else self.outdoor_c - self.said.outdoor_low_c

    @property
    def inside_miss_k(self) -> float | None:
        return None if self.inside_c is None else self.inside_c - self.said.inside_low_c


class Worth(NamedTuple):
    nights: int
    bias_k: float  # above zero: it came warmer than said
    error_k: float  # mean of the absolute misses
    within: float | None  # share of them inside their band


def scored(
    journal: Journal, settings: Settings, said: Sequence[Said], now_utc_s: float
) -> list[Scored]:
    """Those whose night is over, oldest first, LATELY at the most of each source and zone."""
    over = [each for each in said if each.until_utc_s <= now_utc_s]
    taken: list[Said] = []
    for key in dict.fromkeys((each.source, each.zone) for each in over):
        taken += [each for each in over if (each.source, each.zone) == key][-LATELY:]
    return [
        _scored(journal, settings, each) for each in sorted(taken, key=lambda each: each.made_utc_s)
    ]


def _scored(journal: Journal, settings: Settings, said: Said) -> Scored:
    lows = journal.lows(said.made_utc_s, said.until_utc_s)
    outdoor = settings.site.outdoor_probe
    zone = settings.zones.get(said.zone)
    inside = [lows[name].temp_c for name in (zone.probes if zone else ()) if name in lows]
    return Scored(
        said,
        lows[outdoor].temp_c if outdoor in lows else None,
        min(inside, default=None),
    )


def outdoors(found: Sequence[Scored]) -> Worth | None:
    """None: none was measured."""
    judged = [each for each in _made_once(found) if each.outdoor_c is not None]
    misses = [each.outdoor_miss_k for each in judged if each.outdoor_miss_k is not None]
    if not misses:
        return None
    within = [
        each.said.least_c <= each.outdoor_c <= each.said.most_c
        for each in judged
        if each.outdoor_c is not None
    ]
    return Worth(len(misses), fmean(misses), fmean(map(abs, misses)), sum(within) / len(within))


def _made_once(found: Sequence[Scored]) -> list[Scored]:
    """Outdoors is the same for all zones: each outlook counts once."""
    return list({each.said.made_utc_s: each for each in found}.values())


def inside(found: Sequence[Scored]) -> Worth | None:
    misses = [each.inside_miss_k for each in found if each.inside_miss_k is not None]
    if not misses:
        return None
    return Worth(len(misses), fmean(misses), fmean(map(abs, misses)), None)


def inside_misses_k(found: Sequence[Scored], source: str, zone: str) -> list[float]:
    """Of one source in one zone, oldest first."""
    return [
        miss
        for each in found
        if (each.said.source, each.said.zone) == (source, zone)
        and (miss := each.inside_miss_k) is not None
    ]


def misses_k(found: Sequence[Scored], source: str) -> list[float]:
    """Of one source outdoors, as it said it by itself, oldest first."""
    return [
        miss + each.said.corrected_k
        for each in _made_once(found)
        if each.said.source == source
        and (miss := each.outdoor_miss_k) is not None
        and math.isfinite(miss)
    ]
