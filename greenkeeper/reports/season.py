"""What a season costs, and what each thing one could do about it would change.

Lives here: the questions a grower asks of a house and its weather, as cases that are
worked out, and their answers as facts. Does not live here: physics (house/), sentences
and tables (season_words.py).
"""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from greenkeeper.house.envelope import Envelope, fitted
from greenkeeper.house.heatloss import Heater
from greenkeeper.house.seasonal import Case, Climate, Demand
from greenkeeper.reports import season_house
from greenkeeper.reports.season_house import Held
from greenkeeper.settings import derived
from greenkeeper.settings.derived import Switching
from greenkeeper.settings.prices import prices_of
from greenkeeper.settings.schema import Plant, Settings

Excess = tuple[Switching, float]  # a way of switching, and by how much its mean is above its lowest
Progress = Callable[[float], None]  # told the share that is done

DEGREES_K = (-2.0, -1.0, 1.0, 2.0)
A_FIFTH = 0.2
MOST_RUNGS = 3  # of the ladder of plants: whom one could do without, one after the other
_SAME_C = 1e-9


class WhatIf(NamedTuple):
    """One thing changed, and what it then takes."""

    name: str
    kwh: float
    saves_kwh: float
    saves_cost: float | None  # None: no tariff
    price: float | None
    lasts_years: float | None

    @property
    def pays_back_years(self) -> float | None:
        """None: it has no price, or saves nothing, or nobody knows what a kWh costs."""
        if self.price is None or self.saves_cost is None or self.saves_cost <= 0.0:
            return None
        return self.price / self.saves_cost

    @property
    def worn_out_before(self) -> bool:
        years = self.pays_back_years
        return years is not None and self.lasts_years is not None and years > self.lasts_years


class Rung(NamedTuple):
    """Without these plants, so warm would do."""

    without: tuple[str, ...]
    next_in_line: str
    setpoint_c: float
    saves_kwh: float
    saves_cost: float | None  # None: no tariff


class Degree(NamedTuple):
    """Held warmer by so much."""

    warmer_k: float
    kwh: float
    cost: float | None  # None: no tariff


class Switched(NamedTuple):
    """The same plants kept, by one way of switching the heater."""

    way: Switching | None  # None: a heater that holds exactly the minimum, as none can
    over_k: float  # held on average above the minimum that its lowest is
    kwh: float
    cost: float | None  # None: no tariff


class Facts(NamedTuple):
    who: Held
    climate: Climate
    sheet: Envelope
    base: Demand
    heater: Heater
    heater_improved: Heater  # the same, with every improvement in place by night
    improvements: tuple[WhatIf, ...]  # the soonest paid back first
    together: WhatIf | None  # None: fewer than two of them
    improved: Demand | None  # the same, month by month
    degrees: tuple[Degree, ...]
    tenderest: tuple[Plant, ...]
    other_zones: tuple[str, ...]  # heated by themselves, and not counted
    rungs: tuple[Rung, ...]
    unsure: tuple[tuple[str, float, float], ...]  # of what, kWh a fifth better, a fifth worse
    switched: tuple[Switched, ...]  # the plain switch first; empty: nobody asked
    ideal: Switched | None  # beside them, at the very same lowest; None: nobody asked
    per_kwh: float | None  # None: no tariff, or it differs by the hour
    currency: str

    def short_h(self) -> float | None:
        """Hours the heater was not enough; None: the weather or its power is not known."""
        if self.base.short_h is None or self.heater.has_w is None:
            return None
        return self.base.short_h(self.heater.has_w)

    @property
    def is_year(self) -> bool:
        """Whether the weather spans years, so that a year's cost is known."""
        return self.climate.days >= 360.0


def facts(
    settings: Settings,
    who: Held,
    climate: Climate,
    progress: Progress = lambda _: None,
    excesses: Sequence[Excess] = (),
) -> Facts:
    """excesses: of the ways of switching to tell of. Raises GreenkeeperError for no house."""
    return _Questions(settings, who, climate, progress, len(excesses) + bool(excesses)).answers(
        excesses
    )


class _Questions:
    """Every case is worked out once, with a sign of life after each."""

    def __init__(
        self, settings: Settings, who: Held, climate: Climate, progress: Progress, ways: int
    ) -> None:
        self._settings, self._who, self._climate = settings, who, climate
        self._sheet = season_house.described(settings)
        house = settings.house
        self._there = fitted(house)
        self._open = tuple(name for name in house.improvements if name not in self._there)
        factor = season_house.loss_factor(settings, self._sheet)
        case = Case(house, self._there, who.day_c, who.night_c, loss_factor=factor)
        self._case = case if who.vent_c is None else case._replace(vent_c=who.vent_c)
        self._progress, self._done = progress, 0
        self._cases = 1 + len(self._open) + 1 + len(DEGREES_K) + MOST_RUNGS + 6 + ways
        self._base = self._demand(self._case)

    def answers(self, excesses: Sequence[Excess]) -> Facts:
        tariff, house = self._settings.tariff, self._settings.house
        prices = prices_of(self._settings)
        loss_w_k = self._case.loss_w_k(self._sheet)
        everything = self._case._replace(in_place=self._there | set(self._open))
        improved = self._demand(everything) if len(self._open) > 1 else None
        improvements = sorted((self._improved(name) for name in self._open), key=_soonest)
        return Facts(
            who=self._who,
            climate=self._climate,
            sheet=self._sheet,
            base=self._base,
            heater=season_house.heater(self._settings, self._who, loss_w_k),
            heater_improved=season_house.heater(
                self._settings,
                self._who,
                self._case.loss_w_k(season_house.in_midwinter(self._settings, house.improvements)),
            ),
            improvements=tuple(improvements),
            together=None if improved is None else self._all_improved(improved),
            improved=improved,
            degrees=tuple(self._degree(by_k) for by_k in DEGREES_K),
            tenderest=tuple(_tenderest(_with_a_minimum(self._settings, self._who.zone))),
            other_zones=tuple(_other_zones(self._settings, self._who)),
            rungs=tuple(self._rungs()),
            unsure=tuple(self._unsure()),
            switched=tuple(self._switched(*each) for each in excesses),
            ideal=self._switched(None, 0.0) if excesses else None,
            per_kwh=None if prices is None else prices.flat,
            currency="" if tariff is None else tariff.currency,
        )

    def _demand(self, case: Case) -> Demand:
        found = self._climate.demand(case)
        self._done += 1
        self._progress(self._done / self._cases)
        return found

    def _degree(self, by_k: float) -> Degree:
        found = self._demand(self._case.warmer(by_k))
        return Degree(by_k, found.kwh, found.cost)

    def _switched(self, way: Switching | None, over_k: float) -> Switched:
        lowest_c = min(self._who.day_c, self._who.night_c)
        minimum_c = derived.plants_minimum_c(self._settings, self._who.zone)
        by_k = over_k + (0.0 if minimum_c is None else minimum_c - lowest_c)
        found = self._demand(self._case.warmer(by_k))
        return Switched(way, over_k, found.kwh, found.cost)

    def _improved(self, name: str) -> WhatIf:
        found = self._demand(self._case._replace(in_place=self._there | {name}))
        each = self._settings.house.improvements[name]
        return self._what_if(name, found, each.price, each.lasts_years)

    def _all_improved(self, improved: Demand) -> WhatIf:
        prices = [self._settings.house.improvements[name].price for name in self._open]
        known = [price for price in prices if price is not None]
        price = sum(known) if len(known) == len(prices) else None
        return self._what_if("all together", improved, price)

    def _what_if(
        self, name: str, found: Demand, price: float | None, lasts_years: float | None = None
    ) -> WhatIf:
        saves_kwh = self._base.kwh - found.kwh
        return WhatIf(name, found.kwh, saves_kwh, self._saves_cost(found), price, lasts_years)

    def _saves_cost(self, found: Demand) -> float | None:
        if self._base.cost is None or found.cost is None:
            return None
        return self._base.cost - found.cost

    def _rungs(self) -> Iterator[Rung]:
        """Down the ladder of plants: without the tenderest, the next one decides."""
        left = list(_with_a_minimum(self._settings, self._who.zone))
        without: tuple[str, ...] = ()
        margin_k = None
        for _ in range(MOST_RUNGS):
            first = list(_tenderest(left))
            if not first:
                return
            lowest_c = first[0].lowest_c or 0.0
            if margin_k is None:
                margin_k = min(self._who.day_c, self._who.night_c) - lowest_c
            without = (*without, *(plant.name for plant in first))
            left = [plant for plant in left if plant not in first]
            if not left:
                return
            next_plant = next(iter(_tenderest(left)))
            by_k = (next_plant.lowest_c or 0.0) + margin_k
            by_k -= min(self._who.day_c, self._who.night_c)
            then = self._demand(self._case.warmer(by_k))
            lower_c = min(self._who.day_c, self._who.night_c) + by_k
            saves_kwh = self._base.kwh - then.kwh
            yield Rung(without, next_plant.name, lower_c, saves_kwh, self._saves_cost(then))

    def _unsure(self) -> Iterator[tuple[str, float, float]]:
        for name, skin, air in (
            ("covers and edge", True, False), ("air changes", False, True), ("both", True, True),
        ):  # fmt: skip
            better, worse = (
                self._demand(
                    self._case._replace(
                        skin_factor=factor if skin else 1.0, air_factor=factor if air else 1.0
                    )
                ).kwh
                for factor in (1.0 - A_FIFTH, 1.0 + A_FIFTH)
            )
            yield name, better, worse


def _soonest(each: WhatIf) -> tuple[bool, float, float]:
    """Paid back soonest, then whatever saves most; what is worn out before comes last."""
    years = each.pays_back_years
    no_use = years is None or each.worn_out_before
    return no_use, years if years is not None else 0.0, -each.saves_kwh


def _other_zones(settings: Settings, who: Held) -> Iterator[str]:
    for name, zone in settings.zones.items():
        if zone.heat is not None and zone.heat.output != who.heater:
            yield name


def _with_a_minimum(settings: Settings, zone: str) -> list[Plant]:
    return [plant for plant in derived.plants_of(settings, zone) if plant.lowest_c is not None]


def _tenderest(plants: list[Plant]) -> Iterator[Plant]:
    """Those that need the most warmth: several, where they need the same."""
    needs = [plant.lowest_c for plant in plants if plant.lowest_c is not None]
    for plant in plants:
        if plant.lowest_c is not None and plant.lowest_c >= max(needs) - _SAME_C:
            yield plant
