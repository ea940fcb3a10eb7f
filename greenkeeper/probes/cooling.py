"""How far a probe is behind the air: its own cooling, once a warm hand has let it go.

Lives here: how far such a cooling has come and its time constant, as pure functions of
samples. Does not live here: reading (survey.py) and words (commands).

What is warmer than the air around it cools as exp(-t/lag) (Newton's law of cooling). A steel
sleeve with its lead is no single lump, and moved air takes heat away sooner: what comes of
it is good to about a fifth (common practice, no source), which is what the thrift bench
reckons with.
"""

import math
from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from greenkeeper.probes.sample import Sample

WARMED_K = 8.0  # above where it began: less is drowned in steps and draughts
GIVE_UP_S = 2400.0
# Of its rise: what is warmer may still be in the hand, what is colder tells little.
_FROM_SHARE, _TO_SHARE = 0.9, 0.25
_FIRST = 3  # readings that say where it began
_FEWEST = 5  # readings of the cooling
_LEAST_S, _MOST_S = 5.0, 1800.0
# Further from a pure cooling, or ending further from where it began, by its rise: something
# touched it, or the air changed.
_ROUGH_SHARE = 0.05
_MOVED_SHARE = 0.2


class Standing(StrEnum):
    COLD = "cold"  # it has not been warmed yet
    WARM = "warm"  # it is in the hand, or just let go
    COOLING = "cooling"
    DONE = "done"
    ROUGH = "rough"  # it came down, but not as something that is left alone
    SILENT = "silent"  # hardly a good reading


class Finding(NamedTuple):
    """How one probe stands. lag_s: None until it is done. share: of the cooling, 0 to 1."""

    standing: Standing
    lag_s: float | None = None
    share: float = 0.0


class _Fit(NamedTuple):
    lag_s: float
    air_c: float
    rough_k: float  # root of the mean square of what is left


def finding(samples: Sequence[Sample]) -> Finding:
    """samples: oldest first, begun before the hand. Lag in seconds."""
    if len(samples) < _FIRST:
        return Finding(Standing.SILENT)
    began_c = sum(each.temp_c for each in samples[:_FIRST]) / _FIRST
    peak_c = max(each.temp_c for each in samples)
    rise_k = peak_c - began_c
    if rise_k < WARMED_K:
        return Finding(Standing.COLD)
    cooling = _cooling(samples, began_c + _FROM_SHARE * rise_k)
    if not cooling:
        return Finding(Standing.WARM)
    fallen = (peak_c - cooling[-1].temp_c) / (rise_k * (1.0 - _TO_SHARE))
    if fallen < 1.0:
        return Finding(Standing.COOLING, share=max(0.0, fallen))
    fitted = _fitted(cooling) if len(cooling) >= _FEWEST else None
    if fitted is None or not _pure(fitted, began_c, rise_k):
        return Finding(Standing.ROUGH, share=1.0)
    return Finding(Standing.DONE, fitted.lag_s, 1.0)


def _cooling(samples: Sequence[Sample], below_c: float) -> list[Sample]:
    """Those after the last that was as warm as in the hand."""
    found: list[Sample] = []
    for sample in reversed(samples):
        if sample.temp_c >= below_c:
            break
        found.append(sample)
    return found[::-1]


def _pure(fitted: _Fit, began_c: float, rise_k: float) -> bool:
    inside = _LEAST_S < fitted.lag_s < _MOST_S
    moved_k = abs(fitted.air_c - began_c)
    return inside and fitted.rough_k <= _ROUGH_SHARE * rise_k and moved_k <= _MOVED_SHARE * rise_k


def _fitted(cooling: Sequence[Sample]) -> _Fit:
    """Least squares in the air's temperature and the height; the lag by golden section."""
    shrink = (math.sqrt(5.0) - 1.0) / 2.0
    low, high = math.log(_LEAST_S), math.log(_MOST_S)
    for _ in range(40):
        left, right = high - shrink * (high - low), low + shrink * (high - low)
        if _line(cooling, math.exp(left)).rough_k <= _line(cooling, math.exp(right)).rough_k:
            high = right
        else:
            low = left
    return _line(cooling, math.exp((low + high) / 2.0))


def _line(cooling: Sequence[Sample], lag_s: float) -> _Fit:
    """The straight line of temperature over exp(-t/lag): it meets the axis at the air's."""
    began_s, count = cooling[0].mono_s, len(cooling)
    decays = [math.exp(-(each.mono_s - began_s) / lag_s) for each in cooling]
    mean = sum(decays) / count
    mean_c = sum(each.temp_c for each in cooling) / count
    spread = sum((each - mean) ** 2 for each in decays)
    slope_k = sum(
        (decay - mean) * (each.temp_c - mean_c) for decay, each in zip(decays, cooling, strict=True)
    ) / max(spread, 1e-12)
    left = [
        each.temp_c - mean_c - slope_k * (decay - mean)
        for decay, each in zip(decays, cooling, strict=True)
    ]
    return _Fit(lag_s, mean_c - slope_k * mean, math.sqrt(sum(k * k for k in left) / count))
