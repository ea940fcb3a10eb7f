"""When it is coldest, counted from sunrise."""

from random import Random

import pytest

from greenkeeper.house.learning.dawn import AROUND_S, Dawn, dawn_offset_s
from greenkeeper.learned import Estimate, Unknown

MINUTES = int(2 * AROUND_S / 60)
MIDDLE = MINUTES // 2


def dawn(low_at: int, *, noise_k: float = 0.0, seed: int = 1) -> Dawn:
    chance = Random(seed)
    return Dawn(
        [0.03 * abs(at - low_at) + chance.uniform(-noise_k, noise_k) for at in range(MINUTES)]
    )


def test_the_low_is_told_from_sunrise_on() -> None:
    found = dawn_offset_s([dawn(MIDDLE + 20)] * 6)
    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(20 * 60.0, abs=60.0)


def test_noise_widens_it_and_moves_it_little() -> None:
    dawns = [dawn(MIDDLE + 20 + 5 * (n % 5 - 2), noise_k=0.1, seed=n) for n in range(10)]
    found = dawn_offset_s(dawns)
    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(20 * 60.0, abs=2.0 * found.sigma)


def test_a_morning_that_only_grows_colder_or_milder_says_nothing() -> None:
    falling = Dawn([-0.01 * at for at in range(MINUTES)])
    rising = Dawn([0.01 * at for at in range(MINUTES)])
    found = dawn_offset_s([falling, rising] * 5 + [dawn(MIDDLE)] * 4)
    assert isinstance(found, Unknown)
    assert "4 mornings" in found.reason


def test_a_morning_with_holes_says_nothing() -> None:
    holed = Dawn([None if at % 2 else 1.0 for at in range(MINUTES)])
    assert isinstance(dawn_offset_s([holed] * 9 + [Dawn([None] * MINUTES), Dawn([])]), Unknown)
