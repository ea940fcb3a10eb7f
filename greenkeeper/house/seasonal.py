"""A heating season: what is asked, and what comes out, whatever the weather is known from.

Lives here: a case (which house, what is fitted, how warm), which improvements are in place
on a day or in a night, and the demand that is found. Does not live here: the finding
itself, from hours (season_hours.py) or from means (season_means.py).

A day of the year is 100 times its month plus its day: 1015 is 15 October.
"""

from collections.abc import Callable, Collection
from datetime import date
from typing import NamedTuple, Protocol

from greenkeeper.house.envelope import Envelope, envelope
from greenkeeper.settings.house import House, Improvement

MONTHS = 12

# Days on which winter is at its coldest, north and south of the equator.
NORTHERN_MIDWINTER, SOUTHERN_MIDWINTER = 115, 715
W_PER_KW = 1000.0


class Case(NamedTuple):
    """One house held at one temperature. The factors are 1 but for asking what if."""

    house: House
    in_place: frozenset[str]  # improvements, where their season and hour have come
    day_c: float
    night_c: float
    vent_c: float = 25.0  # where the house is aired, and sun goes to waste
    skin_factor: float = 1.0
    air_factor: float = 1.0
    loss_factor: float = 1.0  # a measured loss over the sheet's

    def warmer(self, by_k: float) -> "Case":
        return self._replace(day_c=self.day_c + by_k, night_c=self.night_c + by_k)

    def loss_w_k(self, sheet: Envelope) -> float:
        skin_w_k = (sheet.skin_w_k + sheet.edge_w_k) * self.skin_factor
        return (skin_w_k + sheet.air_w_k * self.air_factor) * self.loss_factor


class Demand(NamedTuple):
    """What holding it takes, January to December, in a year or in the span that is known."""

    months_kwh: tuple[float, ...]
    without_sun_kwh: float  # the whole, had neither sun nor store helped
    peak_w: float | None  # None: means know no peak
    short_h: Callable[[float], float] | None  # hours a heater of so many watts is not enough
    months_cost: tuple[float, ...] | None = None  # by the prices of its time; None: no tariff

    @property
    def cost(self) -> float | None:
        return None if self.months_cost is None else sum(self.months_cost)

    @property
    def kwh(self) -> float:
        return sum(self.months_kwh)


class Climate(Protocol):
    """Weather as far as it is known."""

    words: str  # what it is, for people
    days: float  # how many days are known; 365 or so make a year
    has_sun: bool
    has_sky: bool  # how warm the sky looks
    lowest_c: float | None  # None: means do not say how cold it got

    def demand(self, case: Case) -> Demand: ...

    def months_c(self) -> tuple[float | None, ...]:
        """The mean outside by month; None: nothing is known of it."""
        ...


class Stages:
    """The envelopes a case goes through, each worked out once."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._known: dict[frozenset[str], Envelope] = {}

    def in_force(self, day: int, dark: bool) -> frozenset[str]:
        return in_force(self._case.house, self._case.in_place, day, dark)

    def at(self, day: int, dark: bool) -> Envelope:
        return self.of(self.in_force(day, dark))

    def of(self, names: frozenset[str]) -> Envelope:
        if names not in self._known:
            self._known[names] = envelope(self._case.house, names)
        return self._known[names]


def day_of_year(day: date) -> int:
    return 100 * day.month + day.day


def in_force(house: House, names: Collection[str], day: int, dark: bool) -> frozenset[str]:
    """Which of these improvements are there in this light. day: of the year, as day_of_year has it,
    not the how-manieth."""
    return frozenset(name for name in names if _is_there(house.improvements[name], day, dark))


def _is_there(improvement: Improvement, day: int, dark: bool) -> bool:
    if improvement.nights_only and not dark:
        return False
    if improvement.from_ is None or improvement.to is None:
        return True
    first, last = (int(text.replace("-", "")) for text in (improvement.from_, improvement.to))
    return first <= day <= last if first <= last else day >= first or day <= last
