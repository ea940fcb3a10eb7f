"""What `greenkeeper rehearse` shows of one rehearsal: tables of eighty columns.

Lives here: layout and wording. Does not live here: rehearsing (greenkeeper/rehearsal), several
beside each other (rehearse_several.py), and the same for machines (rehearse_document.py).
"""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from greenkeeper.commands import rehearse_verdict
from greenkeeper.commands.rehearse_head import WIDTH, About, cost_words, head, kwh_words, local
from greenkeeper.errors import CATALOGUE
from greenkeeper.rehearsal.faults import KINDS, Fault
from greenkeeper.rehearsal.ledger import Hour, OutputFigures, Result, Told, ZoneFigures
from greenkeeper.reports import words
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.switches import GpioOutput
from greenkeeper.units import shown_c

_WITHOUT_POWER = (
    "A keeper without power tells nobody: until it is back only its broker, which says 'lost', or "
    "a heartbeat that stops (alarms.heartbeat_file) can, and neither is rehearsed."
)


def lines(about: About, result: Result, fault: Fault | None) -> list[str]:
    out = [*head(about, foretold=result.foretold), ""]
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
    cost = f"{cost_words(sum(costs)):>9}" if about.settings.tariff is not None else ""
    return f"{kwh_words(kwh):>14}{cost}{100.0 * _mean(hour.heated for hour in hours):>5.0f} %"


def _with_all(zone: ZoneFigures, about: About) -> list[_Month]:
    return [*_by_month(zone.hours, about), _Month("all", list(zone.hours))]


def _by_month(hours: Iterable[Hour], about: About) -> list[_Month]:
    months: list[_Month] = []
    for hour in hours:
        name = local(hour.from_utc_s, about).strftime("%b %Y")
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
        text += f", {kwh_words(output.kwh)} kWh{_money(output.cost, about)}"
    yield from _item(output.name, text)


def _used(result: Result, about: About) -> Iterator[str]:
    """Where something breaks, what was switched does not tell what was drawn."""
    yield from _item(
        "heat", f"{kwh_words(result.kwh)} kWh drawn in all{_money(result.cost, about)}"
    )


def _money(cost: float | None, about: About) -> str:
    tariff = about.settings.tariff
    return "" if tariff is None or cost is None else f", {cost_words(cost)} {tariff.currency}"


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


# --- small words ------------------------------------------------------------------------------


def _item(name: str, text: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"{name:<10}" if len(name) < 10 else f"{name} ",
        subsequent_indent=" " * 10,
    )  # fmt: skip


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _mean(values: Iterable[float]) -> float:
    found = list(values)
    return sum(found) / len(found)
