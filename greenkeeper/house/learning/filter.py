"""A small house that is driven by what it cannot see, and followed through the night.

Lives here: the model with its disturbances, and the Kalman filter that says how well it
foretells each reading. Does not live here: which parameters fit best (fit.py).

    element's heat  follows the heater's duty with a lag
    air             loses to outdoors, exchanges with the mass, takes the element's heat
    mass            exchanges with the air; how warm it is at dusk, nobody knows
    probe           follows the air with a lag
    two gusts       make the loss vary, by hours and by minutes: wind, rain, sky

Everything is divided by the loss coefficient, so that the heater's power need not be known.
The method is the maximum likelihood of a grey-box model in stochastic differential
equations: Madsen & Holst, Energy and Buildings 22 (1995) 67; Bacher & Madsen, Energy and
Buildings 43 (2011) 1511; both from memory. All nights and all trials of parameters are
followed at once, which is what makes it quick.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from greenkeeper.house.learning.nights import MINUTES, STEP_S, Array, Night

# Parameters by their place. All but GAIN and DUSK are logarithms.
NAMES = (
    "rise_k",  # power over loss: what the heater, on for ever, holds above outdoors
    "air_s",  # what warms with the air, over the loss
    "coupling",  # air to mass, over the loss
    "mass_s",  # what warms through the air only, over the loss
    "element_s",  # lag
    "probe_s",  # lag
    "gain_k",  # a steady gain of warmth: soil; below zero: a clear sky
    "hours_k",  # how much the slow gusts are, at 10 K above outdoors
    "minutes_k",  # the quick ones
    "air_noise_k",  # what stirs the air besides, in one minute
    "reading_k",  # a reading's own error
    "dusk_k",  # the mass above the air when the night begins
)
(RISE, AIR, COUPLING, MASS, ELEMENT, PROBE, GAIN, HOURS, MINUTE, STIR, READING, DUSK) = range(
    len(NAMES)
)
# The state. _MEAN gathers what the probe shows during one step: readings are means.
_E, _A, _M, _P, _MEAN, _SLOW, _QUICK = range(7)
_STATES = 7
# The inputs: the heater's duty in each minute of a step, outdoors, one.
_OUTDOOR, _ONE = MINUTES, MINUTES + 1

# Weather changes within hours, gusts within a quarter of one. Common practice, no source.
_SLOW_S = 10 * 3600.0
_QUICK_S = 1200.0

_DUSK_SPREAD_K = 3.0
# Somebody comes in: a reading further off than this many times its error is a shock.
_SHOCK_SIGMAS = 4.0
_SHOCK_LEAST_K2 = 0.01
_PROBE_SHARE = 0.3  # of a shock, what the lagging probe may have seen of it


class Nights(NamedTuple):
    """Several nights side by side, the shorter ones filled up with nothing measured."""

    inside_c: Array  # nights by steps
    inputs: Array  # nights by steps by inputs
    lift: Array
    first_c: Array
    first_duty: Array

    def duty(self) -> Array:
        found: Array = self.inputs[..., :MINUTES].mean(axis=-1)
        return found

    def outdoor_c(self) -> Array:
        found: Array = self.inputs[..., _OUTDOOR]
        return found


def side_by_side(nights: Sequence[Night]) -> Nights:
    longest = max(len(night.inside_c) for night in nights)

    def table(rows: Sequence[Array], fill: float | None = None) -> Array:
        return np.array(
            [np.pad(r, (0, longest - len(r)), constant_values=r[-1] if fill is None else fill)
             for r in rows]
        )  # fmt: skip

    inside_c = table([night.inside_c for night in nights], np.nan)
    first_c = inside_c[:, 0].copy()
    inside_c[:, 0] = np.nan  # it begins there, and is not to be foretold
    minutes = [table([night.duty[:, minute] for night in nights], 0.0) for minute in range(MINUTES)]
    outdoor_c = table([night.outdoor_c for night in nights])
    return Nights(
        inside_c,
        np.stack([*minutes, outdoor_c, np.ones_like(outdoor_c)], axis=-1),
        table([night.lift for night in nights]),
        first_c,
        minutes[-1][:, 0].copy(),
    )


class Followed(NamedTuple):
    """For each trial, night and step: how far off the foretold reading was, and its variance."""

    errors: Array
    variances: Array


def follow(trials: Array, nights: Nights, shocks: Array | None = None) -> Followed:
    """trials: rows of parameters. shocks: variance given to the air at each night's steps."""
    errors, variances, _ = _followed(trials, nights, shocks, seek=False)
    return Followed(errors, variances)


def shocks_in(parameters: Array, nights: Nights) -> Array:
    """What this house did in those nights that no wind explains: doors, people."""
    return _followed(parameters[None], nights, None, seek=True)[2]


def _followed(
    trials: Array, nights: Nights, shocks: Array | None, *, seek: bool
) -> tuple[Array, Array, Array]:
    known = np.isfinite(nights.inside_c)
    readings = np.where(known, nights.inside_c, 0.0)
    errors, variances = np.zeros((len(trials), *known.shape)), np.ones((len(trials), *known.shape))
    found = np.zeros(known.shape) if shocks is None else shocks.copy()
    stepping, gusts, driven, noise, reading_var = _discrete(trials, len(known))
    state, spread = _beginning(trials, nights)
    for k in range(1, known.shape[1]):
        stepping[..., :_SLOW, _SLOW:] = gusts * nights.lift[None, :, k, None, None]
        state = (stepping @ state[..., None])[..., 0] + nights.inputs[None, :, k] @ driven
        spread = stepping @ spread @ stepping.swapaxes(-1, -2) + noise
        _shake(spread, found[None, :, k])
        error = readings[:, k] - state[..., _MEAN]
        variance = spread[..., _MEAN, _MEAN] + reading_var
        if seek:
            odd = (error**2 > _SHOCK_SIGMAS**2 * variance) & known[None, :, k]
            found[:, k] = np.where(odd, np.maximum(error**2, _SHOCK_LEAST_K2), 0.0)[0]
            _shake(spread, found[None, :, k])
            variance = spread[..., _MEAN, _MEAN] + reading_var
        trust = spread[..., :, _MEAN] / variance[..., None] * known[None, :, k, None]
        state = state + trust * error[..., None]
        spread = spread - trust[..., :, None] * spread[..., None, _MEAN, :]
        errors[:, :, k] = np.where(known[:, k], error, 0.0)
        variances[:, :, k] = np.where(known[:, k], variance, 1.0)
    return errors, variances, found


def _shake(spread: Array, variance: Array) -> None:
    spread[..., _A, _A] += variance
    for part in (_P, _MEAN):
        spread[..., part, part] += _PROBE_SHARE * variance


def _beginning(trials: Array, nights: Nights) -> tuple[Array, Array]:
    state = np.zeros((len(trials), len(nights.first_c), _STATES))
    state[..., _E] = nights.first_duty
    state[..., _A] = state[..., _P] = nights.first_c
    state[..., _M] = nights.first_c + trials[:, DUSK, None]
    spread = np.zeros((*state.shape, _STATES))
    for part, sigma in ((_E, 0.05), (_A, 0.3), (_M, _DUSK_SPREAD_K), (_P, 0.1)):
        spread[..., part, part] = sigma**2
    spread[..., _SLOW, _SLOW] = np.exp(2.0 * trials[:, HOURS, None])
    spread[..., _QUICK, _QUICK] = np.exp(2.0 * trials[:, MINUTE, None])
    return state, spread


def _discrete(trials: Array, nights: int) -> tuple[Array, Array, Array, Array, Array]:
    """One step: weights of the state (for each night, whose gusts are to be filled in), of
    the gusts, of the inputs; what the unseen adds; a reading's variance."""
    minute = _exponential(_rates(trials) * 60.0)
    onward, added = minute[:, :_STATES, :_STATES], minute[:, :_STATES, _STATES:]
    whole, driven = np.eye(_STATES), np.zeros((len(trials), MINUTES + 2, _STATES))
    for left in range(MINUTES):  # minutes of the step that follow this one
        effect = (whole @ added).swapaxes(-1, -2)
        driven[:, MINUTES - 1 - left] = effect[:, 0]
        driven[:, MINUTES:] += effect[:, 1:]
        whole = onward @ whole
    whole = whole.copy()
    whole[..., :, _MEAN] = 0.0  # each step gathers anew
    stepping = np.repeat(whole[:, None], nights, axis=1)
    gusts = stepping[:, :1, :_SLOW, _SLOW:].copy()
    noise = np.zeros((len(trials), 1, _STATES, _STATES))
    for part, size, lasts_s in ((_SLOW, HOURS, _SLOW_S), (_QUICK, MINUTE, _QUICK_S)):
        kept = np.exp(-2.0 * STEP_S / lasts_s)
        noise[:, 0, part, part] = np.exp(2.0 * trials[:, size]) * (1.0 - kept)
    noise[:, 0, _A, _A] = np.exp(2.0 * trials[:, STIR]) * STEP_S / 60.0
    return stepping, gusts, driven, noise, np.exp(2.0 * trials[:, READING, None])


def _rates(trials: Array) -> Array:
    """Per second, of the state and of duty, outdoors and one together."""
    t = np.exp(trials[:, : PROBE + 1])
    rise, air, coupling, mass, element, probe = t.T
    rates = np.zeros((len(trials), _STATES + 3, _STATES + 3))
    rates[:, _E, _E], rates[:, _E, _STATES] = -1.0 / element, 1.0 / element
    rates[:, _A, _E] = rise / air
    rates[:, _A, _A] = -(1.0 + coupling) / air
    rates[:, _A, _M] = coupling / air
    for towards in (_SLOW, _QUICK, _STATES + 1):
        rates[:, _A, towards] = 1.0 / air
    rates[:, _A, _STATES + 2] = trials[:, GAIN] / air
    rates[:, _M, _A], rates[:, _M, _M] = coupling / mass, -coupling / mass
    rates[:, _P, _A], rates[:, _P, _P] = 1.0 / probe, -1.0 / probe
    rates[:, _MEAN, _P] = 1.0 / STEP_S
    rates[:, _SLOW, _SLOW], rates[:, _QUICK, _QUICK] = -1.0 / _SLOW_S, -1.0 / _QUICK_S
    return rates


def _exponential(matrices: Array) -> Array:
    """Of each matrix, by scaling and squaring of its series (Moler & Van Loan, SIAM Review
    45 (2003) 3, method 3; from memory)."""
    size = float(np.abs(matrices).sum(axis=-1).max())
    halvings = max(0, int(np.ceil(np.log2(max(size, 1e-9)))) + 3)
    small = matrices / 2.0**halvings
    term = np.broadcast_to(np.eye(matrices.shape[-1]), matrices.shape).copy()
    whole = term.copy()
    for power in range(1, 10):
        term = term @ small / power
        whole = whole + term
    for _ in range(halvings):
        whole = whole @ whole
    return whole
