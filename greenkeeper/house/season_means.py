"""A heating season from a day's low and high, or from a month's mean, by degree days.

Lives here: degree days times the loss. Does not live here: the degree days' formulas
(degree_days.py), sun and stored warmth, of which means know nothing: what comes out is
what it takes without them, and so more than the truth.
"""

import calendar
from collections.abc import Sequence
from typing import NamedTuple

from greenkeeper.house import degree_days
from greenkeeper.house.seasonal import MONTHS, W_PER_KW, Case, Demand, Stages

# 70 to 80 % of a greenhouse's heating falls at night (Extension Foundation, farm energy
# course, on thermal curtains): so much of it a cover laid at night can touch.
NIGHT_SHARE = 0.75

# A common year: what the 29th of February asks for is lost in the rounding of means.
_YEAR = 2025


class DayRecord(NamedTuple):
    day: int  # of the year: 1015 is 15 October
    low_c: float
    high_c: float


class Months:
    """Twelve means, January to December."""

    has_sun = False
    has_sky = False

    def __init__(
        self, means_c: Sequence[float], night_share: float, price: float | None = None
    ) -> None:
        """night_share: of the 24 hours, those in which the night's setpoint holds. price: of a
        kWh, in the mean of when heat is wanted."""
        self.words = "from monthly means, by degree days"
        self.days = 365.0
        self.lowest_c: float | None = None
        self._means_c = tuple(means_c)
        self._night_share, self._price = night_share, price

    def months_c(self) -> tuple[float | None, ...]:
        return self._means_c

    def demand(self, case: Case) -> Demand:
        stages = Stages(case)
        found = []
        for month, mean_c in enumerate(self._means_c, 1):
            count = calendar.monthrange(_YEAR, month)[1]
            kd = sum(
                share * degree_days.of_month(mean_c, base_c, count)
                for share, base_c in _bases(case, self._night_share)
            )
            losses = (_loss_w_k(case, stages, 100 * month + day + 1) for day in range(count))
            found.append(_kwh(kd, sum(losses) / count))
        return _demand(found, self._price)


class Days:
    """A day's low and high, day by day, as a thermometer that keeps both tells them."""

    has_sun = False
    has_sky = False

    def __init__(
        self,
        days: Sequence[DayRecord],
        night_share: float,
        words: str,
        price: float | None = None,
    ) -> None:
        self.words = words
        self.days = float(len(days))
        self.lowest_c: float | None = min(each.low_c for each in days)
        self._days = tuple(days)
        self._night_share, self._price = night_share, price

    def months_c(self) -> tuple[float | None, ...]:
        means: list[list[float]] = [[] for _ in range(MONTHS)]
        for each in self._days:
            means[each.day // 100 - 1].append((each.low_c + each.high_c) / 2.0)
        return tuple(sum(known) / len(known) if known else None for known in means)

    def demand(self, case: Case) -> Demand:
        stages = Stages(case)
        found = [0.0] * MONTHS
        for each in self._days:
            kd = sum(
                share * degree_days.of_day(each.low_c, each.high_c, base_c).heating_kd
                for share, base_c in _bases(case, self._night_share)
            )
            found[each.day // 100 - 1] += _kwh(kd, _loss_w_k(case, stages, each.day))
        return _demand(found, self._price)


def _demand(months_kwh: Sequence[float], price: float | None) -> Demand:
    costs = None if price is None else tuple(kwh * price for kwh in months_kwh)
    return Demand(tuple(months_kwh), sum(months_kwh), None, None, costs)


def _bases(case: Case, night_share: float) -> tuple[tuple[float, float], ...]:
    return ((night_share, case.night_c), (1.0 - night_share, case.day_c))


def _loss_w_k(case: Case, stages: Stages, day: int) -> float:
    by_night = case.loss_w_k(stages.at(day, dark=True))
    by_day = case.loss_w_k(stages.at(day, dark=False))
    return NIGHT_SHARE * by_night + (1.0 - NIGHT_SHARE) * by_day


def _kwh(kd: float, loss_w_k: float) -> float:
    return kd * 24.0 * loss_w_k / W_PER_KW
