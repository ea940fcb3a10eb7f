"""A changed house is told once it is sure, and a windy week is not."""

import pytest

from greenkeeper.errors import CATALOGUE, Level
from greenkeeper.house.learning.drift import CODE, Newest, drift
from greenkeeper.learned import Estimate, Figure, Past, Unknown

DAY_S = 86_400.0
NOW_S = 100.0 * DAY_S
NOT_KNOWN = Unknown("nobody looked")


def past(loss: float, *, ended_days_ago: float, sigma: float = 0.03) -> Past:
    ended_s = NOW_S - ended_days_ago * DAY_S
    figures = {"loss_w_per_k": Estimate(loss, loss * sigma),
               "rise_k": Estimate(1500.0 / loss, 1500.0 / loss * sigma)}  # fmt: skip
    return Past(ended_s, ended_s - 14 * DAY_S, figures)


def newest(loss: float, *, days: float = 14.0, sigma: float = 0.03, power: bool = True) -> Newest:
    rise: Figure = Estimate(1500.0 / loss, 1500.0 / loss * sigma)
    return Newest(NOW_S - days * DAY_S, Estimate(loss, loss * sigma) if power else NOT_KNOWN, rise)


def test_a_lining_that_came_down_is_told_with_how_much() -> None:
    notice = drift([newest(65.0)], [past(52.0, ended_days_ago=15)])
    assert notice is not None
    assert notice.code == CODE
    assert "more than before: up 25 %, from 52 W/K to 65 W/K" in notice.text
    assert CATALOGUE[CODE].level is Level.NOTICE


def test_a_house_that_was_lined_is_told_as_well() -> None:
    notice = drift([newest(39.0)], [past(52.0, ended_days_ago=15)])
    assert notice is not None
    assert "less than before: down 25 %" in notice.text


@pytest.mark.parametrize(("loss", "sigma"), [(60.0, 0.01), (70.0, 0.12)])
def test_little_or_unsure_is_not_told(loss: float, sigma: float) -> None:
    assert drift([newest(loss, sigma=sigma)], [past(52.0, ended_days_ago=15)]) is None


def test_nights_are_never_held_against_themselves() -> None:
    assert drift([newest(70.0)], [past(52.0, ended_days_ago=10)]) is None


def test_the_latest_of_the_earlier_ones_counts_and_one_of_years_ago_does_not() -> None:
    history = [past(40.0, ended_days_ago=60), past(64.0, ended_days_ago=20)]
    assert drift([newest(65.0)], history) is None
    assert drift([newest(65.0)], [past(40.0, ended_days_ago=500)]) is None


def test_a_few_newest_nights_are_enough_when_they_are_sure() -> None:
    history = [past(52.0, ended_days_ago=8)]
    notice = drift([newest(70.0, days=7.0), newest(61.0)], history)
    assert notice is not None
    assert "70 W/K" in notice.text


def test_without_a_power_the_same_is_told_as_a_ratio() -> None:
    notice = drift([newest(65.0, power=False)], [past(52.0, ended_days_ago=15)])
    assert notice is not None
    assert "up 25 %" in notice.text
    assert "W/K" not in notice.text


def test_what_is_not_known_is_no_change() -> None:
    nothing = Newest(NOW_S, NOT_KNOWN, NOT_KNOWN)
    assert drift([nothing], [past(52.0, ended_days_ago=15)]) is None
    assert drift([newest(65.0)], []) is None
