"""The outlook for the coming night: settings, journal and what was learned, put together.

Lives here: which course counts, and the figures of every way. Does not live here: which house
it is (outlook_house.py), the journal's part (outlook_data.py), physics (outlook/), layout
(outlook_sheet.py).
"""

import math
from collections.abc import Callable, Iterator, Sequence
from statistics import median, pstdev
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.house.network import Parameters
from greenkeeper.learned import Learned
from greenkeeper.model import Morning
from greenkeeper.outlook.advice import LEAST_KWH, Advice, Limits, Ways, advise
from greenkeeper.outlook.ahead import Heater, House, Night
from greenkeeper.outlook.course import FORECAST, Course, Point, by_evening, by_last_nights
from greenkeeper.outlook.evening import LEAST_EVENINGS, Fit, fit
from greenkeeper.reports import outlook_house, words
from greenkeeper.reports.darkness import NothingToReckonError
from greenkeeper.reports.outlook_data import Situation
from greenkeeper.reports.outlook_house import Variants
from greenkeeper.reports.reminders import Reminder
from greenkeeper.settings.derived import (
    heat_power_w,
    heat_setpoint_c,
    is_tented,
    plants_minimum_c,
    plants_of,
)
from greenkeeper.settings.prices import prices_of
from greenkeeper.settings.schema import Settings

_LEAST_HEATED = 3  # nights that tell how heat is held
_AFTER_SUNRISE_S = 3600.0  # the house is coldest some time after the air
_MEDIAN_OVER_MEAN = 1.2533  # of its standard error
_STANDS_OUT = 2.0  # standard errors
_LEAST_OFF_K = 0.2  # less is nothing an owner could see


class Outlook(NamedTuple):
    made_utc_s: float
    site: str
    zone: str
    sunset_utc_s: float
    until_utc_s: float  # looked ahead until then
    inside_c: float  # now
    outdoor_c: float  # now
    kind: str  # of the outdoor course: one of course.EVENING, NIGHTS, FORECAST
    source: str  # the same in words
    outdoor_low: Point
    outdoor: tuple[Point, ...]
    outdoor_band_c: tuple[float, float]  # its low lies there eight nights in ten
    heater: str | None  # the output that heats this zone. None: nothing does
    heater_w: float | None  # None: nothing heats
    hold_c: float | None
    house: str  # whose figures, in words
    loss_w_per_k: float
    ways: Ways
    limits: Limits
    advice: Advice
    notes: tuple[str, ...] = ()  # what was not used, and why
    # The low inside, as it stands, lies there eight nights in ten. None: too few are scored.
    inside_band_c: tuple[float, float] | None = None
    reminders: tuple[Reminder, ...] = ()  # of covers and linings by season; the first zone's
    corrected_k: float = 0.0  # so much the outdoor low was moved by what its source always misses
    morning: Morning | None = None  # what a forecast says of it; the first zone's


def course(found: Situation) -> Course:
    """The best there is. Raises GreenkeeperError where there is none."""
    if found.outdoor is None:
        raise GreenkeeperError(
            "there is no outdoor reading of the last half hour: does the keeper run, and is a "
            "working probe named as site.outdoor_probe?"
        )
    if found.start_c is not None:
        line = _evenings_fit(found)
        if line is not None:
            return by_evening(line, found.start_c, found.start_dew_c, found.dark, found.outdoor)
    fallen = by_last_nights(found.outdoor, found.falls_k, found.dark, found.courses_k)
    if fallen is None:
        raise NothingToReckonError(
            f"whole nights of the outdoor probe in the journal: {len(found.falls_k)}; it takes "
            f"three before a fourth can be reckoned, and {LEAST_EVENINGS} for the evening method"
        )
    return fallen


def _evenings_fit(found: Situation) -> Fit | None:
    """With the dew point where it is known of tonight and of enough evenings before."""
    dewy = [each for each in found.evenings if each.dew_point_c is not None]
    if found.start_dew_c is not None and (line := fit(dewy)) is not None:
        return line
    return fit([each._replace(dew_point_c=None) for each in found.evenings])


def outlooks(
    settings: Settings,
    situations: Sequence[Situation],
    ahead: Course,
    learned: Learned | None,
    notes: Sequence[str] = (),
) -> list[Outlook]:
    """Of each zone that can be looked ahead for; why another cannot is a note of the first.
    Raises GreenkeeperError where none can."""
    made: list[Outlook] = []
    told: list[str] = []
    sound = True
    for each in situations:
        try:
            made.append(outlook(settings, each, ahead, learned))
        except GreenkeeperError as error:
            told.append(f"no outlook for {each.zone}: {error}")
            sound &= isinstance(error, NothingToReckonError)
    if not made:
        raise (NothingToReckonError if sound else GreenkeeperError)("; ".join(told))
    made[0] = made[0]._replace(notes=(*notes, *told))
    return made


def outlook(
    settings: Settings, found: Situation, ahead: Course, learned: Learned | None
) -> Outlook:
    """Of one zone. Raises GreenkeeperError where it cannot be looked ahead for."""
    if found.inside is None or found.outdoor is None:
        raise GreenkeeperError(f"{found.zone} has no reading of the last half hour")
    variants = outlook_house.variants(settings, found.dark.sunset_utc_s, learned)
    if variants.learned:
        ahead = ahead._replace(winds=())  # of which winds its nights were, nobody noted
    heater, heater_w = _heater(settings, found.zone)
    hold_c = heat_setpoint_c(settings, found.zone, night=True)
    until_s = found.dark.sunrise_utc_s + _AFTER_SUNRISE_S
    prices = prices_of(settings)
    reckoned = _Reckoned(settings, found, until_s, None if prices is None else prices.at)
    harsh = ahead.colder(ahead.band_k[0])
    ways = Ways(
        cold=reckoned.night(variants.bare, ahead, heat=False),
        kept=reckoned.night(variants.bare, ahead) if heater_w is not None else None,
        covered_cold=reckoned.maybe(variants.covered, ahead, heat=False),
        covered_kept=reckoned.maybe(variants.covered, ahead) if heater_w is not None else None,
        harsh=reckoned.night(variants.bare, harsh, heat=heater_w is not None),
    ).ordered()
    limits = _limits(settings, found.zone, hold_c, variants.covers)
    low = ahead.low
    return Outlook(
        found.now_utc_s, settings.site.name, found.zone, found.dark.sunset_utc_s, until_s,
        found.inside.temp_c, found.outdoor.temp_c, ahead.kind, ahead.source, low, ahead.points,
        (low.temp_c - ahead.band_k[0], low.temp_c + ahead.band_k[1]),
        heater, heater_w, hold_c, _in_words(variants, ahead), variants.bare.loss_w_per_k, ways,
        limits,
        advise(ways, limits, _deadline(settings, found), _moments(settings), _currency(settings)),
        corrected_k=ahead.corrected_k,
    )  # fmt: skip


def _in_words(variants: Variants, ahead: Course) -> str:
    return f"{variants.source}, in the wind of the forecast" if ahead.winds else variants.source


def _heater(settings: Settings, zone: str) -> tuple[str | None, float | None]:
    """The output that heats the zone, and its power. Raises GreenkeeperError without a power."""
    heat = settings.zones[zone].heat
    if heat is None:
        return None, None
    power_w = heat_power_w(settings, heat)
    if power_w is None:
        raise NothingToReckonError(outlook_house.no_power(settings, heat))
    return heat.output, power_w


def usual_k(values_k: Sequence[float], otherwise_k: float) -> float:
    """Of heated nights; what it is taken for where too few of them tell."""
    return median(values_k) if len(values_k) >= _LEAST_HEATED else otherwise_k


class _Reckoned:
    """The same night in one house after another."""

    def __init__(
        self,
        settings: Settings,
        found: Situation,
        until_utc_s: float,
        price: Callable[[float], float] | None,
    ) -> None:
        self._settings, self._found, self._until_utc_s = settings, found, until_utc_s
        self._price = price
        self._tented = is_tented(settings, found.zone)
        heat = settings.zones[found.zone].heat
        half_k = 0.0 if heat is None else heat.hysteresis_k / 2.0
        # Relay, element and probe are slow: on average the air is held above the setpoint, and
        # dips below it all the same: below what the reckoned air comes to.
        self._above_k = usual_k(found.habit.holds_k, half_k)
        dip_k = usual_k(found.habit.dips_k, 0.0)
        self._dip_k = max(0.0, dip_k + min(0.0, self._above_k))

    def night(self, parameters: Parameters, ahead: Course, *, heat: bool = True) -> Night:
        measured = any(each.tent_c is not None for each in self._found.past)
        house = House(parameters, tent=measured)
        state = house.now(self._found.past)
        if state is None:
            raise GreenkeeperError(f"nothing was measured in {self._found.zone} within a day")
        night = house.ahead(
            state,
            ahead,
            self._found.now_utc_s,
            self._until_utc_s,
            heaters=[each for each in self._heaters() if heat or not each.counts],
            sun_w=house.sun_w(self._found.past),
            sunset_utc_s=self._found.dark.sunset_utc_s,
            price=self._price,
            under_tent=self._tented,
        )
        return night._replace(low_c=night.low_c - self._dip_k) if night.kwh >= LEAST_KWH else night

    def maybe(
        self, parameters: Parameters | None, ahead: Course, *, heat: bool = True
    ) -> Night | None:
        return None if parameters is None else self.night(parameters, ahead, heat=heat)

    def _heaters(self) -> Iterator[Heater]:
        """Every heater of the house, each at the highest that any zone asks of it: what it
        holds is told at this zone's coldest place."""
        settings, own = self._settings, self._settings.zones[self._found.zone].heat
        asked: dict[tuple[str, bool], tuple[float, float]] = {}  # held on average, and where on
        powers_w: dict[str, float | None] = {}
        for name, zone in settings.zones.items():
            hold_c = heat_setpoint_c(settings, name, night=True)
            if zone.heat is None or hold_c is None:
                continue
            powers_w[zone.heat.output] = heat_power_w(settings, zone.heat)
            above_k = self._above_k
            if name != self._found.zone:
                hold_c += self._found.warmer_k.get(name, 0.0)
                above_k = zone.heat.hysteresis_k / 2.0
            key, now = (zone.heat.output, is_tented(settings, name)), (hold_c + above_k, hold_c)
            asked[key] = max(now, asked.get(key, now))
        for (output, tented), (hold_c, on_c) in asked.items():
            power_w = powers_w[output]
            counts = own is not None and output == own.output
            if power_w is not None:
                yield Heater(power_w, hold_c, tented, counts, on_c)


def left_alone(
    settings: Settings,
    found: Situation,
    course: Course,
    until_utc_s: float,
    learned: Learned | None,
) -> Night:
    """The night without this zone's heater. Raises GreenkeeperError."""
    reckoned = _Reckoned(settings, found, until_utc_s, None)
    house = outlook_house.as_it_stands(settings, found.dark.sunset_utc_s, learned)
    return reckoned.night(house, course, heat=False)


def _limits(settings: Settings, zone: str, hold_c: float | None, covers: str) -> Limits:
    minimum_c = plants_minimum_c(settings, zone)
    if minimum_c is not None:
        tenderest = max(
            (plant for plant in plants_of(settings, zone) if plant.lowest_c is not None),
            key=lambda plant: plant.lowest_c or 0.0,
        )
        return Limits(minimum_c, tenderest.name, covers)
    if hold_c is None:
        raise GreenkeeperError(
            f"no plant in {zone} has a minimum, and nothing heats it: there is nothing to keep"
        )
    return Limits(hold_c, "", covers)


def _moments(settings: Settings) -> Callable[[float], str]:
    return lambda utc_s: words.moment(utc_s, settings.site.timezone, with_day=False)


def _currency(settings: Settings) -> str:
    return "" if settings.tariff is None else settings.tariff.currency


def _deadline(settings: Settings, found: Situation) -> str:
    if found.now_utc_s >= found.dark.sunset_utc_s:
        return "now"
    return f"before {_moments(settings)(found.dark.sunset_utc_s)}"


def with_misses(found: Course, misses_k: Sequence[float]) -> Course:
    """The course with the band that its source's own past misses make. A forecast is moved by
    what it always misses: it is of a square of kilometres that knows no frost hollow.

    misses_k: what came less what the source said, of nights past. Too few: as it is.
    """
    tenths_k = _tenths(misses_k)
    if tenths_k is None:
        return found
    off_k = _steady_k(misses_k) if found.kind == FORECAST else 0.0
    below_k, above_k = (each - off_k for each in tenths_k)
    found = found._replace(band_k=(max(0.0, -below_k), max(0.0, above_k)))
    if off_k == 0.0:
        return found
    moved = f"{abs(off_k):.1f} K {'lower' if off_k < 0.0 else 'higher'}"
    return found.colder(-off_k)._replace(
        corrected_k=off_k,
        source=f"{found.source}, its low {moved}, as it was in {len(misses_k)} nights here",
    )


def _steady_k(misses_k: Sequence[float]) -> float:
    """Their median, where it stands out from how far they lie apart; else nothing."""
    middle_k = median(misses_k)
    unsure_k = _MEDIAN_OVER_MEAN * pstdev(misses_k) / math.sqrt(len(misses_k))
    return middle_k if abs(middle_k) > max(_LEAST_OFF_K, _STANDS_OUT * unsure_k) else 0.0


def with_inside_band(found: Outlook, misses_k: Sequence[float]) -> Outlook:
    """misses_k: of the zone's lows, what came less what was said by this kind of course."""
    tenths_k = _tenths(misses_k)
    if tenths_k is None:
        return found
    low_c = found.ways.stands.low_c
    return found._replace(inside_band_c=(low_c + tenths_k[0], low_c + tenths_k[1]))


def _tenths(misses_k: Sequence[float]) -> tuple[float, float] | None:
    """Eight of ten lie between. None: too few to say."""
    if len(misses_k) < LEAST_EVENINGS:
        return None
    ordered = sorted(misses_k)
    tenth = (len(ordered) - 1) / 10.0
    return _at(ordered, tenth), _at(ordered, len(ordered) - 1 - tenth)


def _at(ordered: Sequence[float], place: float) -> float:
    under = min(int(place), len(ordered) - 2)
    return ordered[under] + (ordered[under + 1] - ordered[under]) * (place - under)
