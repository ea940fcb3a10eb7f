"""The search finds its way along an edge: what lies beyond one must not keep the rest from it."""

import numpy as np
import pytest

from greenkeeper.house.learning.filter import RISE, side_by_side
from greenkeeper.house.learning.fit import _step, fit
from greenkeeper.house.learning.nights import MINUTES, Night
from tests.house.learning.test_filter import HOUSE, a_night, lived


def without_chance(number: int) -> Night:
    """Nothing stirs this house, and its probe never errs: less than any fit believes of one."""
    steps, chance = 48, np.random.default_rng(number)
    pulses = np.repeat(chance.random((steps // 4, MINUTES)) > 0.5, 4, axis=0)
    outdoor_c = -3.0 + np.cumsum(chance.normal(0.0, 0.1, steps))
    duty = pulses.astype(float)
    return a_night(steps, lived(steps, duty, outdoor_c), duty, outdoor_c)


def test_what_is_held_at_its_edge_leaves_the_others_their_own_step() -> None:
    chance = np.random.default_rng(7)
    root = chance.normal(size=(5, 5))
    information, slope = root @ root.T + 5.0 * np.eye(5), 0.1 * chance.normal(size=5)
    free = np.array([True, False, True, True, False])
    step = _step(information, slope, 0.0, free)
    assert not step[~free].any()
    assert information[np.ix_(free, free)] @ step[free] == pytest.approx(-slope[free])


def test_nights_better_than_believed_are_told_all_the_same() -> None:
    found = fit(side_by_side([without_chance(number) for number in range(4)]))
    assert "reading_k" in found.at_edge
    assert found.settled
    assert np.exp(found.parameters[RISE]) == pytest.approx(HOUSE["rise_k"], rel=0.05)
