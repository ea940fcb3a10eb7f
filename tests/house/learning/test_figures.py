"""Nights that no house could have had teach nothing, and raise nothing."""

from collections.abc import Callable

import numpy as np
import pytest

from greenkeeper.house.learning.figures import LEAST_NIGHTS, figures
from greenkeeper.house.learning.nights import Evidence, Night, prepared
from greenkeeper.learned import FIGURES, Unknown

MINUTES = 8 * 60
AT = np.arange(MINUTES)
Made = Callable[[np.random.Generator], tuple[np.ndarray, np.ndarray, np.ndarray]]

MADE_UP: dict[str, Made] = {
    "nothing ever moves": lambda chance: (np.full(MINUTES, 5.0), np.full(MINUTES, -3.0),
                                          np.full(MINUTES, 15.0)),
    "colder inside, with the heater on": lambda chance: (
        -10.0 + chance.normal(0.0, 0.1, MINUTES), np.full(MINUTES, -3.0), np.full(MINUTES, 60.0)),
    "numbers out of a hat": lambda chance: (
        chance.uniform(-40.0, 60.0, MINUTES), chance.uniform(-40.0, 60.0, MINUTES),
        chance.uniform(0.0, 60.0, MINUTES)),
    "the warmer the less it is heated, and no lag": lambda chance: (
        5.0 - 3.0 * np.sin(AT / 20.0 - 1.0), np.full(MINUTES, -3.0),
        60.0 * (np.sin(AT / 20.0) > 0.0)),
    "the heat goes elsewhere": lambda chance: (
        5.0 + chance.normal(0.0, 0.03, MINUTES), np.full(MINUTES, -3.0),
        60.0 * (chance.random(MINUTES) > 0.7)),
}  # fmt: skip


def nights(made: Made, count: int = LEAST_NIGHTS) -> list[Night]:
    chance = np.random.default_rng(1)
    found = []
    for number in range(count):
        inside_c, outdoor_c, heater_s = (list(each) for each in made(chance))
        night = prepared(
            Evidence(86_400.0 * number, {"a": inside_c}, outdoor_c, heater_s, [True] * MINUTES)
        )
        assert isinstance(night, Night)
        found.append(night)
    return found


@pytest.mark.parametrize("what", MADE_UP)
def test_what_no_house_would_do_is_refused_with_a_reason(what: str) -> None:
    found = figures(nights(MADE_UP[what]), 1500.0)
    assert all(isinstance(each, Unknown) and each.reason for each in found.values())
    assert {*found, "dawn_offset_s"} == set(FIGURES)


def test_few_nights_or_hardly_any_heat_are_refused_without_trying() -> None:
    few = figures(nights(MADE_UP["nothing ever moves"], LEAST_NIGHTS - 1), 1500.0)
    cold = [night._replace(duty=night.duty * 0.001)
            for night in nights(MADE_UP["nothing ever moves"])]  # fmt: skip
    unheated = figures(cold, 1500.0)
    for found, why in ((few, "3 usable nights"), (unheated, "it takes two hours")):
        assert all(isinstance(each, Unknown) and why in each.reason for each in found.values())


def test_no_night_at_all_is_refused() -> None:
    assert all(isinstance(each, Unknown) for each in figures([], None).values())
