"""From parameters to the figures an owner, the outlook and the control can use.

Lives here: each figure with its uncertainty, and when it is too unsure to be told. Does not
live here: fitting (fit.py), wording a whole sheet (reports/learning_sheet.py).
"""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from greenkeeper.house.learning.filter import (
    AIR,
    COUPLING,
    ELEMENT,
    HOURS,
    MASS,
    PROBE,
    RISE,
    side_by_side,
)
from greenkeeper.house.learning.fit import Fit, fit
from greenkeeper.house.learning.nights import STEP_S, Array, Night
from greenkeeper.learned import Estimate, Figure, Unknown

_DECISIVE = {"rise_k", "air_s", "coupling"}
_OF_THE_MASS = {"slow_s", "mass_kj_per_k"}

LEAST_NIGHTS = 4
LEAST_HEATED_S = 2 * 3600.0
MOST_UNSTEADY = 0.6  # the loss may vary so much from hour to hour, as a share


class _Kind(NamedTuple):
    """What the method leaves out adds own_error, as a share; beyond most it is not told.

    own_error was set on invented houses (seeds 100 to 141 and 400 to 423 of
    tests/support/drawn_houses.py) and is checked on others: tests/bench/bench_learning.py. Of
    loss and mass the nights themselves say how unsure they are, as they differ from night to
    night; of what is quick they do not, because what is left out there is the same every night.
    """

    of: Callable[[Array], float]  # its logarithm
    own_error: float
    most: float


def _slow_and_fast(parameters: Array) -> tuple[float, float]:
    """Time constants of air and mass together, the heater off: exact for two nodes."""
    air, coupling, mass = np.exp(parameters[[AIR, COUPLING, MASS]])
    total = (1.0 + coupling) / air + coupling / mass
    root = math.sqrt(max(0.0, total**2 - 4.0 * coupling / (air * mass)))
    return 2.0 / (total - root), 2.0 / (total + root)


_SHARES: Mapping[str, _Kind] = {
    "rise_k": _Kind(lambda p: float(p[RISE]), 0.03, 0.2),
    "fast_s": _Kind(lambda p: math.log(_slow_and_fast(p)[1]), 0.2, 0.5),
    "slow_s": _Kind(lambda p: math.log(_slow_and_fast(p)[0]), 0.03, 0.35),
    "lag_s": _Kind(lambda p: float(np.log(np.exp(p[ELEMENT]) + np.exp(p[PROBE]))), 0.12, 0.4),
}
# These need the heater's power: what is learned is each of them over the power.
_POWERED: Mapping[str, _Kind] = {
    "loss_w_per_k": _Kind(lambda p: float(-p[RISE]), 0.03, 0.2),
    "air_kj_per_k": _Kind(lambda p: float(p[AIR] - p[RISE]) - math.log(1000.0), 0.15, 0.5),
    "mass_kj_per_k": _Kind(lambda p: float(p[MASS] - p[RISE]) - math.log(1000.0), 0.03, 0.4),
    "mass_w_per_k": _Kind(lambda p: float(p[COUPLING] - p[RISE]), 0.2, 0.5),
}
_NO_POWER = "the heater's power_w is not stated, so only shares of it can be told"
_NOT_TOLD_APART = "the one looks like the other from here, and only both together show"
_NO_HOUSE = (
    "no small house behaves as these nights do: is a probe where it should be, does the heater "
    "heat, did a door stand open?"
)
_UNSURE = {
    "rise_k": "more nights with heat, or colder ones, are needed",
    "loss_w_per_k": "more nights with heat, or colder ones, are needed",
    "slow_s": "nights in which it cools for hours without heat would tell",
    "mass_kj_per_k": "nights in which it cools for hours without heat would tell",
}
_UNSURE_ELSE = "the record is too rough for it"


def figures(nights: Sequence[Night], power_w: float | None) -> dict[str, Figure]:
    """All but dawn_offset_s. Some seconds of work."""
    reason = _why_not(nights)
    if reason is not None:
        return _none(reason)
    found = fit(side_by_side(nights))
    unsteady = math.exp(float(found.parameters[HOURS])) / 10.0
    if _DECISIVE & found.at_edge or not found.settled or not np.isfinite(found.covariance).all():
        return _none(_NO_HOUSE)
    if unsteady > MOST_UNSTEADY:
        return _none(
            f"its loss varies by {100.0 * unsteady:.0f} % from hour to hour: something opens and "
            "shuts, or another heater runs, of which the record says nothing"
        )
    told = {name: _figure(name, kind, found, len(nights), 1.0) for name, kind in _SHARES.items()}
    for name, kind in _POWERED.items():
        told[name] = (
            Unknown(_NO_POWER)
            if power_w is None
            else _figure(name, kind, found, len(nights), power_w)
        )
    return {**told, **dict.fromkeys(("element_lag_s", "probe_lag_s"), Unknown(_NOT_TOLD_APART))}


def _why_not(nights: Sequence[Night]) -> str | None:
    if len(nights) < LEAST_NIGHTS:
        return f"{len(nights)} usable nights; it takes {LEAST_NIGHTS}"
    heated_s = sum(float(night.duty.sum()) for night in nights) * STEP_S
    if heated_s < LEAST_HEATED_S:
        return f"the heater ran for {heated_s / 60.0:.0f} min in these nights; it takes two hours"
    return None


def _none(reason: str) -> dict[str, Figure]:
    names = (*_SHARES, *_POWERED, "element_lag_s", "probe_lag_s")
    return dict.fromkeys(names, Unknown(reason))


def _figure(name: str, kind: _Kind, found: Fit, nights: int, factor: float) -> Figure:
    middle = kind.of(found.parameters)
    nudge = 0.01
    slope = np.array([
        (kind.of(found.parameters + nudge * row) - middle) / nudge
        for row in np.eye(len(found.parameters))
    ])  # fmt: skip
    share = math.sqrt(max(0.0, float(slope @ found.covariance @ slope)))
    share = math.hypot(share * _few(nights), kind.own_error)
    value = factor * math.exp(middle)
    if name in _OF_THE_MASS and "mass_s" in found.at_edge:
        return Unknown(f"it cannot be seen in these nights; {_UNSURE[name]}")
    if share > kind.most:
        why = _UNSURE.get(name, _UNSURE_ELSE)
        return Unknown(f"too unsure: about {value:.3g}, give or take {100.0 * share:.0f} %; {why}")
    return Estimate(value, value * share)


def _few(nights: int) -> float:
    """By how much a spread found from few nights is too small: Student's variance."""
    return math.sqrt((nights - 1) / (nights - 3))
