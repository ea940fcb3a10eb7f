"""What `greenkeeper rehearse` shows: tables of eighty columns.

Lives here: layout and wording. Does not live here: rehearsing (greenkeeper/rehearsal), and
the same for machines (rehearse_document.py).
"""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from greenkeeper.commands import rehearse_verdict, warmth_ahead
from greenkeeper.errors import CATALOGUE
from greenkeeper.house.records.record import Record
from greenkeeper.learned import Learned
from greenkeeper.rehearsal.compare import Comparison, ahead_and_not, saved
from greenkeeper.rehearsal.faults import KINDS, Fault
from greenkeeper.rehearsal.ledger import Hour, OutputFigures, Result, Told, ZoneFigures
from greenkeeper.rehearsal.run import Span
from greenkeeper.rehearsal.sweep import Swept
from greenkeeper.reports import weather_words, words
from greenkeeper.settings.derived import heaters
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.switches import GpioOutput
from greenkeeper.units import shown_c

WIDTH = 80
_WITHOUT_POWER = (
    "A keeper without power tells nobody: until it is back only its broker, which says 'lost', or "
    "a heartbeat that stops (alarms.heartbeat_file) can, and neither is rehearsed."
)
_INVENTED_FORECASTS = (
    "Forecasts of clear dawns (leave_dawn_to_sun) are invented from this weather's own sun; real "
    "ones may be better or worse."
)


class About(NamedTuple):
    """What was rehearsed, beside its result."""

    settings: Settings
    weather_file: object  # a path, or None for the invented year
    record: Record | None
    span: Span
    learned: Learned | None = None  # what the keeper would go by

    @property
    def timezone(self) -> str:
        return self.settings.site.timezone


# --- one rehearsal --------------------------------------------------------------------------


def lines(about: About, result: Result, fault: Fault | None) -> list[str]:
    out = [*_head(about, foretold=result.foretold), ""]
    if fault is None:
        for text in rehearse_verdict.paragraphs(result, about.settings):
            out += [*textwrap.wrap(text, WIDTH, break_on_hyphens=False), ""]
    if result.to_utc_s - result.from_utc_s >= 14 * 86_400.0:
        alone = len(result.zones) == 1
        for zone in result.zones:
            out += [*_months(zone, about, with_heat=alone), ""]
        if not alone:
            out += [*_heat_months(result.zones[0], about), ""]
    if fault is not None:
        out += [*_fault(fault, result, about), ""]
    for zone in result.zones:
        out += _zone(zone, about)
    for output in result.outputs:
        out += _output(output, about)
    if fault is not None:
        out += _used(result, about)
    out += _told(result.told, about)
    return out


def _head(about: About, *, foretold: bool = False) -> Iterator[str]:
    """foretold: what was rehearsed went by forecasts that no weather file holds."""
    days = (about.span.to_utc_s - about.span.from_utc_s) / 86_400.0
    yield (
        f"{about.settings.site.name}, {_day(about.span.from_utc_s, about)} to "
        f"{_day(about.span.to_utc_s - 1.0, about)}: {words.count(days, 'day')}, rehearsed"
    )
    yield from textwrap.wrap(_weather(about), WIDTH)
    if foretold:
        yield from textwrap.wrap(_INVENTED_FORECASTS, WIDTH)


def _weather(about: About) -> str:
    if about.record is None:
        whose = "of no real place"
        if about.settings.site.monthly_mean_c is not None:
            whose = "as warm on average as your months (site.monthly_mean_c)"
        return (
            f"Weather: invented, {whose}. It is good for comparing settings; for a bill, give "
            "your own place's with --weather FILE."
        )
    if about.record.place is None:
        return f"Weather: {about.weather_file}"
    place = about.record.place
    north = f"{abs(place.latitude):.1f}° {'N' if place.latitude >= 0 else 'S'}"
    east = f"{abs(place.longitude):.1f}° {'E' if place.longitude >= 0 else 'W'}"
    site = about.settings.site
    far = weather_words.far(place, site, f"your timezone ({site.timezone})")
    told = f"Weather: a typical year of {place.name} ({north}, {east}), {about.weather_file}"
    return f"{told}. {far}" if far else told


class _Month(NamedTuple):
    name: str
    hours: list[Hour]


def _months(zone: ZoneFigures, about: About, *, with_heat: bool) -> Iterator[str]:
    """Month by month, what it was like outside, at the plants, and what heat it took."""
    head = f"{zone.name:<10}{'outdoors':>14}   {'at the plants':>22}"
    below = f"{'':<10}{'low':>7}{'mean':>7}   {'low':>8}{'mean':>7}{'high':>7}"
    if with_heat:
        head += f"{'heat':>16}"
        below += _heat_head(about)
    yield head
    yield below
    for month in _with_all(zone, about):
        hours = month.hours
        line = (
            f"{month.name:<10}"
            f"{min(hour.outdoor_c for hour in hours):>7.1f}"
            f"{_mean(hour.outdoor_c for hour in hours):>7.1f}   "
            f"{min(hour.low_c for hour in hours):>8.1f}"
            f"{_mean(hour.mean_c for hour in hours):>7.1f}"
            f"{max(hour.high_c for hour in hours):>7.1f}"
        )
        yield line + (_heat_columns(hours, about) if with_heat else "")


def _heat_months(zone: ZoneFigures, about: About) -> Iterator[str]:
    """All heaters together, where there are several zones. zone: any of them."""
    yield f"{'all heat':<10}{_heat_head(about)}"
    for month in _with_all(zone, about):
        yield f"{month.name:<10}{_heat_columns(month.hours, about)}"


def _heat_head(about: About) -> str:
    tariff = about.settings.tariff
    cost = f"{tariff.currency:>9}" if tariff is not None else ""
    return f"{'kWh':>14}{cost}{'on':>7}"


def _heat_columns(hours: Sequence[Hour], about: About) -> str:
    kwh = sum(hour.heat_kwh for hour in hours)
    costs = [hour.cost for hour in hours if hour.cost is not None]
    cost = f"{_cost(sum(costs)):>9}" if about.settings.tariff is not None else ""
    return f"{_kwh(kwh):>14}{cost}{100.0 * _mean(hour.heated for hour in hours):>5.0f} %"


def _with_all(zone: ZoneFigures, about: About) -> list[_Month]:
    return [*_by_month(zone.hours, about), _Month("all", list(zone.hours))]


def _by_month(hours: Iterable[Hour], about: About) -> list[_Month]:
    months: list[_Month] = []
    for hour in hours:
        name = _local(hour.from_utc_s, about).strftime("%b %Y")
        if not months or months[-1].name != name:
            months.append(_Month(name, []))
        months[-1].hours.append(hour)
    return months


def _zone(zone: ZoneFigures, about: About) -> Iterator[str]:
    when = words.moment(zone.low_utc_s, about.timezone)
    low = f"lowest {shown_c(zone.low_c)} on {when}"
    yield from _item(zone.name, low + _beside_minimum(zone))
    high = f"highest {shown_c(zone.high_c)} on {words.moment(zone.high_utc_s, about.timezone)}"
    if zone.maximum_c is not None:
        over = f"above the {shown_c(zone.maximum_c)} its plants stand"
        long = words.duration(zone.above_s)
        high += f"; {over} for {long}" if zone.above_s > 0.0 else f"; never {over}"
    yield from _item("", high)


def _beside_minimum(zone: ZoneFigures) -> str:
    if zone.minimum_c is None:
        return "; no plant there has a minimum"
    limit = f"the tenderest plant's minimum of {shown_c(zone.minimum_c)}"
    if zone.below_s == 0.0:
        return f"; never below {limit}"
    return (
        f"; below {limit} for {words.duration(zone.below_s)}, by up to "
        f"{zone.minimum_c - zone.low_c:.1f} K, {zone.below_kh:.1f} K h in all"
    )


def _output(output: OutputFigures, about: About) -> Iterator[str]:
    if output.switched_on == 0:
        yield from _item(output.name, "never ran")
        return
    text = f"ran {words.duration(output.on_s)}, switched on {_times(output.switched_on)}"
    rated = _rated(output.name, about.settings)
    if rated is not None:
        text += f" ({100.0 * output.switched_on / rated:.1f} % of its relay's rated life)"
    if output.heats:
        text += f", longest {words.duration(output.longest_on_s)}"
    if output.kwh is not None:
        text += f", {_kwh(output.kwh)} kWh{_money(output.cost, about)}"
    yield from _item(output.name, text)


def _used(result: Result, about: About) -> Iterator[str]:
    """Where something breaks, what was switched does not tell what was drawn."""
    yield from _item("heat", f"{_kwh(result.kwh)} kWh drawn in all{_money(result.cost, about)}")


def _money(cost: float | None, about: About) -> str:
    tariff = about.settings.tariff
    return "" if tariff is None or cost is None else f", {_cost(cost)} {tariff.currency}"


def _rated(name: str, settings: Settings) -> int | None:
    output = settings.outputs[name]
    return output.rated_operations if isinstance(output, GpioOutput) else None


def _told(told: Sequence[Told], about: About) -> Iterator[str]:
    for i, each in enumerate(told):
        title = CATALOGUE[each.code].title
        first = words.moment(each.first_utc_s, about.timezone)
        text = f"{each.subject}: {title} ({each.text}), {_times(each.times)}, first on {first}"
        yield from _item("told" if i == 0 else "", text)
    if not told:
        yield from _item("told", "nothing: no alarm was raised")


def _fault(fault: Fault, result: Result, about: About) -> Iterator[str]:
    begins = words.moment(fault.from_utc_s, about.timezone)
    lasts = words.duration(fault.to_utc_s - fault.from_utc_s)
    yield from textwrap.wrap(f"What breaks: {KINDS[fault.name]}, from {begins} for {lasts}.", WIDTH)
    if fault.name == "power-cut":
        yield from textwrap.wrap(_WITHOUT_POWER, WIDTH)
    after = [told for told in result.told if told.first_utc_s >= fault.from_utc_s]
    if not after:
        yield "Nobody was told of anything."
        return
    first = after[0]
    yield from textwrap.wrap(
        f"First told after {words.duration(first.first_utc_s - fault.from_utc_s)}: "
        f"{first.subject}: {CATALOGUE[first.code].title}.",
        WIDTH,
    )


# --- several ----------------------------------------------------------------------------------


def comparison_lines(about: About, found: Comparison) -> list[str]:
    # Where a dawn's own sentence follows, that one says it.
    out = [*_head(about, foretold=found.ideal.foretold and found.dawns is None), ""]
    out += textwrap.wrap(_terms(found), WIDTH)
    tariff = about.settings.tariff
    cost = f"{tariff.currency:>10}" if tariff is not None else ""
    out += ["", f"{'':<18}{'kWh':>10}{cost}{'over ideal':>13}{'moved by':>12}{'switched on':>14}"]
    out.append(_contender_line("ideal", found.ideal.kwh, found.ideal.cost, "", "", ""))
    for each in found.contenders:
        out.append(
            _contender_line(
                each.name,
                each.kwh,
                each.cost,
                f"{100.0 * each.over_ideal:+.1f} %",
                f"{each.shift_k:+.2f} K",
                str(each.switched_on),
            )
        )
    out += _whose_lines(about)
    return out + _saved_lines(about, found) + _ahead_lines(about, found) + _dawn_lines(about, found)


def _terms(found: Comparison) -> str:
    """What is counted, and what is left out."""
    terms = (
        f"Every strategy's setpoints are moved until the lowest air at the plants is "
        f"{shown_c(found.target_c)}, which the ideal heater holds exactly"
    )
    if not found.hard_hours:
        return f"{terms}."
    return (
        f"{terms} while its power is enough. In {words.count(found.hard_hours, 'hour')} full "
        "power was not always enough. With the two hours after each, "
        f"{words.count(found.left_out_hours, 'hour')} in all are left out of that lowest; what "
        "they took is counted in every row."
    )


def _whose_lines(about: About) -> list[str]:
    """Whose figures a row has, where there are several heaters."""
    zones = about.settings.zones.items()
    heated = [(name, zone.heat) for name, zone in zones if zone.heat is not None]
    name, heat = heated[0]
    text = ""
    if len(heated) > 1:
        text += f"The kWh are all heaters', the lowest air and 'switched on' those of {name}. "
    if heat.second_output is not None:
        text += (
            f"Of {heat.output} and {heat.second_output}, 'switched on' is the one that was "
            "switched more often."
        )
    return textwrap.wrap(text, WIDTH)


def _ahead_lines(about: About, found: Comparison) -> list[str]:
    """Whether heating ahead in cheap hours pays, and what it came to here."""
    pair = ahead_and_not(found)
    heated = next((name for name, z in about.settings.zones.items() if z.heat is not None), None)
    tariff = about.settings.tariff
    if pair is None or heated is None or tariff is None:
        return []
    text = warmth_ahead.sentence(about.settings, heated, about.learned)
    ahead, plain = pair
    if ahead.cost is not None and plain.cost is not None and ahead.kwh != plain.kwh:
        saved = plain.cost - ahead.cost
        verb = "saved" if saved >= 0.0 else "cost"
        text += (
            f". Here it {verb} {_cost(abs(saved))} {tariff.currency}, for "
            f"{_kwh(abs(ahead.kwh - plain.kwh))} kWh {'more' if ahead.kwh > plain.kwh else 'less'}"
        )
    return ["", *textwrap.wrap(f"Cheap hours: {text}.", WIDTH)]


def _dawn_lines(about: About, found: Comparison) -> list[str]:
    """What a clear dawn that is left to the sun spares, and what it costs in warmth."""
    if found.dawns is None:
        return []
    left, kept = found.dawns
    tariff = about.settings.tariff
    money = ""
    if left.cost is not None and kept.cost is not None and tariff is not None:
        money = f" and {_cost(kept.cost - left.cost)} {tariff.currency}"
    return ["", *textwrap.wrap(
        f"Dawn: left to the sun where the sky is foretold clear, the setpoints as they are, it "
        f"spares {_kwh(kept.kwh - left.kwh)} of {_kwh(kept.kwh)} kWh{money}; the lowest is "
        f"{shown_c(left.low_c)} instead of {shown_c(kept.low_c)}. Its forecasts are invented.",
        WIDTH,
    )]  # fmt: skip


def _saved_lines(about: About, found: Comparison) -> list[str]:
    """What the thriftiest way spares beside a plain switch, and what it takes of the relay."""
    pair = saved(found)
    if pair is None:
        return []
    plain, best = pair
    tariff = about.settings.tariff
    money = ""
    if plain.cost is not None and best.cost is not None and tariff is not None:
        money = f", {_cost(plain.cost - best.cost)} {tariff.currency}"
    return ["", *textwrap.wrap(
        f"Beside a plain switch of 1 K with its setpoint where it keeps the plants as well, "
        f"'{best.name}' saves {_kwh(plain.kwh - best.kwh)} kWh{money} "
        f"({100.0 * (1.0 - best.kwh / plain.kwh):.0f} %), and switches on "
        f"{best.switched_on} times instead of {plain.switched_on}.",
        WIDTH,
    )]  # fmt: skip


def _contender_line(
    name: str, kwh: float, cost: float | None, over: str, moved: str, switched: str
) -> str:
    money = f"{_cost(cost):>10}" if cost is not None else ""
    return f"{name:<18}{_kwh(kwh):>10}{money}{over:>13}{moved:>12}{switched:>14}".rstrip()


def sweep_lines(about: About, key: str, swept: Sequence[Swept]) -> list[str]:
    tariff = about.settings.tariff
    cost = f"{tariff.currency:>10}" if tariff is not None else ""
    foretold = any(each.result.foretold for each in swept)
    out = [*_head(about, foretold=foretold), "", key]
    out.append(f"{'':<18}{'kWh':>10}{cost}{'lowest':>10}{'below min':>13}{'switched on':>14}")
    for each in swept:
        result = each.result
        low_c = min(zone.low_c for zone in result.zones)
        below_s = sum(zone.below_s for zone in result.zones)
        switched = sum(output.switched_on for output in result.outputs if output.heats)
        money = f"{_cost(result.cost):>10}" if result.cost is not None else ""
        below = words.duration(below_s) if below_s > 0.0 else "never"
        out.append(
            f"{each.value:<18}{_kwh(result.kwh):>10}{money}{shown_c(low_c):>10}{below:>13}{switched:>14}"
        )
    if len(heaters(about.settings)) > 1:
        out.append("'switched on' counts all heaters together.")
    return out


# --- small words ------------------------------------------------------------------------------


def _item(name: str, text: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"{name:<10}" if len(name) < 10 else f"{name} ",
        subsequent_indent=" " * 10,
    )  # fmt: skip


def _kwh(kwh: float) -> str:
    """No digit that nobody could tell from weather to weather."""
    return words.figure(kwh, 1)


def _cost(cost: float) -> str:
    return words.figure(cost, 2)


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _mean(values: Iterable[float]) -> float:
    found = list(values)
    return sum(found) / len(found)


def _local(utc_s: float, about: About) -> datetime:
    return datetime.fromtimestamp(utc_s, UTC).astimezone(about.settings.site.zone)


def _day(utc_s: float, about: About) -> str:
    return _local(utc_s, about).strftime("%-d %b %Y")
