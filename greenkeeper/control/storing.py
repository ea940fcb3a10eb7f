"""Whether heat kept in the house from cheap hours pays for itself in dearer ones.

Lives here: the reckoning, from the house's figures and a tariff's hours. Does not live here:
how cold the night is and what is done about it (ahead.py), prices themselves
(settings/prices.py).

Behind the air lies one mass of capacity C and conductance G; the cover loses H. Air held 1 K
warmer for t cheap hours puts S = C(1 - exp(-t G/C)) into the mass, and takes S + H t + C_air.
Of S, the share exp(-a G/C) - exp(-b G/C) comes back between a and b hours later, and is worth
what those hours cost. So it pays where

    worth S  >  price_now (S + H t + C_air),    worth = sum of price (exp(-a G/C) - exp(-b G/C))

and most where exp(-t G/C) = price_now H / ((worth - price_now) G). Own algebra, no source.
What comes back in the light is not counted: the sun may have made it worthless by then.
"""

from functools import lru_cache
from math import exp, inf, log
from typing import NamedTuple

from greenkeeper.learned import Estimate, Learned, Unknown
from greenkeeper.settings.derived import heat_power_w, warmest_ahead_c
from greenkeeper.settings.house import House
from greenkeeper.settings.prices import Prices, prices_of
from greenkeeper.settings.schema import Settings
from greenkeeper.sun import is_below

QUARTER_S = 900.0  # a tariff's hours are looked at in steps of this
_QUARTER_H = QUARTER_S / 3600.0
_DAY = 96  # quarters
_LIGHT_DEG = 0.0  # the sun's elevation from which heat may come from it
_SLIGHTEST_PRICE = 1e-9
# Weeks with a year's longest nights, north and south of the equator: from 18 December and 18 June.
_DARKEST_UTC_S = (1_797_552_000.0, 1_781_740_800.0)

# What an owner who measures and reckons still gets wrong. Own guess, no published source.
_DESCRIBED_WRONG_BY = 0.3
_FIGURES = ("loss_w_per_k", "mass_w_per_k", "mass_kj_per_k", "air_kj_per_k")


class Store(NamedTuple):
    """One house. All above zero."""

    loss_w_per_k: float
    mass_w_per_k: float
    mass_wh_per_k: float
    air_wh_per_k: float

    @property
    def hours(self) -> float:
        """The time constant with which the mass follows the air."""
        return self.mass_wh_per_k / self.mass_w_per_k

    def filled(self, hours: float) -> float:
        """How much of what it can hold is in the mass after so long: 0 to 1."""
        return 1.0 - exp(-hours / self.hours)

    def taken_wh(self, hours: float) -> float:
        """By 1 K for so long, all together."""
        return (
            self.mass_wh_per_k * self.filled(hours) + self.loss_w_per_k * hours + self.air_wh_per_k
        )


class Market(NamedTuple):
    """Where the house stands in time and in money, and its figures."""

    stores: tuple[Store, ...]  # as the house may be, each a little to its disadvantage
    prices: Prices
    latitude: float
    longitude: float


class StorePlan(NamedTuple):
    """A zone that may be heated ahead."""

    market: Market
    power_w: float  # of its heaters
    most_c: float  # no setpoint is raised above this
    currency: str


class Stretch(NamedTuple):
    """Cheap hours, and what they come before."""

    price: float
    lasts_h: float  # from their beginning to their end
    left_h: float
    dearer: float  # what the first hour after them costs
    returns: tuple[tuple[float, float], ...]  # hours after them, in quarters that count: price


class Charge(NamedTuple):
    """Heat that pays when it is put in during the last `hours` of the cheap ones."""

    hours: float
    stretch: Stretch
    filled: float  # share of what the mass can hold
    saved_per_k: float  # in the tariff's money, for each kelvin


class Prospect(NamedTuple):
    """What a tariff offers a house in the darkest week of a year."""

    best: Charge | None  # None: it never pays
    offered: float  # the dear hours by the cheap ones, at the most. inf: those are free
    pays_from: float  # and what it would have to be there. inf: at no price


def store_plan(settings: Settings, zone: str, learned: Learned | None) -> StorePlan | Unknown:
    """What it takes to heat a heated zone ahead, or why it cannot be done here."""
    heat, tariff, site = settings.zones[zone].heat, settings.tariff, settings.site
    prices = prices_of(settings)
    if heat is None or tariff is None or prices is None or prices.flat is not None:
        return Unknown("the tariff knows no hours at different prices")
    if site.latitude is None or site.longitude is None:
        return Unknown("site.latitude and longitude are missing: nobody knows when it is light")
    if site.outdoor_probe is None:
        return Unknown("site.outdoor_probe is missing: nobody knows how much heat is needed")
    power_w = heat_power_w(settings, heat)
    if power_w is None:
        return Unknown("a heater's power_w is missing")
    stores = store_of(settings, zone, learned)
    if isinstance(stores, Unknown):
        return stores
    market = Market(stores, prices, site.latitude, site.longitude)
    return StorePlan(market, power_w, warmest_ahead_c(settings, zone), tariff.currency)


def store_of(settings: Settings, zone: str, learned: Learned | None) -> tuple[Store, ...] | Unknown:
    """The house's figures, each at that end of its uncertainty at which heating ahead pays less.

    A greater mass holds more and gives it back later: both its ends are there. What was
    learned holds for the zone it was learned in, what is described for none under a tent.
    """
    heat = settings.zones[zone].heat
    here = None if heat is None else (zone, heat.output)
    if learned is not None and (learned.zone, learned.heater) == here:
        figures = learned.figures()
        known = {n: f for n in _FIGURES if isinstance(f := figures[n], Estimate)}
        if len(known) == len(_FIGURES):
            return _careful(known)
    tent = settings.house.tent
    if set(_FIGURES) <= settings.house.model_fields_set and (tent is None or tent.zone != zone):
        return _careful(_described(settings.house))
    return Unknown("how much heat the house can keep is neither learned nor described")


def _described(house: House) -> dict[str, Estimate]:
    written = {name: getattr(house, name) for name in _FIGURES}
    return {name: Estimate(value, _DESCRIBED_WRONG_BY * value) for name, value in written.items()}


def _careful(known: dict[str, Estimate]) -> tuple[Store, ...] | Unknown:
    loss, coupling, mass, air = (known[name] for name in _FIGURES)
    least_w_per_k = coupling.value - coupling.sigma
    found = tuple(
        Store(loss.value + loss.sigma, least_w_per_k, kj / 3.6, (air.value + air.sigma) / 3.6)
        for kj in (mass.value - mass.sigma, mass.value + mass.sigma)
    )
    if not all(0.0 < figure < inf for store in found for figure in store):
        return Unknown("how much heat the house can keep is not known well enough")
    return found


@lru_cache(maxsize=64)  # a quarter of an hour has 90 ticks
def charge(market: Market, quarter: int) -> Charge | None:
    """What pays, if now is the time for it. quarter: of POSIX time, its seconds by QUARTER_S."""
    stretch = stretch_of(market, quarter)
    if stretch is None:
        return None
    best = best_of(market, stretch)
    return best if best is not None and stretch.left_h <= best.hours else None


def best_of(market: Market, stretch: Stretch) -> Charge | None:
    """What pays most before the end of these hours, however wrong the figures are; or None."""
    found = [_best(store, stretch) for store in market.stores]
    known = [each for each in found if each is not None]
    return min(known, key=lambda each: each.saved_per_k) if len(known) == len(found) else None


def prospect(market: Market) -> Prospect:
    """Whether it would ever pay, cold enough as it may be."""
    first = int(_DARKEST_UTC_S[market.latitude < 0.0] // QUARTER_S)
    hours = (stretch_of(market, first + 4 * hour) for hour in range(7 * 24))
    stretches = [each for each in hours if each is not None]
    best = [each for s in stretches if (each := best_of(market, s)) is not None]
    needed = [short_of(market, each) * _ratio(each) for each in stretches if each.price > 0.0]
    return Prospect(
        max(best, key=lambda each: each.saved_per_k, default=None),
        max(map(_ratio, stretches), default=1.0),
        min(needed, default=inf),
    )


def _ratio(stretch: Stretch) -> float:
    dearest = max((price for _, price in stretch.returns), default=stretch.dearer)
    return inf if stretch.price <= 0.0 else dearest / stretch.price


def short_of(market: Market, stretch: Stretch) -> float:
    """How many times as dear the dear hours would have to be for these to just pay; below 1
    they do. inf: at no price."""
    return max(_short_of(store, stretch) for store in market.stores)


def stretch_of(market: Market, quarter: int) -> Stretch | None:
    """The hours around now that cost the same, if they come before dearer ones."""
    prices = market.prices
    if prices.flat is not None:
        return None
    now = _price(prices, quarter)
    ends = next((k for k in range(1, _DAY) if not _same(_price(prices, quarter + k), now)), None)
    if ends is None or _price(prices, quarter + ends) < now:
        return None
    begins = next((k for k in range(1, _DAY) if not _same(_price(prices, quarter - k), now)), _DAY)
    return Stretch(
        now,
        (begins - 1 + ends) * _QUARTER_H,
        ends * _QUARTER_H,
        _price(prices, quarter + ends),
        _returns(market, quarter + ends, now),
    )


def _returns(market: Market, first: int, cheap: float) -> tuple[tuple[float, float], ...]:
    """The dearer quarters that follow, as far as they are dark; no further than first light."""
    found: list[tuple[float, float]] = []
    for k in range(_DAY):
        price = _price(market.prices, first + k)
        if price <= cheap or _same(price, cheap):
            break
        middle_s = (first + k + 0.5) * QUARTER_S
        if is_below(_LIGHT_DEG, middle_s, market.latitude, market.longitude):
            found.append((k * _QUARTER_H, price))
        elif found:
            break
    return tuple(found)


def _price(prices: Prices, quarter: int) -> float:
    return prices.at((quarter + 0.5) * QUARTER_S)


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= _SLIGHTEST_PRICE


def _best(store: Store, stretch: Stretch) -> Charge | None:
    gained = _worth(store, stretch) - stretch.price
    if gained <= 0.0:
        return None
    left = stretch.price * store.loss_w_per_k / (gained * store.mass_w_per_k)
    if left >= 1.0:
        return None
    hours = stretch.lasts_h if left <= 0.0 else min(stretch.lasts_h, -store.hours * log(left))
    saved = _saved(store, stretch, hours)
    return Charge(hours, stretch, store.filled(hours), saved) if saved > 0.0 else None


def _saved(store: Store, stretch: Stretch, hours: float) -> float:
    kept_wh = store.mass_wh_per_k * store.filled(hours)
    worth = _worth(store, stretch) * kept_wh
    return (worth - stretch.price * store.taken_wh(hours)) / 1000.0


def _worth(store: Store, stretch: Stretch) -> float:
    """What a kWh in the mass at the end of the cheap hours spares in the dear ones."""
    lost = exp(-_QUARTER_H / store.hours)
    return sum(price * exp(-at_h / store.hours) * (1.0 - lost) for at_h, price in stretch.returns)


def _short_of(store: Store, stretch: Stretch) -> float:
    worth = _worth(store, stretch)
    if worth <= 0.0:
        return inf
    hours = [_QUARTER_H * k for k in range(1, max(1, round(stretch.lasts_h / _QUARTER_H)) + 1)]
    kept = worth * store.mass_wh_per_k
    return min(stretch.price * store.taken_wh(t) / (kept * store.filled(t)) for t in hours)
