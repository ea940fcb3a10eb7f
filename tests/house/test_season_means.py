"""A season from means: degree days times the loss, worked by hand."""

import pytest

from greenkeeper.house import degree_days
from greenkeeper.house.envelope import envelope
from greenkeeper.house.season_means import NIGHT_SHARE, DayRecord, Days, Months
from greenkeeper.house.seasonal import Case
from greenkeeper.settings.house import House

PLAIN = House.model_validate({"loss_w_per_k": 100.0})
FACTOR = 100.0 / envelope(PLAIN).loss_w_k
HALF = 0.5


def _case(day_c: float, night_c: float) -> Case:
    return Case(PLAIN, frozenset(), day_c, night_c, loss_factor=FACTOR)


def test_days_worked_by_hand() -> None:
    week = Days([DayRecord(114 + day, -2.0, 4.0) for day in range(7)], HALF, "a book")
    # 7 days, 5 - 1 K, 100 W/K
    found = week.demand(_case(5.0, 5.0))
    assert found.kwh == pytest.approx(7 * 4 * 24 * 0.1)
    assert found.months_kwh[0] == found.kwh
    assert week.months_c()[:2] == (1.0, None)


def test_day_and_night_setpoints_count_by_their_hours() -> None:
    week = Days([DayRecord(114 + day, -2.0, 4.0) for day in range(7)], 0.25, "a book")
    found = week.demand(_case(day_c=9.0, night_c=5.0))
    assert found.kwh == pytest.approx(7 * (0.75 * 8 + 0.25 * 4) * 24 * 0.1)


def test_months_are_hitchins() -> None:
    year = Months([3.0] * 12, HALF)
    kd = sum(degree_days.of_month(3.0, 5.0, days) for days in (31, 28, 30))
    months = year.demand(_case(5.0, 5.0)).months_kwh
    assert months[0] + months[1] + months[3] == pytest.approx(kd * 24 * 0.1)


def test_a_cover_by_night_touches_the_nights_share() -> None:
    skin = House.model_validate(
        {"improvements": {"screen": {"lining": "thermal-screen", "nights_only": True}}}
    )
    year = Months([0.0] * 12, HALF)
    without, with_ = (
        year.demand(Case(skin, frozenset(names), 5.0, 5.0)).kwh for names in ((), ("screen",))
    )
    share = 1.0 - envelope(skin, ["screen"]).loss_w_k / envelope(skin, ()).loss_w_k
    assert with_ == pytest.approx(without * (1.0 - NIGHT_SHARE * share))


def test_a_lining_counts_from_its_first_day_to_its_last() -> None:
    skin = House.model_validate(
        {"improvements": {"film": {"lining": "bubble-film", "from": "11-16", "to": "02-28"}}}
    )
    year = Months([0.0] * 12, HALF)
    without, with_ = (
        year.demand(Case(skin, frozenset(names), 5.0, 5.0)).months_kwh for names in ((), ("film",))
    )
    saved = [1.0 - after / before for before, after in zip(without, with_, strict=True)]
    assert saved[:2] == pytest.approx([saved[11]] * 2)
    assert saved[0] > 0.05
    assert saved[10] == pytest.approx(saved[0] / 2)
    assert saved[2:10] == pytest.approx([0.0] * 8)
