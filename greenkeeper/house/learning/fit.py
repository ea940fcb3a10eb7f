"""The parameters that foretell the nights best, and how sure that is.

Lives here: what is believed of any small house before its journal is opened, the search,
and the spread of its result. Does not live here: the model (filter.py), what the parameters
mean for an owner (figures.py).

Search: Fisher scoring with Levenberg's damping. Spread: the sandwich of Huber and White
with each night as one observation, so that errors which hang together within a night (wind)
are counted as one (both from memory: Wooldridge, Econometric Analysis, ch. 12 and 20).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from greenkeeper.house.learning.filter import (
    DUSK,
    GAIN,
    MASS,
    NAMES,
    RISE,
    Nights,
    follow,
    shocks_in,
)
from greenkeeper.house.learning.nights import Array

# What a small heated house may be like: middle, and one standard deviation. All but gain_k
# and dusk_k are logarithms: 0.8 is a factor of 2.2 either way. Common practice, no source;
# rise_k's middle is what the nights suggest at first sight, and means next to nothing.
_BELIEVED = {
    "rise_k": (np.nan, 1.0),
    "air_s": (np.log(1200.0), 0.8),
    "coupling": (np.log(0.8), 0.7),
    "mass_s": (np.log(18_000.0), 0.8),
    "element_s": (np.log(80.0), 0.8),
    "probe_s": (np.log(110.0), 0.7),
    "gain_k": (0.0, 0.7),
    "hours_k": (np.log(0.5), 1.0),
    "minutes_k": (np.log(0.5), 1.0),
    "air_noise_k": (np.log(0.01), 1.5),
    "reading_k": (np.log(0.03), 0.5),
    "dusk_k": (3.0, 3.0),
}
_SPREAD = np.array([_BELIEVED[name][1] for name in NAMES])
_NUDGE = np.array([0.1 if name == "dusk_k" else 0.02 for name in NAMES])

_MOST_STEPS = 25
_LONGEST_STEP = 0.7
# So many spreads from what is believed no house is: a mass as quick as the air is none.
_FARTHEST = np.array([2.2 if name == "mass_s" else 3.0 for name in NAMES])
_TOO_LIGHT = 1.5  # of its spreads, for a mass: it was lost, see _reconsidered
_NO_EDGE = 0.99  # of that: nearer to it, it was the edge that ended the search
_SETTLED = 0.02  # of the logarithm of the likelihood
_MOST_ROUNDS = 4  # of looking for shocks
_SAME_SHOCKS = 0.9995
_DAMPINGS = (0.1, 1.0, 10.0, 100.0)
_RISE_SPAN_K = (3.0, 100.0)
_MASS_AT_FIRST_SIGHT = 1.2  # some of the heat went into the mass


class Fit(NamedTuple):
    parameters: Array  # in the order of filter.NAMES
    covariance: Array
    settled: bool
    cost: float  # how surprising the nights remain; the less the better
    at_edge: frozenset[str] = frozenset()  # parameters that would be further out


def fit(nights: Nights) -> Fit:
    """Some seconds of work for two weeks."""
    believed = np.array([_BELIEVED[name][0] for name in NAMES])
    believed[RISE] = _first_sight(nights)
    found = Fit(believed, np.diag(_SPREAD**2), settled=False, cost=np.inf)
    shocks: Array | None = None
    for _ in range(_MOST_ROUNDS):
        found = _search(nights, believed, found.parameters, shocks)
        found = _reconsidered(nights, believed, found, shocks)
        seen = shocks_in(found.parameters, nights)
        if shocks is not None and ((seen > 0.0) == (shocks > 0.0)).mean() > _SAME_SHOCKS:
            break
        shocks = seen
    out = np.abs(found.parameters - believed) > _NO_EDGE * _FARTHEST * _SPREAD
    out[MASS] |= believed[MASS] - found.parameters[MASS] > _TOO_LIGHT * _SPREAD[MASS]
    return found._replace(at_edge=frozenset(np.array(NAMES)[out].tolist()))


def _reconsidered(nights: Nights, believed: Array, found: Fit, shocks: Array | None) -> Fit:
    """A mass that is hardly seen can be lost for a steady gain and slow gusts, which explain
    the nights nearly as well: where it is light, begin once more with a usual one."""
    light = believed[MASS] - found.parameters[MASS] > _SPREAD[MASS]
    if not light:
        return found
    start = found.parameters.copy()
    start[[MASS, GAIN, DUSK]] = believed[[MASS, GAIN, DUSK]]
    again = _search(nights, believed, start, shocks)
    return min(found, again, key=lambda each: each.cost)


def _first_sight(nights: Nights) -> float:
    """The lift over the duty, by all steps with heat."""
    known = np.isfinite(nights.inside_c)
    duty, outdoor_c = nights.duty(), nights.outdoor_c()
    hours = known.sum(axis=1)
    lift = np.where(known, nights.inside_c - outdoor_c, 0.0).sum(axis=1) / hours
    mean_duty = np.where(known, duty, 0.0).sum(axis=1) / hours
    rise_k = float((lift * mean_duty).sum() / max(1e-9, float((mean_duty**2).sum())))
    return float(np.log(np.clip(rise_k * _MASS_AT_FIRST_SIGHT, *_RISE_SPAN_K)))


def _search(nights: Nights, believed: Array, start: Array, shocks: Array | None) -> Fit:
    at, damping, settled, here = start, 0.01, False, np.inf
    low, high = believed - _FARTHEST * _SPREAD, believed + _FARTHEST * _SPREAD
    information, by_night = np.diag(1.0 / _SPREAD**2), np.zeros((len(NAMES), 1))
    for _ in range(_MOST_STEPS):
        surprise, seen, by_night = _slope(nights, at, shocks)
        information = seen + np.diag(1.0 / _SPREAD**2)
        here = surprise + float(_disbelief(at, believed))
        slope = by_night.sum(axis=1) + (at - believed) / _SPREAD**2
        # What would leave its edge is held there: cutting it off after the step would spoil the
        # steps of all others.
        free = ((at > low) | (slope < 0.0)) & ((at < high) | (slope > 0.0))
        trials = np.array([
            at + _step(information, slope, damping * each, free) for each in _DAMPINGS
        ])  # fmt: skip
        trials = np.clip(trials, low, high)
        errors, variances = follow(trials, nights, shocks)
        costs = _surprise(errors, variances).sum(axis=-1) + _disbelief(trials, believed)
        best = int(np.nanargmin(costs)) if np.isfinite(costs).any() else 0
        gained = here - float(costs[best])
        if not gained > 0.0:
            settled = True
            break
        at, here = trials[best], float(costs[best])
        damping = max(1e-6, damping * _DAMPINGS[best])
        if gained < _SETTLED:
            settled = True
            break
    return Fit(at, _spread(information, by_night), settled, here)


def _step(information: Array, slope: Array, damping: float, free: NDArray[np.bool_]) -> Array:
    damped = information + damping * np.diag(np.diag(information))
    step = np.zeros_like(slope)
    step[free] = -np.linalg.solve(damped[np.ix_(free, free)], slope[free])
    return np.clip(step, -_LONGEST_STEP, _LONGEST_STEP)


def _surprise(errors: Array, variances: Array) -> Array:
    """By trial and night, up to a constant: minus the logarithm of the likelihood."""
    found: Array = 0.5 * (np.log(variances) + errors**2 / variances).sum(axis=-1)
    return found


def _disbelief(trials: Array, believed: Array) -> Array:
    found: Array = 0.5 * (((trials - believed) / _SPREAD) ** 2).sum(axis=-1)
    return found


def _slope(nights: Nights, at: Array, shocks: Array | None) -> tuple[float, Array, Array]:
    """The surprise, its expected curvature, and its slope by parameter and night."""
    errors, variances = follow(np.vstack([at, at + np.diag(_NUDGE)]), nights, shocks)
    by = _NUDGE[:, None, None]
    errors_by, variances_by = (errors[1:] - errors[0]) / by, (variances[1:] - variances[0]) / by
    error, weight = errors[0], 1.0 / variances[0]
    flat_errors = (errors_by * np.sqrt(weight)).reshape(len(by), -1)
    flat_variances = (variances_by * weight).reshape(len(by), -1)
    information = flat_errors @ flat_errors.T + 0.5 * flat_variances @ flat_variances.T
    slope = (errors_by * (error * weight)).sum(axis=-1)
    slope += 0.5 * (variances_by * (weight - (error * weight) ** 2)).sum(axis=-1)
    return float(_surprise(errors[:1], variances[:1]).sum()), information, slope


def _spread(information: Array, by_night: Array) -> Array:
    """The sandwich, and never less than what the model says of itself."""
    plain: Array = np.asarray(np.linalg.inv(information), dtype=np.float64)
    nights = by_night.shape[1]
    if nights < 2 or not (np.isfinite(plain).all() and np.isfinite(by_night).all()):
        return plain
    apart = by_night - by_night.mean(axis=1, keepdims=True)
    meat = apart @ apart.T * nights / (nights - 1) + np.diag(1.0 / _SPREAD**2)
    sandwich = plain @ meat @ plain
    # At least as wide in every direction: the larger of the two along each axis of plain.
    roots, axes = np.linalg.eigh(plain)
    scale = axes * np.sqrt(np.maximum(roots, 0.0))
    inner = np.linalg.pinv(scale) @ sandwich @ np.linalg.pinv(scale).T
    sizes, turns = np.linalg.eigh(inner)
    widened: Array = (scale @ turns * np.maximum(1.0, sizes)) @ (scale @ turns).T
    return widened
