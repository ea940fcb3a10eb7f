"""What a journal holds of some nights, made ready for the filter.

Lives here: which stretch of a night can teach anything, and why another cannot; steps of
five minutes. Does not live here: when it is dark and what the journal says
(reports/learning_data.py).

Readings are averaged over five minutes: long enough to even out what no simple house tells
the truth of, and short against what is sought. The heater's pulses keep their minutes.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEP_S = 300.0
MINUTES = 5  # in a step
_ENOUGH_MINUTES = 3  # of them must have been measured

SHORTEST_S = 4 * 3600.0
_OUTDOOR_GAP_STEPS = 6  # half an hour without a reading outdoors is bridged
_PROBES_APART_K = 3.0  # beyond what they usually differ by in that night
_APART_SHARE = 0.1
_SMOOTHED_STEPS = 7
_TYPICAL_LIFT_K = 10.0


class Evidence(NamedTuple):
    """One dark night by minutes, from from_utc_s on. None: not measured."""

    from_utc_s: float
    inside_c: Mapping[str, Sequence[float | None]]
    outdoor_c: Sequence[float | None]
    heater_s: Sequence[float | None]  # on in this minute. None: nobody watched
    undisturbed: Sequence[bool]  # nothing else heated or aired
    reading_s: float = 25.0  # how far into a minute its readings lie, on average


class Night(NamedTuple):
    """A usable stretch in steps. NaN in inside_c: not measured."""

    from_utc_s: float
    to_utc_s: float
    inside_c: Array
    outdoor_c: Array
    duty: Array  # of the heater, 0 to 1: steps by their minutes
    lift: Array  # inside above outdoors, smoothed, as a multiple of 10 K


class Skipped(NamedTuple):
    from_utc_s: float
    reason: str


def prepared(evidence: Evidence) -> Night | Skipped:
    """The longest stretch of this night that can be believed and was left alone."""
    steps = len(evidence.outdoor_c) // MINUTES
    if steps * STEP_S < SHORTEST_S:
        return Skipped(evidence.from_utc_s, "it was too short")
    outdoor_c = _bridged(_stepped(evidence.outdoor_c, steps))
    probes = {name: _stepped(minutes, steps) for name, minutes in evidence.inside_c.items()}
    probes = {name: each for name, each in probes.items() if np.isfinite(each).mean() > 0.5}
    if not probes:
        return Skipped(evidence.from_utc_s, "no probe inside was there for half of it")
    inside_c, apart = _together(probes)
    if apart > _APART_SHARE:
        return Skipped(evidence.from_utc_s, "the probes inside disagreed")
    watched = [each is not None for each in evidence.heater_s[: steps * MINUTES]]
    alone = np.asarray(evidence.undisturbed[: steps * MINUTES], dtype=bool) & watched
    usable = np.isfinite(outdoor_c) & alone.reshape(steps, MINUTES).all(axis=1)
    first, last = _longest(usable)
    measured = np.isfinite(inside_c[first:last])
    if (last - first) * STEP_S < SHORTEST_S or measured.mean() < 0.5:
        return Skipped(evidence.from_utc_s, _what_was_missing(outdoor_c, alone, measured))
    return _cut(evidence, inside_c, outdoor_c, first + int(measured.argmax()), last)


def _cut(evidence: Evidence, inside_c: Array, outdoor_c: Array, first: int, last: int) -> Night:
    """first: a step that was measured inside."""
    began_s = evidence.from_utc_s
    # A minute's readings stand for the minute around them, its heat for the minute itself.
    heated = np.concatenate([[0.0], np.cumsum([each or 0.0 for each in evidence.heater_s])])
    edges = np.arange(first * MINUTES, last * MINUTES + 1) + evidence.reading_s / 60.0 - 0.5
    duty = np.diff(np.interp(edges, np.arange(heated.size), heated)) / 60.0
    inside_c, outdoor_c = inside_c[first:last], outdoor_c[first:last]
    return Night(
        began_s + STEP_S * first,
        began_s + STEP_S * last,
        inside_c,
        outdoor_c,
        duty.reshape(-1, MINUTES),
        _smoothed(_filled(inside_c) - outdoor_c) / _TYPICAL_LIFT_K,
    )


def _what_was_missing(outdoor_c: Array, alone: NDArray[np.bool_], measured: Array) -> str:
    if np.isfinite(outdoor_c).mean() < 0.5:
        return "too little was measured outdoors"
    if alone.mean() < 0.5:
        return "it was aired, heated by something else, or not recorded for too long"
    if measured.size and measured.mean() < 0.5:
        return "too little was measured inside"
    return f"less than {SHORTEST_S / 3600.0:.0f} h of it in one piece"


def _stepped(minutes: Sequence[float | None], steps: int) -> Array:
    """Means of steps; NaN where too few minutes were measured."""
    given = np.array([np.nan if each is None else each for each in minutes[: steps * MINUTES]])
    table = given.reshape(steps, MINUTES)
    known = np.isfinite(table)
    counts = known.sum(axis=1)
    means: Array = np.where(known, table, 0.0).sum(axis=1) / np.maximum(1, counts)
    return np.where(counts >= _ENOUGH_MINUTES, means, np.nan)


def _together(probes: Mapping[str, Array]) -> tuple[Array, float]:
    """The probes' mean where all of them were measured, and how often they disagreed."""
    table = np.array(list(probes.values()))
    everywhere = np.isfinite(table).all(axis=0)
    mean = np.where(everywhere, table.sum(axis=0) / len(table), np.nan)
    if len(table) == 1 or not everywhere.any():
        return mean, 0.0
    spread = (table.max(axis=0) - table.min(axis=0))[everywhere]
    return mean, float((spread - np.median(spread) > _PROBES_APART_K).mean())


def _longest(usable: NDArray[np.bool_]) -> tuple[int, int]:
    """From and to of the longest run of True."""
    best, first = (0, 0), 0
    for index, each in enumerate([*usable, False]):
        if not each:
            if index - first > best[1] - best[0]:
                best = first, index
            first = index + 1
    return best


def _bridged(values: Array) -> Array:
    """Short gaps filled by a straight line."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 2:
        return values
    whole = np.interp(np.arange(values.size), known, values[known])
    apart = np.diff(known, prepend=known[0])
    for gap in np.flatnonzero(apart > _OUTDOOR_GAP_STEPS):
        whole[known[gap - 1] + 1 : known[gap]] = np.nan
    whole[: known[0]] = np.nan
    whole[known[-1] + 1 :] = np.nan
    return whole


def _filled(values: Array) -> Array:
    known = np.flatnonzero(np.isfinite(values))
    return np.interp(np.arange(values.size), known, values[known])


def _smoothed(values: Array) -> Array:
    half = _SMOOTHED_STEPS // 2
    window = np.ones(_SMOOTHED_STEPS) / _SMOOTHED_STEPS
    return np.convolve(np.pad(values, half, "edge"), window, "valid")
