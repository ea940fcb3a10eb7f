"""What recorded energy cost: each hour of it by the price of its time.

Lives here: laying the tariff over the journal's energy. Does not live here: the prices
(settings/prices.py), and how much was used (journal/reader.py).
"""

from collections.abc import Iterable

from greenkeeper.journal.answers import Energy
from greenkeeper.journal.reader import Journal
from greenkeeper.settings.prices import Prices


def of(journal: Journal, output: str, used: Energy, prices: Prices) -> float:
    """An hour in which the price changes is taken minute by minute; where the minutes are
    gone, as if it had been used evenly. Raises JournalError."""
    if used.kwh == 0.0:
        return 0.0
    ends_s = used.utc_s + used.within_s
    if not prices.steady(used.utc_s, ends_s):
        minutes = journal.energy_minutes(output, used.utc_s, ends_s)
        if minutes:
            return sum(each.kwh * prices.at(each.utc_s) for each in minutes)
    return used.kwh * prices.mean(used.utc_s, ends_s)


def of_all(
    journal: Journal, output: str, used: Iterable[Energy], prices: Prices | None
) -> float | None:
    """None: no tariff, or nothing is known of the energy. Raises JournalError."""
    known = list(used)
    if prices is None or not known:
        return None
    return sum(of(journal, output, each, prices) for each in known)
