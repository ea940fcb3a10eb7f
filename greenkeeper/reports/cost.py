"""What recorded energy cost: each hour of it by the price of its time.

Lives here: laying the tariff over the journal's energy. Does not live here: the prices
(settings/prices.py), and how much was used (journal/reader.py).
"""

from collections.abc import Iterable
from statistics import fmean

from greenkeeper.journal.answers import Energy
from greenkeeper.journal.reader import Journal
from greenkeeper.settings.prices import Prices, is_one


def of(journal: Journal, output: str, used: Energy, prices: Prices) -> float:
    """An hour in which the price changes is taken minute by minute; where the minutes are
    gone, as if it had been used evenly. Raises JournalError."""
    if prices.flat is not None or used.kwh == 0.0:
        return used.kwh * (prices.flat or 0.0)
    ends_s = used.utc_s + used.within_s
    by_minute = prices.minutes(used.utc_s, ends_s)
    if is_one(by_minute):
        return used.kwh * by_minute[0]
    minutes = journal.energy_minutes(output, used.utc_s, ends_s)
    if minutes:
        return sum(each.kwh * by_minute[(each.utc_s - used.utc_s) // 60] for each in minutes)
    return used.kwh * fmean(by_minute)


def of_all(
    journal: Journal, output: str, used: Iterable[Energy], prices: Prices | None
) -> float | None:
    """None: no tariff, or nothing is known of the energy. Raises JournalError."""
    known = list(used)
    if prices is None or not known:
        return None
    return sum(of(journal, output, each, prices) for each in known)
