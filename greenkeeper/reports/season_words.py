"""The season in eighty columns, told so that a grower can act on it.

Lives here: sentences and tables. Does not live here: any figure (season.py), the same for
machines (season_data.py).
"""

import re
import textwrap
from collections.abc import Iterator, Sequence

from greenkeeper.house.season_hours import Hours
from greenkeeper.reports import season_sheet, weather_words
from greenkeeper.reports.season import Degree, Facts, Rung, Switched, WhatIf
from greenkeeper.settings import derived
from greenkeeper.settings.derived import Switching
from greenkeeper.settings.schema import Settings
from greenkeeper.units import shown, shown_c

WIDTH = 80
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_BAR = 36
_NO_BREAK = "\N{NO-BREAK SPACE}"
_UNITS = "(?:kWh|W|K|[A-Z]{3}|hours|years|months|days)"  # three capitals: a currency
_LONG_YEARS = 100.0
_SAME_K = 0.05  # a tenth is shown
_WORTH_YEARS = 20.0  # what pays for itself later than that is no first thing to do
_LEAST_KWH = 0.5  # a month below it has no line


def lines(found: Facts, settings: Settings) -> Iterator[str]:
    yield f"{settings.site.name}: what its warmth costs"
    yield ""
    in_short, by_what, plants, heater = paragraphs(found, settings)
    yield from wrapped(in_short[1])
    yield ""
    yield from wrapped(by_what[1])
    yield ""
    yield from _months(found)
    if found.improvements:
        yield ""
        yield from _improvements(found, settings)
    yield ""
    yield from _degrees(found)
    yield ""
    if found.switched:
        yield from _switched(found, settings)
        yield ""
    for heading, text in (plants, heater):
        yield from wrapped(f"{heading}. {text}")
        yield ""
    yield from _unsure(found)


def paragraphs(found: Facts, settings: Settings) -> list[tuple[str, str]]:
    """What is said in sentences: a heading ("" without one) and the text."""
    return [
        ("", _in_short(found, settings)),
        ("", _by_what(found, settings)),
        ("Who the warmth is for", _plants(found)),
        ("The heater", _heater(found)),
    ]


# --- in short --------------------------------------------------------------------------


def _in_short(found: Facts, settings: Settings) -> str:
    words = _takes(found, settings)
    best = _best(found)
    if best is not None and found.is_year:
        words += f" The first thing to do: {_first_thing(found, best)}."
    if found.rungs and found.rungs[0].saves_kwh >= _LEAST_KWH:
        rung = found.rungs[0]
        share = 100.0 * rung.saves_kwh / found.base.kwh
        words += f" {share:.0f} % of the warmth is for {_listed(rung.without)} alone."
    spare = found.heater.spare
    if spare is not None and spare < 0.0:
        words += " THE HEATER IS TOO SMALL for the coldest night."
    return words


def in_force(found: Facts, settings: Settings) -> Switched | None:
    """What the house takes as its heater is switched now; None: nobody rehearsed it."""
    heat = settings.zones[found.who.zone].heat
    proportion = heat is not None and heat.strategy == "proportion"
    by_way = {each.way: each for each in found.switched}
    if proportion:
        return by_way.get(Switching.PROPORTION)
    return by_way.get(Switching.SET, by_way.get(Switching.PLAIN))


def _takes(found: Facts, settings: Settings) -> str:
    """What the bill will say first; what all the rest is reckoned by, beside it."""
    base = _energy(found, found.base.kwh, found.base.cost)
    what = f"{_temperature(found)} in {found.who.zone}"
    real, ideal = in_force(found, settings), found.ideal
    if real is None or ideal is None:
        return f"{what} takes an ideal heater {base} {_span(found)}; one that switches, more."
    minimum_c = derived.plants_minimum_c(settings, found.who.zone)
    kept = "its setpoint" if minimum_c is None else shown_c(minimum_c)
    takes, least = (_energy(found, each.kwh, each.cost) for each in (real, ideal))
    return (
        f"{found.who.zone} never below {kept} takes about {takes} {_span(found)} as your heater is "
        f"switched, and would take an ideal one {least}. All below but the table of switching is "
        f"reckoned for an ideal heater that holds your setpoint, {_temperature(found)}: {base}."
    )


def _first_thing(found: Facts, best: WhatIf) -> str:
    if not best.price:
        saves = _energy(found, best.saves_kwh, best.saves_cost)
        return f"{best.name}, which costs nothing and saves {saves}"
    years = _years(best.pays_back_years or 0.0)
    return f"{best.name}, for {_money(found, best.price)}; it pays for itself in {years}"


def _best(found: Facts) -> WhatIf | None:
    return next(
        (
            each
            for each in found.improvements
            if each.pays_back_years is not None
            and each.pays_back_years <= _WORTH_YEARS
            and not each.worn_out_before
        ),
        None,
    )


def _by_what(found: Facts, settings: Settings) -> str:
    if not found.climate.has_sun:
        return (
            f"Worked out {found.climate.words}, which knows of no sun and no stored warmth, so "
            "the truth is less, often by a third in a light house, and pay-backs take longer: give "
            f"a file of hours with the sun (--weather) where you can.{_beside(found)}"
        )
    bare_kwh = found.base.without_sun_kwh
    share = 1.0 - found.base.kwh / bare_kwh if bare_kwh > 0.0 else 0.0
    return (
        f"Worked out {found.climate.words}. Sun, and the warmth that pots, soil and water store, "
        f"spare {100.0 * share:.0f} % of {bare_kwh:.0f} kWh."
        f"{_far(found, settings)}{_sky(found, settings)}{_beside(found)}"
    )


def _far(found: Facts, settings: Settings) -> str:
    if not isinstance(found.climate, Hours):
        return ""
    words = weather_words.far(found.climate.record.place, settings.site, "its own standard time")
    return f" {words}" if words else ""


def _sky(found: Facts, settings: Settings) -> str:
    """A word on what a clear sky takes, where it is left out."""
    if settings.house.sky_cooling and found.climate.has_sky:
        return ""
    words = " A clear sky, which takes more at night, is not in it"
    if found.climate.has_sky:
        return f"{words} (house.sky_cooling)."
    return f"{words}: the file does not tell of it."


def _beside(found: Facts) -> str:
    """A word on zones that have heaters of their own."""
    if not found.other_zones:
        return ""
    verb = "is" if len(found.other_zones) == 1 else "are"
    return (
        f" The house counts as one room, as warm as {found.who.zone}; what is used in "
        f"{_listed(found.other_zones)} {verb} not counted."
    )


def _span(found: Facts) -> str:
    return "a year" if found.is_year else f"in these {found.climate.days:.0f} days"


def _temperature(found: Facts) -> str:
    day_c, night_c = found.who.day_c, found.who.night_c
    if day_c == night_c:
        return shown_c(day_c)
    return f"{shown_c(day_c)} by day and {shown_c(night_c)} by night"


# --- by month --------------------------------------------------------------------------


def from_the_warmest(found: Facts) -> list[int]:
    """The months that are known, from the one after the warmest on: winter in one piece."""
    means_c = found.climate.months_c()
    known = [month for month, mean_c in enumerate(means_c) if mean_c is not None]
    warmest = max(known, key=lambda month: means_c[month] or 0.0)
    return [month for step in range(1, 13) if (month := (warmest + step) % 12) in known]


def _months(found: Facts) -> Iterator[str]:
    means_c = found.climate.months_c()
    most_kwh = max(found.base.months_kwh) or 1.0
    costs: Sequence[float | None] = found.base.months_cost or [None] * len(MONTHS)
    yield f"{'':<6}{'outside':>9}{'kWh':>8}{found.currency:>9}"
    for month in from_the_warmest(found):
        kwh, mean_c = found.base.months_kwh[month], means_c[month] or 0.0
        if kwh >= _LEAST_KWH:
            bar = "█" * round(_BAR * kwh / most_kwh)
            row = f"{MONTHS[month]:<6}{shown_c(mean_c):>9}{kwh:>8.0f}{_cell(costs[month]):>9}"
            yield f"{row}  {bar}".rstrip()
    yield f"{'all':<6}{'':>9}{found.base.kwh:>8.0f}{_cell(found.base.cost):>9}".rstrip()


# --- what one could do -----------------------------------------------------------------


def _improvements(found: Facts, settings: Settings) -> Iterator[str]:
    yield f"{'What would make it cheaper':<32}{'saves kWh':>10}{found.currency:>8}{'price':>9}"
    for each in (*found.improvements, *([found.together] if found.together else [])):
        cost = _cell(each.saves_cost)
        price = "" if each.price is None else f"{each.price:.0f}"
        name = f"  {each.name}"
        row = f"{name[:32]:<32}{each.saves_kwh:>10.0f}{cost:>8}{price:>9}"
        yield f"{row}  {pays_back(each, settings, found)}".rstrip()


def pays_back(each: WhatIf, settings: Settings, found: Facts) -> str:
    if not found.climate.has_sun and abs(each.saves_kwh) < _LEAST_KWH and _stores(each, settings):
        return "needs hours to tell"
    if each.saves_kwh < 0.0:
        return "takes more sun"
    years = each.pays_back_years
    if years is None:
        return "" if each.price is not None or settings.tariff is None else "no price"
    if each.worn_out_before and each.lasts_years is not None:
        return f"worn in {each.lasts_years:g} y"
    if not found.is_year:
        return ""
    return "back in 100+ years" if years >= _LONG_YEARS else f"back in {_years(years)}"


def _stores(each: WhatIf, settings: Settings) -> bool:
    improvement = settings.house.improvements.get(each.name)
    return improvement is not None and improvement.water_l is not None


def _degrees(found: Facts) -> Iterator[str]:
    yield f"{'What a degree costs':<32}{'kWh':>10}{found.currency:>8}"
    now_c = found.who.highest_c
    now = Degree(0.0, found.base.kwh, found.base.cost)
    for by_k, kwh, cost in sorted([*found.degrees, now], key=lambda each: each.warmer_k):
        name = f"  {shown_c(now_c + by_k)}" + (" as now" if by_k == 0.0 else "")
        change = "" if by_k == 0.0 else change_words(found, kwh)
        yield f"{name:<32}{kwh:>10.0f}{_cell(cost):>8}  {change}".rstrip()


def _switched(found: Facts, settings: Settings) -> Iterator[str]:
    """What each way of switching takes to keep the same plants, beside a plain switch."""
    plain, *others = found.switched
    yield f"{'How the heater is switched':<32}{'kWh':>10}{found.currency:>8}"
    for each in (plain, *others):
        change = "" if each is plain else _against(each.kwh, plain.kwh)
        name = f"  {_way(each.way, found, settings)}"
        yield f"{name:<32}{each.kwh:>10.0f}{_cell(each.cost):>8}  {change}".rstrip()
    if found.ideal is not None:
        change = _against(found.ideal.kwh, plain.kwh)
        name, cost = "  ideal, which no relay reaches", _cell(found.ideal.cost)
        yield f"{name:<32}{found.ideal.kwh:>10.0f}{cost:>8}  {change}".rstrip()
    best = min(others, key=lambda each: each.kwh)
    yield from wrapped(_spares(found, settings, plain, best))


def _way(way: Switching | None, found: Facts, settings: Settings) -> str:
    heat = settings.zones[found.who.zone].heat
    if way is Switching.PLAIN:
        return f"plain switch, {derived.PLAIN_K:g} K"
    if way is Switching.SET and heat is not None:
        return f"as set, {heat.hysteresis_k:g} K" + (", looks ahead" if heat.anticipate else "")
    in_force = heat is not None and heat.strategy == "proportion"
    return "in proportion, as set" if in_force else "in proportion"


def _spares(found: Facts, settings: Settings, plain: Switched, best: Switched) -> str:
    minimum_c = derived.plants_minimum_c(settings, found.who.zone)
    what = "its setpoint" if minimum_c is None else f"{shown_c(minimum_c)}"
    words = (
        f"Each is set so that the coldest moment is {what}; the mean is {plain.over_k:.1f} K above "
        f"that with the plain switch, and {best.over_k:.1f} K with the thriftiest way."
    )
    saves_kwh = round(plain.kwh) - round(best.kwh)  # as a reader takes the one from the other
    if saves_kwh < _LEAST_KWH:
        return f"{words} So the plain switch is as good as any here."
    saves_cost = (
        None if plain.cost is None or best.cost is None else round(plain.cost) - round(best.cost)
    )
    heat = settings.zones[found.who.zone].heat
    as_set = best.way is Switching.SET or (heat is not None and heat.strategy == "proportion")
    do = "" if as_set else " (strategy: proportion)"
    return (
        f"{words} So '{_way(best.way, found, settings)}'{do} saves "
        f"about {_energy(found, saves_kwh, saves_cost)} {_span(found)}, give or take a third, as "
        "it comes from three short rehearsals; greenkeeper rehearse --compare takes the whole "
        "winter."
    )


def _against(kwh: float, plain_kwh: float) -> str:
    if plain_kwh <= 0.0:
        return ""
    return f"{shown(100.0 * (kwh / plain_kwh - 1.0), 0, signed=True)} %"


def change_words(found: Facts, kwh: float) -> str:
    return _against(kwh, found.base.kwh)


def _plants(found: Facts) -> str:
    if not found.tenderest:
        return f"No plant in {found.who.zone} has a minimum in the settings."
    names = _listed(tuple(plant.name for plant in found.tenderest))
    needs_c = found.tenderest[0].lowest_c or 0.0
    verb = "need" if len(found.tenderest) > 1 else "needs"
    words = f"{names} {verb} {shown_c(needs_c)}, more than any other in {found.who.zone}."
    over_k = min(found.who.day_c, found.who.night_c) - needs_c
    words += f" You hold {over_k:.1f} K above that."
    if not found.rungs:
        return f"{words} No other plant asks for warmth."
    for rung in found.rungs:
        words += f" {_rung(found, rung)}"
    all_kwh = found.together.saves_kwh if found.together else 0.0
    if all_kwh > 0.0 and found.rungs[0].saves_kwh > all_kwh:
        words += (
            f" A winter elsewhere for {_listed(found.rungs[0].without)} saves more than all the "
            "improvements together."
        )
    return words


def _rung(found: Facts, rung: Rung) -> str:
    then_cost = None if rung.saves_cost is None else (found.base.cost or 0.0) - rung.saves_cost
    less_kwh = round(found.base.kwh) - round(found.base.kwh - rung.saves_kwh)
    less_cost = None if then_cost is None else round(found.base.cost or 0.0) - round(then_cost)
    saves = _energy(found, less_kwh, less_cost)
    return (
        f"Without {_listed(rung.without)}, {rung.next_in_line} would decide: "
        f"{shown_c(rung.setpoint_c)}, which takes {saves} less {_span(found)}."
    )


def _heater(found: Facts) -> str:
    words = " ".join(season_sheet.heater_words(found.heater, found.who))
    spare = found.heater.spare
    if spare is not None and spare < found.heater.margin and found.improvements:
        improved = found.heater_improved
        verdict = "" if (improved.spare or 0.0) >= 0.0 else "still "
        words += (
            f" With all improvements {improved.needs_w:.0f} W would do, "
            f"{verdict}{'more' if verdict else 'less'} than it has."
        )
    lowest_c = found.climate.lowest_c
    if lowest_c is not None and lowest_c < found.heater.outside_c - _SAME_K:
        words += f" But this weather fell to {shown_c(lowest_c)}: set house.design_low_c to that."
    short_h = found.short_h()
    if short_h is None:
        return words
    if short_h == 0.0:
        return f"{words} In this weather it was always enough."
    return f"{words} In this weather it was too little for {short_h:.0f} hours {_span(found)}."


def _unsure(found: Facts) -> Iterator[str]:
    yield f"{'How sure this is':<50}{'kWh':>14}"
    for name, better, worse in found.unsure:
        words = f"  if {name} were a fifth better or worse"
        yield f"{words:<50}{f'{better:.0f} to {worse:.0f}':>14}"


# --- pieces ----------------------------------------------------------------------------


def _energy(found: Facts, kwh: float, cost: float | None) -> str:
    return f"{kwh:.0f} kWh" if cost is None else f"{kwh:.0f} kWh ({_money(found, cost)})"


def _money(found: Facts, amount: float) -> str:
    return f"{amount:.0f} {found.currency}"


def _cell(cost: float | None) -> str:
    return "" if cost is None else f"{cost:.0f}"


def _years(years: float) -> str:
    if years >= 1.0:
        return f"{years:.1f} years"
    months = max(1, round(12.0 * years))
    return "a month" if months == 1 else f"{months} months"


def _listed(names: tuple[str, ...]) -> str:
    *firsts, last = names
    return f"{', '.join(firsts)} and {last}" if firsts else last


def wrapped(text: str, indent: str = "") -> list[str]:
    """Filled to eighty columns; a number stays with its unit, and a name whole."""
    held = re.sub(rf"(?<=\d) (?={_UNITS}\b|%|°C|×)", _NO_BREAK, text)
    filled = textwrap.wrap(held, WIDTH, subsequent_indent=indent, break_on_hyphens=False)
    return [line.replace(_NO_BREAK, " ") for line in filled]
