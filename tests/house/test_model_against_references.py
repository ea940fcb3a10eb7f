"""The model against formulas and SciPy.

The right-hand side below is written out once more, on purpose: it shares no line with
the rate matrix it checks.
"""

import math
from collections.abc import Sequence
from random import Random

import numpy as np
import pytest
import scipy.integrate
import scipy.linalg

from greenkeeper.house.model import Parameters, State, advance
from greenkeeper.house.weather import Surroundings
from tests.support import tables
from tests.support.houses import BARE, uniform

TWO_NODES = BARE._replace(
    air_j_per_k=60e3, mass_j_per_k=2000e3, mass_w_per_k=150.0, probe_lag_s=60.0
)


def _slopes(
    y: Sequence[float], p: Parameters, around: Surroundings, power_w: float, fan_on: bool
) -> list[float]:
    """dy/dt of (element, air, mass, bench probe, ridge excess, outdoor probe)."""
    element, air, mass, bench, ridge, outdoor = y
    loss = p.loss_w_per_k + (p.fan_w_per_k if fan_on else 0.0)
    sun_w = p.sun_m2 * around.sun_w_m2
    to_mass_w = p.mass_w_per_k * (air - mass)
    return [
        (power_w - element) / p.element_lag_s,
        (element + 0.5 * sun_w - loss * (air - around.outdoor_c) - to_mass_w) / p.air_j_per_k,
        (to_mass_w + 0.5 * sun_w) / p.mass_j_per_k,
        (air - bench) / p.probe_lag_s,
        (p.ridge_k_per_w * element - ridge) / p.probe_lag_s,
        (around.outdoor_c - outdoor) / p.probe_lag_s,
    ]


def _integrated(
    p: Parameters, state: State, around: Surroundings, power_w: float, fan_on: bool, dt_s: float
) -> tuple[float, ...]:
    run = scipy.integrate.solve_ivp(
        lambda _t, y: _slopes(y, p, around, power_w, fan_on),
        (0.0, dt_s),
        list(state)[:6],
        method="LSODA",
        rtol=1e-11,
        atol=1e-11,
    )
    assert run.success
    return tuple(float(end) for end in run.y[:, -1])


def test_air_alone_cools_exponentially() -> None:
    # One node: T(t) = Tinf + (T0 - Tinf) exp(-t/tau), tau = C/UA = 1800 s
    for dt_s in (60.0, 970.0, 1800.0, 5400.0):
        cooled = advance(BARE, uniform(10.0), Surroundings(-2.0, 0.0), 0.0, False, dt_s)
        assert cooled.air_c == pytest.approx(-2.0 + 12.0 * math.exp(-dt_s / 1800.0), abs=1e-12)


def test_air_alone_warms_towards_outside_plus_heat_over_loss() -> None:
    # 63.2 % of the way after one time constant, 95.0 % after three
    for dt_s, share in ((1800.0, 0.632), (5400.0, 0.950)):
        warm = advance(BARE, uniform(0.0), Surroundings(0.0, 0.0), 2000.0, False, dt_s)
        assert warm.air_c == pytest.approx(20.0 * share, abs=20.0 * 0.0005)


def test_cooling_from_10_to_5_takes_tau_times_the_logarithm() -> None:
    dt_s = 1800.0 * math.log(12.0 / 7.0)  # 970 s
    cooled = advance(BARE, uniform(10.0), Surroundings(-2.0, 0.0), 0.0, False, dt_s)
    assert dt_s == pytest.approx(970.0, abs=0.5)
    assert cooled.air_c == pytest.approx(5.0, abs=1e-12)


@pytest.mark.parametrize("row", tables.rows("two_node_response"), ids=lambda row: row["hours"])
def test_two_nodes_follow_the_computed_example(row: dict[str, str]) -> None:
    dt_s = float(row["hours"]) * 3600.0
    cooled = advance(TWO_NODES, uniform(10.0), Surroundings(0.0, 0.0), 0.0, False, dt_s)
    assert cooled.air_c == pytest.approx(float(row["air_k"]), abs=0.0006)
    assert cooled.mass_c == pytest.approx(float(row["mass_k"]), abs=0.0006)


def test_two_nodes_agree_with_scipys_exponential_and_integrator() -> None:
    matrix = np.array([[-250.0 / 60e3, 150.0 / 60e3], [150.0 / 2000e3, -150.0 / 2000e3]])
    time_constants = sorted(-1.0 / np.linalg.eigvals(matrix).real)
    assert time_constants == pytest.approx([237.4, 33696.0], rel=0.0005)
    for dt_s in (60.0, 360.0, 3600.0, 43200.0):
        cooled = advance(TWO_NODES, uniform(10.0), Surroundings(0.0, 0.0), 0.0, False, dt_s)
        exact = scipy.linalg.expm(matrix * dt_s) @ [10.0, 10.0]
        run = scipy.integrate.solve_ivp(
            lambda _t, y: matrix @ y, (0.0, dt_s), [10.0, 10.0], rtol=1e-11, atol=1e-12
        )
        assert (cooled.air_c, cooled.mass_c) == pytest.approx(tuple(exact), abs=1e-10)
        assert (cooled.air_c, cooled.mass_c) == pytest.approx(tuple(run.y[:, -1]), abs=1e-7)


@pytest.mark.parametrize("seed", range(16))
def test_whole_house_agrees_with_an_integrator_for_random_houses(seed: int) -> None:
    chance = Random(seed)
    lag_s = chance.uniform(20.0, 600.0)
    p = Parameters(
        loss_w_per_k=chance.uniform(20.0, 300.0),
        air_j_per_k=chance.uniform(2e4, 4e5),
        mass_j_per_k=chance.uniform(3e5, 5e6),
        mass_w_per_k=chance.uniform(20.0, 400.0),
        element_lag_s=lag_s,
        probe_lag_s=lag_s if seed % 4 == 0 else chance.uniform(20.0, 600.0),
        sun_m2=chance.uniform(0.5, 8.0),
        fan_w_per_k=chance.uniform(50.0, 400.0),
        ridge_k_per_w=chance.uniform(0.0, 0.003),
    )
    state = State(
        element_w=chance.uniform(0.0, 2000.0),
        air_c=chance.uniform(-10.0, 20.0),
        mass_c=chance.uniform(-10.0, 20.0),
        bench_c=chance.uniform(-10.0, 20.0),
        ridge_above_k=0.5,
        outdoor_probe_c=3.0,
    )
    for _ in range(5):
        around = Surroundings(chance.uniform(-12.0, 15.0), chance.choice([0.0, 350.0]))
        power_w, fan_on = chance.choice([0.0, 1500.0]), chance.random() < 0.5
        dt_s = chance.uniform(5.0, 1800.0)
        expected = _integrated(p, state, around, power_w, fan_on, dt_s)
        state = advance(p, state, around, power_w, fan_on, dt_s)
        assert state[:6] == pytest.approx(expected, abs=2e-6, rel=1e-8)
