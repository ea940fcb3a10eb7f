"""Proportion goes by what is known best of a house, and by nothing that cannot be one."""

from typing import Any

import pytest

from greenkeeper.control import make_plan, observer, with_learned
from greenkeeper.control.figures import ANYBODYS, Known, figures_of
from greenkeeper.control.observer import Figures
from greenkeeper.learned import FIGURES, Estimate, Figure, Learned, Unknown
from greenkeeper.settings.schema import Settings
from tests.control import houses

TOLD = {"fast_s": 600.0, "air_kj_per_k": 100.0, "lag_s": 250.0}


def settings(**changes: Any) -> Settings:
    heat = {**houses.ONE_ZONE["zones"]["bench"]["heat"], "strategy": "proportion"}
    return houses.settings(zones=houses.zone(heat=heat), **changes)


def learned(zone: str = "bench", power_w: float | None = 1500.0, **told: float) -> Learned:
    figures: dict[str, Figure] = dict.fromkeys(FIGURES, Unknown("not yet"))
    figures |= {name: Estimate(value, 0.1 * value) for name, value in {**TOLD, **told}.items()}
    return Learned(0.0, 0.0, 0.0, 9, zone, "heater", power_w, **figures)


def known(what: Learned | None, **changes: Any) -> Known:
    return figures_of(settings(**changes), "bench", what)


def test_what_was_learned_comes_first() -> None:
    found = known(learned(element_lag_s=80.0, probe_lag_s=170.0))
    assert found.of_this_house
    assert found.figures == Figures(pytest.approx(9.0), 600.0, 80.0, 170.0)


def test_a_lag_that_was_not_told_apart_is_shared_out() -> None:
    figures = known(learned()).figures
    assert figures.element_s + figures.probe_s == pytest.approx(250.0)
    assert figures.element_s < figures.probe_s


def test_a_probe_whose_lag_was_measured_tells_the_two_apart() -> None:
    measured = {"probe_lag_s": 90.0}
    assert known(learned(), house=measured).figures[2:] == (160.0, 90.0)
    both = learned(element_lag_s=80.0, probe_lag_s=170.0)
    assert known(both, house=measured).figures[2:] == (80.0, 170.0), "told apart by its nights"
    longer = known(learned(), house={"probe_lag_s": 400.0}).figures
    assert longer.element_s == 5.0, "of the sum nothing is left for the element"
    assert known(None, house=measured).figures == ANYBODYS._replace(probe_s=90.0)


@pytest.mark.parametrize(
    ("changes", "more"),
    [({"probe_s": 340.0}, True), ({"element_s": 160.0}, True), ({"fast_s": 1200.0}, False)],
    ids=["seen-later", "helped-later", "heavier-air"],
)
def test_more_may_come_unforeseen_the_slower_probe_and_element_and_the_lighter_the_air(
    changes: dict[str, float], more: bool
) -> None:
    plain = Figures(gain_k=12.0, fast_s=600.0, element_s=80.0, probe_s=170.0)
    before_k, after_k = (observer.astray_k(f, 10.0) for f in (plain, plain._replace(**changes)))
    assert 0.05 < before_k < 0.3
    assert (after_k > before_k) is more


@pytest.mark.parametrize(
    "what",
    [
        None,
        learned("another-zone"),
        learned(power_w=None),
        learned(fast_s=1e-3),
        learned(air_kj_per_k=1e-6),
        learned(lag_s=1e9),
        learned()._replace(lag_s=Unknown("too few nights")),
        learned()._replace(heater="another"),
    ],
)
def test_without_a_believable_lesson_it_is_anybodys_house(what: Learned | None) -> None:
    found = known(what)
    assert not found.of_this_house
    assert found.figures == ANYBODYS


def test_a_measured_house_is_better_than_anybodys() -> None:
    heater = {**houses.ONE_ZONE["outputs"]["heater"], "power_w": 1200.0}
    found = known(
        None,
        house={"loss_w_per_k": 60.0, "mass_w_per_k": 60.0, "air_kj_per_k": 72.0},
        outputs={**houses.ONE_ZONE["outputs"], "heater": heater},
    )
    assert found.of_this_house
    assert found.figures == Figures(10.0, 600.0, 120.0, 120.0)


def test_a_lesson_reaches_a_plan_that_stands() -> None:
    plan = make_plan(settings())
    taught = with_learned(plan, settings(), learned())
    assert taught == make_plan(settings(), learned())
    assert taught != plan
    assert with_learned(taught, settings(), None) == plan
