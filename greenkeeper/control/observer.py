"""The air behind the probe: what it is now, and how low it goes if heat waits.

Lives here: the smallest model that tells when a pulse has to begin, kept in step with the
readings, and its look ahead. Does not live here: what is decided from it (proportion.py),
and where its figures come from (figures.py).

    element   lags behind the relay        heat' = (on - heat) / element_s
    air       drawn to rest and to heat    air'  = (rest + gain_k heat - air) / fast_s
    probe     lags behind the air          seen' = (air - seen) / probe_s
    rest      where the air would end without heat while the mass stands still: outdoors,
              mass, wind and sun in one figure, which wanders

It is a Kalman filter with `rest` as a wandering disturbance, so it takes the place of an
integral term: what the figures do not explain ends up in `rest`, whatever it is, and
because it is told what the relay really did it cannot wind up while heat is held off,
locked out or at its limit (Åström & Wittenmark, Computer-Controlled Systems, on
disturbance observers; from memory). The gains depend on figures and tick alone and are
worked out once.
"""

from functools import lru_cache
from math import exp, sqrt
from typing import NamedTuple

from greenkeeper.model import Behind

# How the wandering is believed to be, in kelvin and seconds: gusts of minutes move the air
# by hundredths and what it is drawn to by a kelvin in a quarter of an hour. A reading is
# good to a tenth: steps of a sixteenth, and what a probe sees that the plants do not.
# Found on drawn houses; twice or half of each changes little.
_AIR_K_PER_ROOT_S = 0.003
_REST_K_PER_ROOT_S = 0.03
_READING_K = 0.1
# At a start, how far the air may be from what the probe says, and rest from the air.
_AIR_UNSURE_K = 1.0
_REST_UNSURE_K = 10.0

# How far `rest` is believed to be from its own mean of so long, if nothing else is known.
WANDER_OVER_S = 600.0
WANDER_K = _REST_K_PER_ROOT_S * sqrt(WANDER_OVER_S / 2.0)

# Of the element's lag, when a pulse begun now has turned the air. Found on drawn houses.
_ARRIVED_SHARE = 0.7

_MOST_LOOKS = 400
_SETTLED = 1e-4
_FURTHEST_S = 3600.0

Gain = tuple[float, float, float]  # of one reading's surprise, on air, probe and rest
Matrix = list[list[float]]  # three by three, in that order
_AIR, _PROBE, _THREE = 0, 1, range(3)


class Figures(NamedTuple):
    """One heater and the air of one zone. All above zero."""

    gain_k: float  # how far the heater, on for good, lifts the air while the mass stands still
    fast_s: float  # time constant of the air meanwhile
    element_s: float
    probe_s: float


def begun(reading_c: float, rest_c: float | None, mono_s: float) -> Behind:
    """Nothing is known yet but one reading. rest_c: what it was, if it is remembered."""
    return Behind(0.0, reading_c, reading_c, reading_c if rest_c is None else rest_c, 0, mono_s)


def moved(f: Figures, x: Behind, on: bool, dt_s: float) -> Behind:
    """dt_s later, the relay having stood so meanwhile: each part driven by the mean of the
    one before it, which is exact as long as dt_s is short beside the lags."""
    heat, air_c, probe_c, rest_c, looks, mono_s = x
    fed = 1.0 if on else 0.0
    kept = exp(-dt_s / f.element_s)
    mean_heat = fed + (heat - fed) * (1.0 - kept) * f.element_s / dt_s
    heat = fed + (heat - fed) * kept
    aim_c = rest_c + f.gain_k * mean_heat
    kept = exp(-dt_s / f.fast_s)
    mean_c = aim_c + (air_c - aim_c) * (1.0 - kept) * f.fast_s / dt_s
    air_c = aim_c + (air_c - aim_c) * kept
    probe_c = mean_c + (probe_c - mean_c) * exp(-dt_s / f.probe_s)
    return Behind(heat, air_c, probe_c, rest_c, looks, mono_s + dt_s)


def corrected(x: Behind, reading_c: float, gains: tuple[Gain, ...]) -> Behind:
    """After one reading. The further it was from what was expected, the more."""
    surprise_k = reading_c - x.probe_c
    on_air, on_probe, on_rest = gains[min(x.looks, len(gains) - 1)]
    return x._replace(
        air_c=x.air_c + on_air * surprise_k,
        probe_c=x.probe_c + on_probe * surprise_k,
        rest_c=x.rest_c + on_rest * surprise_k,
        looks=x.looks + 1,
    )


def gains_of(f: Figures, dt_s: float) -> tuple[Gain, ...]:
    """The gains of the first reading, of the second and so on; the last is for all that follow."""
    return _settled(f, dt_s)[0]


@lru_cache(maxsize=32)
def astray_k(f: Figures, dt_s: float) -> float:
    """How far the air may be from what was foreseen, one standard deviation, by the time that
    heat begun now would arrive: the slower probe and element, and the lighter the air, the more."""
    spread, step = _settled(f, dt_s)[1], _step(f, dt_s)
    for _ in range(round(_ARRIVED_SHARE * f.element_s / dt_s)):
        spread = _wandered(spread, step, dt_s)
    return sqrt(spread[_AIR][_AIR])


@lru_cache(maxsize=32)
def _settled(f: Figures, dt_s: float) -> tuple[tuple[Gain, ...], Matrix]:
    """The gains until they change no more, and the covariance after a reading from there on."""
    step = _step(f, dt_s)
    spread = [
        [_AIR_UNSURE_K**2, 0.0, 0.0],
        [0.0, _READING_K**2, 0.0],
        [0.0, 0.0, _REST_UNSURE_K**2],
    ]
    found: list[Gain] = []
    for _ in range(_MOST_LOOKS):
        spread = _wandered(spread, step, dt_s)
        total = spread[_PROBE][_PROBE] + _READING_K**2
        gain = tuple(spread[i][_PROBE] / total for i in _THREE)
        spread = [[spread[i][j] - gain[i] * spread[_PROBE][j] for j in _THREE] for i in _THREE]
        found.append((gain[0], gain[1], gain[2]))
        if len(found) > 1 and all(
            abs(now - before) < _SETTLED * abs(now)
            for now, before in zip(gain, found[-2], strict=True)
        ):
            break
    return tuple(found), spread


def _step(f: Figures, dt_s: float) -> Matrix:
    """What dt_s makes of air, probe and rest; each column by moving its unit."""
    unit = [
        Behind(0.0, 1.0, 0.0, 0.0, 0, 0.0),
        Behind(0.0, 0.0, 1.0, 0.0, 0, 0.0),
        Behind(0.0, 0.0, 0.0, 1.0, 0, 0.0),
    ]
    columns = [moved(f, each, False, dt_s) for each in unit]
    return [[c.air_c for c in columns], [c.probe_c for c in columns], [c.rest_c for c in columns]]


def _wandered(spread: Matrix, step: Matrix, dt_s: float) -> Matrix:
    """The covariance dt_s later, without a reading: step spread step' and what wandered."""
    half = [[sum(step[i][k] * spread[k][j] for k in _THREE) for j in _THREE] for i in _THREE]
    added = (_AIR_K_PER_ROOT_S**2 * dt_s, 0.0, _REST_K_PER_ROOT_S**2 * dt_s)
    return [
        [
            sum(half[i][k] * step[j][k] for k in _THREE) + (added[i] if i == j else 0.0)
            for j in _THREE
        ]
        for i in _THREE
    ]


def lowest_c(f: Figures, x: Behind, off_s: float, enough_c: float) -> float:
    """How low the air goes if heat is off for off_s and then on for good.

    It looks no further once the answer is known to be below enough_c.
    """
    step_s = max(10.0, f.element_s / 10.0)
    low_c, left_s = x.air_c, off_s
    while left_s > 0.0:
        dt_s = min(step_s, left_s)
        x, left_s = moved(f, x, False, dt_s), left_s - dt_s
        low_c = min(low_c, x.air_c)
    waited_s = 0.0
    while low_c >= enough_c and x.rest_c + f.gain_k * x.heat <= x.air_c:
        if waited_s > _FURTHEST_S:
            break
        x, waited_s = moved(f, x, True, step_s), waited_s + step_s
        low_c = min(low_c, x.air_c)
    return low_c


def highest_c(f: Figures, x: Behind, enough_c: float) -> float:
    """How high the air goes if heat goes off now.

    It looks no further once the answer is known to be enough_c or more.
    """
    step_s = max(10.0, f.element_s / 10.0)
    high_c, waited_s = x.air_c, 0.0
    while high_c < enough_c and x.rest_c + f.gain_k * x.heat > x.air_c:
        if waited_s > _FURTHEST_S:
            break
        x, waited_s = moved(f, x, False, step_s), waited_s + step_s
        high_c = max(high_c, x.air_c)
    return high_c
