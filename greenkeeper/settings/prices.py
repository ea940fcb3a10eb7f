"""What a kWh costs at a moment: the tariff on the clock of the wall.

Lives here: a tariff's prices by civil time. Does not live here: how much was used when.

Money follows from heat by time: a price is asked for the minutes in which the energy was
used, through the zone's own rules for summer time. Minutes are those of the wall's clock.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime, tzinfo

from greenkeeper.settings.schema import Settings, Tariff, TariffHours

DAY_MINUTES = 24 * 60
_SATURDAY = 5
_WEEK = (5.0, 2.0)  # days of the two kinds below
WEEKDAY, WEEKEND = 0, 1
_WHICH = {"all": (WEEKDAY, WEEKEND), "weekdays": (WEEKDAY,), "weekend": (WEEKEND,)}


def kinds_of_day(hours: TariffHours) -> tuple[int, ...]:
    """WEEKDAY, WEEKEND or both: the days on which these hours hold."""
    return _WHICH[hours.days]


def minutes_of_day(hours: TariffHours) -> Iterator[int]:
    """The minutes of a day that these hours hold. Both ends at midnight: all of them."""
    begins, ends = hours.from_minute, hours.to_minute
    long = (ends - begins) % DAY_MINUTES or DAY_MINUTES
    return ((begins + minute) % DAY_MINUTES for minute in range(long))


def prices_of(settings: Settings) -> "Prices | None":
    """None: there is no tariff."""
    return None if settings.tariff is None else Prices(settings.tariff, settings.site.zone)


def is_one(prices: Sequence[float]) -> bool:
    """Whether they are all the same."""
    return prices.count(prices[0]) == len(prices)


class Prices:
    """In the tariff's currency."""

    def __init__(self, tariff: Tariff, zone: tzinfo) -> None:
        self._zone = zone
        self._days = tuple([tariff.per_kwh] * DAY_MINUTES for _ in _WEEK)
        for hours in tariff.hours:
            for kind in kinds_of_day(hours):
                for minute in minutes_of_day(hours):
                    self._days[kind][minute] = hours.per_kwh
        known = {price for day in self._days for price in day}
        self.flat = known.pop() if len(known) == 1 else None  # None: it differs by time

    def at(self, utc_s: float) -> float:
        """Of one kWh in this moment."""
        kind, minute = self._local(utc_s)
        return self._days[kind][minute]

    def minutes(self, from_utc_s: float, to_utc_s: float) -> Sequence[float]:
        """Of each minute from here to there, an hour or less."""
        count = max(1, round((to_utc_s - from_utc_s) / 60.0))
        kind, first = self._local(from_utc_s)
        last_kind, last = self._local(from_utc_s + 60.0 * (count - 1))
        if kind == last_kind and last - first == count - 1:
            return self._days[kind][first : last + 1]
        return [self.at(from_utc_s + 60.0 * minute) for minute in range(count)]

    def mean(self, from_utc_s: float, to_utc_s: float) -> float:
        """Of a kWh used evenly from here to there, an hour or less."""
        if self.flat is not None:
            return self.flat
        prices = self.minutes(from_utc_s, to_utc_s)
        # An average of equal prices is that price, to the last digit.
        return prices[0] if is_one(prices) else sum(prices) / len(prices)

    def of_minute(self, minute: int) -> float:
        """At a minute of the day in the mean week: for weather that knows no weekday."""
        weekday, weekend = (day[minute % DAY_MINUTES] for day in self._days)
        days, ends = _WEEK
        return weekday if weekday == weekend else (days * weekday + ends * weekend) / (days + ends)

    def _local(self, utc_s: float) -> tuple[int, int]:
        local = datetime.fromtimestamp(utc_s, self._zone)
        kind = WEEKEND if local.weekday() >= _SATURDAY else WEEKDAY
        return kind, 60 * local.hour + local.minute
