"""The physics of the house: how its temperatures move through a stretch of time.

Lives here: the parts a house is made of, and what they are after a step. Does not live
here: the flows between them (network.py), weather, a running house (simulated.py).
Everything is linear, so a step of any length under constant inputs is exact: six steps
of 10 s are one of 60 s.
"""

from typing import NamedTuple

from greenkeeper.house.network import SUN_TO_AIR, Inputs, Parameters, Weights, weights
from greenkeeper.house.weather import Surroundings

__all__ = [
    "SUN_TO_AIR",
    "Inputs",
    "Parameters",
    "State",
    "advance",
    "follow",
    "inputs_of",
    "settled",
]


class State(NamedTuple):
    """Everything the future of the house depends on.

    Parts that a house does not have stay as they are and touch nothing.
    """

    element_w: float  # heat the element gives off now, behind the power it draws
    air_c: float  # at the bench
    mass_c: float
    bench_c: float  # as a probe at the bench sees the air
    ridge_above_k: float  # a ridge probe above a bench probe. A reading only: it carries no heat
    outdoor_probe_c: float
    store_c: float = 0.0  # water
    floor_c: float = 0.0
    tent_c: float = 0.0  # the air under an inner cover
    tent_probe_c: float = 0.0

    @property
    def ridge_c(self) -> float:
        """As a probe under the ridge sees the air."""
        return self.bench_c + self.ridge_above_k


def inputs_of(
    parameters: Parameters,
    around: Surroundings,
    heater_w: float,
    *,
    tent_w: float = 0.0,
    sun_w: float | None = None,
) -> Inputs:
    """What these surroundings do to the house.

    heater_w: power the elements in the house draw; tent_w: heat given off under its tent.
    sun_w: the sun inside, if somebody has followed it through the panes.
    Raises ValueError for a house that stands on ground of which the weather does not tell.
    """
    if around.ground_c is None and parameters.ground_w_per_k > 0.0:
        raise ValueError("this house needs weather that knows the ground's temperature")
    return Inputs(
        power_w=heater_w,
        outdoor_c=around.outdoor_c,
        sun_w=parameters.sun_m2 * around.sun_w_m2 if sun_w is None else sun_w,
        sky_k=0.0 if around.sky_c is None else around.sky_c - around.outdoor_c,
        ground_c=0.0 if around.ground_c is None else around.ground_c,
        tent_w=tent_w,
    )


def settled(parameters: Parameters, surroundings: Surroundings) -> State:
    """The house after ever so long in these surroundings, unheated and with its fan at rest.

    Raises ValueError for a house without loss or without mass coupling: it never settles.
    """
    p = parameters
    if p.loss_w_per_k <= 0.0 or p.mass_w_per_k <= 0.0:
        raise ValueError("only a house that loses heat, mass coupled to its air, settles")
    _, outdoor_c, sun_w, sky_k, ground_c, _ = inputs_of(p, surroundings, 0.0)
    grounded = p.floor_j_per_k > 0.0 and p.ground_w_per_k > 0.0 and p.floor_w_per_k > 0.0
    deep_w_per_k = 1.0 / (1.0 / p.floor_w_per_k + 1.0 / p.ground_w_per_k) if grounded else 0.0
    gained_w = sun_w + p.sky_w_per_k * sky_k + deep_w_per_k * (ground_c - outdoor_c)
    air_c = outdoor_c + gained_w / (p.loss_w_per_k + deep_w_per_k)
    in_tent_w = p.tent_sun_share * sun_w if p.tent_j_per_k > 0.0 else 0.0
    mass_c = air_c + (1.0 - SUN_TO_AIR) * (sun_w - in_tent_w) / p.mass_w_per_k
    tent_c = air_c + (in_tent_w / p.tent_w_per_k if p.tent_w_per_k > 0.0 else 0.0)
    floor_c = air_c + (deep_w_per_k * (ground_c - air_c) / p.floor_w_per_k if grounded else 0.0)
    return State(0.0, air_c, mass_c, air_c, 0.0, outdoor_c, air_c, floor_c, tent_c, tent_c)


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
    step = weights(parameters, fan_on, False, dt_s)
    return follow(step, step.added(inputs_of(parameters, surroundings, heater_w)), state)


def follow(step: Weights, added: tuple[float, ...], state: State) -> State:
    """One step whose weights are known, and what its inputs add (Weights.added)."""
    if step.plain:
        return _follow_plain(step, added, state)
    q, air, mass, bench, ridge, outdoor, store, floor, tent, tent_probe = state
    (
        qq,
        (aq, aa, am, as_, af, at),
        (mq, ma, mm, ms, mf, mt),
        (sq, sa, sm, ss, sf, st),
        (fq, fa, fm, fs, ff, ft),
        (tq, ta, tm, ts, tf, tt),
        (bq, ba, bm, bs, bf, bt, bb),
        (rq, rr),
        oo,
        (pq, pa, pm, ps, pf, pt, pp),
        _,
        _,
    ) = step
    q0, air0, mass0, bench0, ridge0, outdoor0, store0, floor0, tent0, probe0 = added
    return State(
        qq * q + q0,
        aq * q + aa * air + am * mass + as_ * store + af * floor + at * tent + air0,
        mq * q + ma * air + mm * mass + ms * store + mf * floor + mt * tent + mass0,
        bq * q + ba * air + bm * mass + bs * store + bf * floor + bt * tent + bb * bench + bench0,
        rq * q + rr * ridge + ridge0,
        oo * outdoor + outdoor0,
        sq * q + sa * air + sm * mass + ss * store + sf * floor + st * tent + store0,
        fq * q + fa * air + fm * mass + fs * store + ff * floor + ft * tent + floor0,
        tq * q + ta * air + tm * mass + ts * store + tf * floor + tt * tent + tent0,
        pq * q
        + pa * air
        + pm * mass
        + ps * store
        + pf * floor
        + pt * tent
        + pp * tent_probe
        + probe0,
    )


def _follow_plain(step: Weights, added: tuple[float, ...], state: State) -> State:
    """The same for a house of air and mass alone, as most are: a third of the work."""
    q, air, mass, bench, ridge, outdoor, store, floor, tent, tent_probe = state
    qq, of_air, of_mass, _, _, _, of_bench, (rq, rr), oo, _, _, _ = step
    aq, aa, am, _, _, _ = of_air
    mq, ma, mm, _, _, _ = of_mass
    bq, ba, bm, _, _, _, bb = of_bench
    q0, air0, mass0, bench0, ridge0, outdoor0 = added
    return State(
        qq * q + q0,
        aq * q + aa * air + am * mass + air0,
        mq * q + ma * air + mm * mass + mass0,
        bq * q + ba * air + bm * mass + bb * bench + bench0,
        rq * q + rr * ridge + ridge0,
        oo * outdoor + outdoor0,
        store,
        floor,
        tent,
        tent_probe,
    )
