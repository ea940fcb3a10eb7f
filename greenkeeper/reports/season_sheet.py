"""The heat-loss sheet: every step from the settings to the heater's size.

Lives here: eighty columns of it, and the same as plain data. Does not live here: the
figures themselves (house/envelope.py, house/heatloss.py).
"""

import textwrap
from collections.abc import Iterator
from typing import Any

from greenkeeper.house import heatloss
from greenkeeper.house.envelope import Build, Envelope, Surface, fitted
from greenkeeper.house.heatloss import Heater, Line
from greenkeeper.reports import season_house
from greenkeeper.reports.season_house import Held
from greenkeeper.settings.schema import Settings
from greenkeeper.units import shown_c

WIDTH = 80
_INDENT = " " * 4

_HEAD = f"{'':<14}{'size':>10}  {'each':<20}{'outdoors':>9}{'W/K':>8}{'share':>7}"


def lines(settings: Settings, who: Held) -> Iterator[str]:
    sheet = season_house.described(settings)
    factor = season_house.loss_factor(settings, sheet)
    yield f"Heat loss of {settings.site.name} in a winter's night"
    yield "W/K: watts for each kelvin that it is warmer inside"
    yield ""
    yield from _table(sheet)
    if settings.house.loss_w_per_k is not None:
        yield from _wrapped(
            f"You measured {settings.house.loss_w_per_k:.1f} W/K, {factor:.2f} times the sheet's "
            "sum. What follows goes by your figure.",
            "",
        )
    yield ""
    yield "How the figures come about"
    for words in _origins(sheet):
        yield from _wrapped(words, "  ")
    yield ""
    yield "Heater"
    heater = season_house.heater(settings, who, sheet.loss_w_k * factor)
    for words in heater_words(heater, who):
        yield from _wrapped(words, "  ")
    considered = list(_considered(settings, sheet))
    if considered:
        yield ""
        yield "Not fitted yet"
        yield from considered
    yield ""
    yield from _wrapped(
        "Tables and real houses differ: hold every figure true to about a fifth, and measure.", ""
    )


def data(settings: Settings, who: Held) -> dict[str, Any]:
    """The sheet for machines. Units are in the names."""
    sheet = season_house.described(settings)
    factor = season_house.loss_factor(settings, sheet)
    heater = season_house.heater(settings, who, sheet.loss_w_k * factor)
    return {
        "lines": [_line_data(each) for each in heatloss.lines(sheet)],
        "surfaces": [_surface_data(each) for each in sheet.surfaces],
        "loss_w_k": sheet.loss_w_k,
        "measured_loss_w_k": settings.house.loss_w_per_k,
        "volume_m3": sheet.volume_m3,
        "floor_m2": sheet.floor_m2,
        "water_l": sheet.water_l,
        "air_changes_per_h": sheet.air_changes_per_h,
        "heater": heater_data(heater, who),
        "not_fitted": [
            {"name": name, "saves_w_k": saves, "price": settings.house.improvements[name].price}
            for name, saves in _savings(settings, sheet)
        ],
    }


def heater_words(heater: Heater, who: Held) -> Iterator[str]:
    """The verdict on the heater, a sentence or two at a time."""
    inside, outside = shown_c(heater.inside_c), shown_c(heater.outside_c)
    yield (
        f"{inside} in {who.zone} while it is {outside} outside takes "
        f"{heater.inside_c - heater.outside_c:.1f} K × {heater.loss_w_k:.1f} W/K = "
        f"{heater.needs_w:.0f} W; with {100.0 * heater.margin:.0f} % to spare, "
        f"{heater.wants_w:.0f} W."
    )
    yield _verdict(heater, who)


def _verdict(heater: Heater, who: Held) -> str:
    if heater.needs_w == 0.0:
        return "It never gets cold enough there to need a heater."
    spare, down_to_c, keeps_c = heater.spare, heater.holds_down_to_c, heater.keeps_c
    if heater.has_w is None or spare is None or down_to_c is None or keeps_c is None:
        others = "" if who.second is None else f" and outputs.{who.second}.power_w"
        return f"Write outputs.{who.heater}.power_w{others} to learn whether yours is enough."
    has = f"{who.has} {heater.has_w:.0f} W"
    if spare < 0.0:
        return (
            f"TOO SMALL: {has}, {-100.0 * spare:.0f} % less than is needed. On that night it "
            f"keeps {shown_c(keeps_c)}; what you want it holds down to {shown_c(down_to_c)} "
            "outside."
        )
    enough = "Just enough" if spare < heater.margin else "Enough"
    return (
        f"{enough}: {has}, {100.0 * spare:.0f} % to spare. It holds the house down to "
        f"{shown_c(down_to_c)} outside."
    )


def heater_data(heater: Heater, who: Held) -> dict[str, Any]:
    return {
        "zone": who.zone,
        "output": who.heater,
        "second_output": who.second or who.stands_by,
        "inside_c": heater.inside_c,
        "outside_c": heater.outside_c,
        "loss_w_k": heater.loss_w_k,
        "needs_w": heater.needs_w,
        "wants_w": heater.wants_w,
        "has_w": heater.has_w,
        "spare": heater.spare,
        "keeps_c": heater.keeps_c,
        "holds_down_to_c": heater.holds_down_to_c,
    }


def _table(sheet: Envelope) -> Iterator[str]:
    yield _HEAD
    for line in heatloss.lines(sheet):
        yield _row(line, sheet.loss_w_k)
    yield f"{'altogether':<55}{sheet.loss_w_k:>8.1f}{'100 %':>7}"


def _row(line: Line, total_w_k: float) -> str:
    size = f"{line.amount:.2f} {line.amount_unit}"
    each = f"{line.coefficient:.2f} {line.coefficient_unit}"
    outdoors = "" if line.outdoor_share == 1.0 else f"{100.0 * line.outdoor_share:.0f} %"
    share = f"{100.0 * line.w_k / total_w_k:.0f} %"
    return f"{line.name[:14]:<14}{size:>10}  {each:<20}{outdoors:>9}{line.w_k:>8.1f}{share:>7}"


def _origins(sheet: Envelope) -> Iterator[str]:
    """Each different way a surface is made, with the surfaces made so."""
    made: dict[Build, list[Surface]] = {}
    for surface in sheet.surfaces:
        made.setdefault(surface.build, []).append(surface)
    for build, surfaces in made.items():
        names = ", ".join(surface.name for surface in surfaces)
        yield f"{names}: {_build_words(build)} = {surfaces[0].u_w_m2k:.2f} W/(m2 K)"
    yield f"floor edge: {sheet.edge_source}"
    yield (
        f"air exchange: {sheet.volume_m3:.1f} m3 × {sheet.air_changes_per_h:g} an hour "
        f"({sheet.air_source})"
    )
    if sheet.water_l > 0.0:
        kwh_k = heatloss.water_kwh_k(sheet.water_l)
        minutes = 60.0 * kwh_k * 1000.0 / (sheet.loss_w_k * 10.0)
        yield (
            f"water: {sheet.water_l:g} l hold {kwh_k:.3f} kWh for each kelvin they cool, which "
            f"is what the house loses in {minutes:.0f} minutes at 10 K above outside"
        )


def _build_words(build: Build) -> str:
    words = f"{build.cover} {build.cover_u_w_m2k:.2f} ({build.source})"
    if build.layers:
        parts = " + ".join(f"{step.words} {step.r_m2k_w:.3f}" for step in build.layers)
        words = f"1/({parts}) by ISO 6946"
    if build.frame_factor != 1.0:
        words += f" × {build.frame_factor:g} for the bars"
    for step in build.added:
        words += f", {step.words}"
        words += f" +{step.r_m2k_w:.3f} m2 K/W" if step.r_m2k_w > 0.0 else ""
    return words


def _savings(settings: Settings, sheet: Envelope) -> list[tuple[str, float]]:
    """What each improvement not fitted takes off the sheet by itself, the most first."""
    there = fitted(settings.house)
    saves = [
        (name, sheet.loss_w_k - season_house.in_midwinter(settings, there | {name}).loss_w_k)
        for name in settings.house.improvements
        if name not in there
    ]
    return sorted(saves, key=lambda each: -each[1])


def _considered(settings: Settings, sheet: Envelope) -> Iterator[str]:
    currency = settings.tariff.currency if settings.tariff else ""
    for name, saves in _savings(settings, sheet):
        improvement = settings.house.improvements[name]
        when = " by night" if improvement.nights_only else ""
        price = "" if improvement.price is None else f"{improvement.price:.0f} {currency}".rstrip()
        words = f"{saves:.1f} W/K less{when}" if saves else "no less loss by itself"
        yield f"  {name[:32]:<33}{words:<27}{price:>15}"


def _line_data(line: Line) -> dict[str, Any]:
    return line._asdict()


def _surface_data(surface: Surface) -> dict[str, Any]:
    plain = surface._asdict()
    del plain["build"]
    return {**plain, "loss_w_k": surface.loss_w_k, "made_of": _build_words(surface.build)}


def _wrapped(text: str, indent: str) -> list[str]:
    further = indent + "  " if indent else ""
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=further)
