"""The matrix exponential against SciPy's and against the one case with a closed form."""

import math
from random import Random

import numpy as np
import pytest
import scipy.linalg

from greenkeeper.house.exponential import Matrix, exponential


def _network(chance: Random, size: int) -> Matrix:
    """Random flows between parts, none of them negative, some missing."""
    rates = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(size):
            if i != j and chance.random() < 0.5:
                rates[i][j] = 10.0 ** chance.uniform(-5.0, 0.0)
        rates[i][i] = -sum(rates[i])
    return rates


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("dt_s", [0.5, 10.0, 3600.0])
def test_agrees_with_scipy_for_random_networks(seed: int, dt_s: float) -> None:
    rates = _network(Random(seed), 6)
    expected = scipy.linalg.expm(np.array(rates) * dt_s)
    assert np.array(exponential(rates, dt_s)) == pytest.approx(expected, rel=1e-9, abs=1e-13)


def test_two_equal_lags_in_a_row_give_the_closed_form() -> None:
    lag_s, dt_s = 120.0, 300.0
    rate = 1.0 / lag_s
    result = exponential([[-rate, 0.0], [rate, -rate]], dt_s)
    decay = math.exp(-dt_s / lag_s)
    assert result[0] == pytest.approx([decay, 0.0], rel=1e-14)
    assert result[1] == pytest.approx([dt_s / lag_s * decay, decay], rel=1e-14)


def test_nothing_cancels_where_time_constants_nearly_meet() -> None:
    a, b, dt_s = 1.0 / 120.0, 1.0 / 120.000001, 300.0
    result = exponential([[-a, 0.0], [a, -b]], dt_s)
    # (exp(-b t) - exp(-a t)) a / (a - b), written so that the difference does not cancel
    expected = a * math.exp(-a * dt_s) * math.expm1((a - b) * dt_s) / (a - b)
    assert result[1][0] == pytest.approx(expected, rel=1e-9)


def test_weights_are_never_negative_and_keep_a_uniform_temperature() -> None:
    for seed in range(20):
        result = exponential(_network(Random(seed), 7), 977.0)
        for row in result:
            assert min(row) >= 0.0
            assert sum(row) == pytest.approx(1.0, rel=1e-11)


def test_no_time_and_no_rates_change_nothing() -> None:
    identity = [[1.0, 0.0], [0.0, 1.0]]
    assert exponential([[-0.5, 0.5], [0.1, -0.1]], 0.0) == identity
    assert exponential([[0.0, 0.0], [0.0, 0.0]], 60.0) == identity
