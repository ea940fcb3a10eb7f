"""The physics of the house: how its temperatures move through a stretch of time.

Lives here: heat flows between element, air, mass, probes and outside, and one exact
step. Does not live here: weather, a running house (simulated.py), the numerics of
the matrix exponential. Everything is linear, so a step of any length under constant
inputs is exact: six steps of 10 s are one of 60 s.
"""

from functools import lru_cache
from typing import NamedTuple, Self

from greenkeeper.house.envelope import loss_w_per_k
from greenkeeper.house.exponential import Matrix, exponential
from greenkeeper.house.weather import Surroundings
from greenkeeper.settings.schema import House

# Sun warms surfaces, not air. Leaves, staging and frame hand it on to the air within
# minutes and count as air; pots, soil and paving keep it. Halves: common practice, no source.
SUN_TO_AIR = 0.5

# House.ridge_k is what the ridge shows while the heat is enough to hold the house this
# far above outside: about a frost heater's full power, whatever the size of the house.
RIDGE_RISE_K = 20.0


class Parameters(NamedTuple):
    """One house in SI units. Only the two capacities must be above zero."""

    loss_w_per_k: float
    air_j_per_k: float
    mass_j_per_k: float
    mass_w_per_k: float
    element_lag_s: float
    probe_lag_s: float
    sun_m2: float  # level area whose sun ends as heat inside
    fan_w_per_k: float
    ridge_k_per_w: float
    vent_w_per_k: float = 0.0

    @classmethod
    def from_settings(cls, house: House) -> Self:
        """Lags to a tenth of a second: less is none, and would only cost digits."""
        loss = loss_w_per_k(house)
        return cls(
            loss_w_per_k=loss,
            air_j_per_k=house.air_kj_per_k * 1000.0,
            mass_j_per_k=house.mass_kj_per_k * 1000.0,
            mass_w_per_k=house.mass_w_per_k,
            element_lag_s=round(house.element_lag_s, 1),
            probe_lag_s=round(house.probe_lag_s, 1),
            sun_m2=house.length_m * house.width_m * house.sun_share,
            fan_w_per_k=house.fan_w_per_k,
            ridge_k_per_w=house.ridge_k / (RIDGE_RISE_K * loss),
            vent_w_per_k=house.vent_w_per_k,
        )


class State(NamedTuple):
    """Everything the future of the house depends on."""

    element_w: float  # heat the element gives off now, behind the power it draws
    air_c: float  # at the bench
    mass_c: float
    bench_c: float  # as a probe at the bench sees the air
    ridge_above_k: float  # a ridge probe above a bench probe. A reading only: it carries no heat
    outdoor_probe_c: float

    @property
    def ridge_c(self) -> float:
        """As a probe under the ridge sees the air."""
        return self.bench_c + self.ridge_above_k


def settled(parameters: Parameters, surroundings: Surroundings) -> State:
    """The house after ever so long in these surroundings, unheated and with its fan at rest.

    Raises ValueError for a house without loss or without mass coupling: it never settles.
    """
    if parameters.loss_w_per_k <= 0.0 or parameters.mass_w_per_k <= 0.0:
        raise ValueError("only a house that loses heat, mass coupled to its air, settles")
    sun_w = parameters.sun_m2 * surroundings.sun_w_m2
    air_c = surroundings.outdoor_c + sun_w / parameters.loss_w_per_k
    mass_c = air_c + (1.0 - SUN_TO_AIR) * sun_w / parameters.mass_w_per_k
    return State(0.0, air_c, mass_c, air_c, 0.0, surroundings.outdoor_c)


def advance(
    parameters: Parameters,
    state: State,
    surroundings: Surroundings,
    heater_w: float,
    fan_on: bool,
    dt_s: float,
) -> State:
    """The state dt_s later, exact for inputs that hold still meanwhile.

    heater_w: power the element draws. Raises ValueError for a negative dt_s.
    Each new value is a mixture of old ones with weights that are never negative and,
    between temperatures, add up to one: nothing can overshoot what it is drawn to.
    """
    q, air, mass, bench, ridge, outdoor = state
    out, sun = surroundings.outdoor_c, surroundings.sun_w_m2  # the wind is part of the loss
    (
        (qq, qp),
        (aq, aa, am, ap, ao, asun),
        (mq, ma, mm, mp, mo, msun),
        (bq, ba, bm, bb, bp, bo, bsun),
        (rq, rr, rp),
        (oo, oout),
    ) = _weights(parameters, fan_on, dt_s)
    return State(
        qq * q + qp * heater_w,
        aq * q + aa * air + am * mass + ap * heater_w + ao * out + asun * sun,
        mq * q + ma * air + mm * mass + mp * heater_w + mo * out + msun * sun,
        bq * q + ba * air + bm * mass + bb * bench + bp * heater_w + bo * out + bsun * sun,
        rq * q + rr * ridge + rp * heater_w,
        oo * outdoor + oout * out,
    )


# Rows and columns of the rate matrix: the state first, as in State, then the inputs.
_ELEMENT, _AIR, _MASS, _BENCH, _RIDGE, _OUTDOOR, _POWER, _OUTSIDE, _SUN = range(9)

# What each part of the state can depend on, in the order advance() unpacks.
_DEPENDS = (
    (_ELEMENT, _POWER),
    (_ELEMENT, _AIR, _MASS, _POWER, _OUTSIDE, _SUN),
    (_ELEMENT, _AIR, _MASS, _POWER, _OUTSIDE, _SUN),
    (_ELEMENT, _AIR, _MASS, _BENCH, _POWER, _OUTSIDE, _SUN),
    (_ELEMENT, _RIDGE, _POWER),
    (_OUTDOOR, _OUTSIDE),
)

_Weights = tuple[
    tuple[float, float],
    tuple[float, float, float, float, float, float],
    tuple[float, float, float, float, float, float],
    tuple[float, float, float, float, float, float, float],
    tuple[float, float, float],
    tuple[float, float],
]


# A rehearsal needs a handful of these; a house under a real clock, whose steps differ
# by milliseconds, some hundreds. Each is under 2 kB.
@lru_cache(maxsize=1024)
def _weights(parameters: Parameters, fan_on: bool, dt_s: float) -> _Weights:
    if dt_s < 0.0:
        raise ValueError("the house cannot be advanced backwards")
    whole = exponential(_rates(parameters, fan_on), dt_s)
    _follow_at_once(whole, parameters)
    rows = zip(whole[: len(_DEPENDS)], _DEPENDS, strict=True)
    return tuple(tuple(row[source] for source in sources) for row, sources in rows)  # type: ignore[return-value]  # lengths as in _DEPENDS


def _rates(p: Parameters, fan_on: bool) -> Matrix:
    """Per second: how each part is drawn to others (towards) and heated (from a source)."""
    rates = [[0.0] * 9 for _ in range(9)]

    def towards(part: int, other: int, rate: float) -> None:
        rates[part][other] += rate
        rates[part][part] -= rate

    loss_w_per_k = p.loss_w_per_k + (p.fan_w_per_k if fan_on else 0.0)
    towards(_AIR, _OUTSIDE, loss_w_per_k / p.air_j_per_k)
    towards(_AIR, _MASS, p.mass_w_per_k / p.air_j_per_k)
    towards(_MASS, _AIR, p.mass_w_per_k / p.mass_j_per_k)
    rates[_AIR][_SUN] = SUN_TO_AIR * p.sun_m2 / p.air_j_per_k
    rates[_MASS][_SUN] = (1.0 - SUN_TO_AIR) * p.sun_m2 / p.mass_j_per_k
    heat = _POWER
    if p.element_lag_s > 0.0:
        heat = _ELEMENT
        towards(_ELEMENT, _POWER, 1.0 / p.element_lag_s)
    rates[_AIR][heat] = 1.0 / p.air_j_per_k
    if p.probe_lag_s > 0.0:
        towards(_BENCH, _AIR, 1.0 / p.probe_lag_s)
        towards(_OUTDOOR, _OUTSIDE, 1.0 / p.probe_lag_s)
        rates[_RIDGE][heat] = p.ridge_k_per_w / p.probe_lag_s
        rates[_RIDGE][_RIDGE] = -1.0 / p.probe_lag_s
    return rates


def _follow_at_once(whole: Matrix, p: Parameters) -> None:
    """Where there is no lag, the end of the step is what the part follows."""
    if p.element_lag_s == 0.0:
        whole[_ELEMENT] = [float(column == _POWER) for column in range(9)]
    if p.probe_lag_s == 0.0:
        whole[_BENCH] = whole[_AIR]
        whole[_RIDGE] = [p.ridge_k_per_w * weight for weight in whole[_ELEMENT]]
        whole[_OUTDOOR] = [float(column == _OUTSIDE) for column in range(9)]
