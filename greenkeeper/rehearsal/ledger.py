"""What is written down while a span of weather is lived through.

Lives here: sums and extremes, tick by tick, and one row an hour for tables and pictures.
Does not live here: running (run.py), and words (reports/rehearsal.py).

Temperatures here are the true ones of the air at the plants, not what a probe says of it.
"""

from collections.abc import Iterable
from typing import NamedTuple


class Hour(NamedTuple):
    """One hour of a zone and of the outdoors; heated is the share of a full heater's heat."""

    from_utc_s: float
    low_c: float
    mean_c: float
    high_c: float
    outdoor_c: float
    heat_kwh: float
    heated: float
    cooled: float  # share of the hour a fan or vent was at work
    cost: float | None  # of the heat, by the prices of this hour; None: no tariff
    below_s: float  # under the minimum
    locked: bool  # a lock-out stood when it began


class Told(NamedTuple):
    """An alarm that was raised: how often, when first, and what it said then."""

    code: str
    subject: str
    times: int
    first_utc_s: float
    text: str


class ZoneFigures(NamedTuple):
    name: str
    minimum_c: float | None  # of its tenderest plant
    maximum_c: float | None
    low_c: float
    low_utc_s: float
    mean_c: float
    high_c: float
    high_utc_s: float
    below_s: float  # under the minimum
    below_kh: float
    above_s: float
    above_kh: float
    held_low_c: float | None  # the lowest in the hours that count for a comparison
    hours: tuple[Hour, ...]


AFTER_HARD = 2  # hours: the house is warmed up again by then


class OutputFigures(NamedTuple):
    name: str
    heats: bool
    on_s: float
    switched_on: int
    longest_on_s: float
    kwh: float | None
    cost: float | None  # None: likewise, or no tariff


class Result(NamedTuple):
    """One rehearsal."""

    from_utc_s: float
    to_utc_s: float
    ticks: int
    zones: tuple[ZoneFigures, ...]
    outputs: tuple[OutputFigures, ...]
    kwh: float  # all heaters
    cost: float | None  # of them; None: no tariff
    told: tuple[Told, ...]
    hard_hours: frozenset[int]  # from the start, in which the heater alone was not enough
    took_s: float
    cleared: int = 0  # lock-outs that a person cleared
    foretold: bool = False  # invented forecasts told control of the next morning
    # In which no way of switching could have held more: the hard ones, and those after.
    beyond_hours: frozenset[int] = frozenset()


def beyond(hard: Iterable[int], hours: int) -> frozenset[int]:
    """Of so many hours, the hard ones and those after; a hard one below 0 came before them."""
    after = range(AFTER_HARD + 1)
    return frozenset(hour + late for hour in hard for late in after) & frozenset(range(hours))


class ZoneLedger:
    """One zone's sums. `take` is called every tick, so it does as little as it can."""

    def __init__(
        self,
        name: str,
        minimum_c: float | None,
        maximum_c: float | None,
        *,
        dt_s: float,
        leave_out: frozenset[int] = frozenset(),
    ) -> None:
        """leave_out: hours since the start that do not count for held_low_c."""
        self._name, self._minimum_c, self._maximum_c = name, minimum_c, maximum_c
        self._coldest_allowed = float("-inf") if minimum_c is None else minimum_c
        self._warmest_allowed = float("inf") if maximum_c is None else maximum_c
        self._dt_s = dt_s
        self._leave_out = leave_out
        self._hour_low = float("inf")
        self._hour_high = float("-inf")
        self._hour_low_s = self._hour_high_s = 0.0
        self._hour_sum, self._hour_ticks = 0.0, 0
        self._below_s = self._below_ks = self._above_s = self._above_ks = 0.0
        self._below_before_s = 0.0  # of the hours that are closed
        self._lows: list[tuple[float, float]] = []
        self._highs: list[tuple[float, float]] = []
        self._hours: list[Hour] = []

    def forget(self) -> None:
        """What was written down so far was not meant to be kept."""
        self._below_s = self._below_ks = self._above_s = self._above_ks = 0.0
        self._below_before_s = 0.0
        self._lows.clear()
        self._highs.clear()
        self._hours.clear()

    def take(self, temp_c: float, utc_s: float) -> None:
        if temp_c < self._hour_low:
            self._hour_low, self._hour_low_s = temp_c, utc_s
        if temp_c > self._hour_high:
            self._hour_high, self._hour_high_s = temp_c, utc_s
        self._hour_sum += temp_c
        self._hour_ticks += 1
        if temp_c < self._coldest_allowed:
            self._below_s += self._dt_s
            self._below_ks += (self._coldest_allowed - temp_c) * self._dt_s
        elif temp_c > self._warmest_allowed:
            self._above_s += self._dt_s
            self._above_ks += (temp_c - self._warmest_allowed) * self._dt_s

    def end_hour(
        self,
        from_utc_s: float,
        outdoor_c: float,
        heat_kwh: float,
        heated: float,
        cooled: float,
        cost: float | None = None,
        *,
        locked: bool = False,
    ) -> None:
        """Close the hour's row; all but temperatures is the house's, the same for every zone."""
        if self._hour_ticks == 0:
            return
        mean_c = self._hour_sum / self._hour_ticks
        self._hours.append(
            Hour(
                from_utc_s,
                self._hour_low,
                mean_c,
                self._hour_high,
                outdoor_c,
                heat_kwh,
                heated,
                cooled,
                cost,
                self._below_s - self._below_before_s,
                locked,
            )
        )
        self._below_before_s = self._below_s
        self._lows.append((self._hour_low, self._hour_low_s))
        self._highs.append((self._hour_high, self._hour_high_s))
        self._hour_low, self._hour_high = float("inf"), float("-inf")
        self._hour_sum, self._hour_ticks = 0.0, 0

    def figures(self) -> ZoneFigures:
        low_c, low_utc_s = min(self._lows)
        high_c, high_utc_s = max(self._highs)
        counted = [low for i, (low, _) in enumerate(self._lows) if i not in self._leave_out]
        return ZoneFigures(
            name=self._name,
            minimum_c=self._minimum_c,
            maximum_c=self._maximum_c,
            low_c=low_c,
            low_utc_s=low_utc_s,
            mean_c=sum(hour.mean_c for hour in self._hours) / len(self._hours),
            high_c=high_c,
            high_utc_s=high_utc_s,
            below_s=self._below_s,
            below_kh=self._below_ks / 3600.0,
            above_s=self._above_s,
            above_kh=self._above_ks / 3600.0,
            held_low_c=min(counted) if counted else None,
            hours=tuple(self._hours),
        )
