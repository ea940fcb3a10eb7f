"""A rehearsal as a picture: temperatures against limits, heat, and the outdoors.

Lives here: what is drawn where. Does not live here: ink and paper (picture.py), and what
there is to draw (rehearsal/ledger.py).
"""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.rehearsal.faults import KINDS, Fault
from greenkeeper.rehearsal.ledger import Hour, Result, ZoneFigures
from greenkeeper.reports import picture, words
from greenkeeper.settings.schema import Settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Longer spans are drawn by the day: an hour would be thinner than a line.
_HOURS_SHOWN = 14 * 24
_LEAST_SCALE = 25.0  # percent: a little heat should look like a little


def draw(
    file: Path, settings: Settings, result: Result, fault: Fault | None = None, whose: str = ""
) -> None:
    """One panel for each zone and one for heat; grey while something was broken.

    whose: which one of several rehearsals this is, for the title.

    Raises PictureError.
    """
    zones = result.zones
    figure = picture.new(10.0, 2.4 + 2.7 * len(zones))
    heights = [3.0] * len(zones) + [1.2]
    axes = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights)
    for zone, axis in zip(zones, axes, strict=False):
        _temperatures(axis, zone)
    _heat(axes[-1], zones[0])
    if fault is not None:
        _broken(axes, fault)
    picture.clock(axes[-1], settings.site.zone)
    figure.suptitle(_title(settings, result, whose), fontsize=12, x=0.01, ha="left")
    picture.save(figure, file)


def _broken(axes: Sequence["Axes"], fault: Fault) -> None:
    """While it lasts, in every panel; in words over the last one, across from its unit, where
    no band on the first days can push them into it."""
    begins, ends = picture.day(fault.from_utc_s), picture.day(fault.to_utc_s)
    for axis in axes:
        axis.axvspan(begins, ends, color=picture.PALE, alpha=0.35, linewidth=0.0, zorder=0)
        for edge in (begins, ends):
            axis.axvline(edge, color=picture.INK, linewidth=0.8, linestyle=":")
    axes[-1].set_title(f"grey: {KINDS[fault.name]}", loc="right", fontsize=8, color=picture.INK)


def _title(settings: Settings, result: Result, whose: str) -> str:
    days = (result.to_utc_s - result.from_utc_s) / 86_400.0
    cost = ""
    if settings.tariff is not None and result.cost is not None:
        cost = f", {words.figure(result.cost, 2)} {settings.tariff.currency}"
    lived = f"{words.count(days, 'day')} rehearsed"
    run = f"{lived}, {whose}" if whose else lived
    return f"{settings.site.name}: {run}, {words.figure(result.kwh, 1)} kWh of heat{cost}"


def _temperatures(axis: "Axes", zone: ZoneFigures) -> None:
    spells = _spells(zone.hours)
    by_day = len(spells) < len(zone.hours)
    times = [_middle(spell) for spell in spells]
    lows = [min(hour.low_c for hour in spell) for spell in spells]
    highs = [max(hour.high_c for hour in spell) for spell in spells]
    means = [sum(hour.mean_c for hour in spell) / len(spell) for spell in spells]
    outside = [min(hour.outdoor_c for hour in spell) for spell in spells]
    axis.fill_between(times, lows, highs, color=picture.LEAF, alpha=0.25, linewidth=0.0)
    axis.plot(
        times, means, color=picture.LEAF, linewidth=1.4, label=f"{zone.name}: mean, low to high"
    )
    axis.plot(
        times, outside, color=picture.COLD, linewidth=1.0, linestyle="-.",
        label="outdoors, the day's lowest hour" if by_day else "outdoors",
    )  # fmt: skip
    limits = (
        (zone.minimum_c, "-", "tenderest plant's minimum"),
        (zone.maximum_c, "--", "most heat-shy plant's maximum"),
    )
    for limit_c, style, name in limits:
        if limit_c is not None:
            axis.axhline(limit_c, color=picture.ALARM, linestyle=style, linewidth=1.0, label=name)
    picture.plain(axis, "°C")
    axis.margins(x=0.0)
    axis.legend(loc="upper center", ncols=4, fontsize=8, frameon=False, bbox_to_anchor=(0.5, 1.15))


def _heat(axis: "Axes", zone: ZoneFigures) -> None:
    """Heat upwards, airing downwards, each as a share of the time."""
    spells = _spells(zone.hours)
    times = [picture.day(spell[0].from_utc_s) for spell in spells]
    width_d = 0.9 * len(spells[0]) / 24.0
    heat = [100.0 * sum(hour.heated for hour in spell) / len(spell) for spell in spells]
    air = [100.0 * sum(hour.cooled for hour in spell) / len(spell) for spell in spells]
    axis.bar(times, heat, width=width_d, align="edge", color=picture.WARM, label="heat")
    if any(air):
        down = [-each for each in air]
        axis.bar(times, down, width=width_d, align="edge", color=picture.PALE, label="airing")
    most = max(_LEAST_SCALE, 1.15 * max(heat))
    # Little airing takes little room, but is seen.
    axis.set_ylim(-max(0.2 * most, 1.15 * max(air)) if any(air) else 0.0, most)
    axis.axhline(0.0, color=picture.INK, linewidth=0.6)
    picture.plain(axis, "% of the time: heat up, airing down" if any(air) else "% of the time")
    axis.yaxis.set_major_formatter(lambda value, _: f"{abs(value):.0f}")
    axis.legend(loc="upper right", ncols=2, fontsize=8, frameon=False)


def _spells(hours: Sequence[Hour]) -> list[Sequence[Hour]]:
    """Hours one by one, or a day's together."""
    size = 1 if len(hours) <= _HOURS_SHOWN else 24
    return [hours[at : at + size] for at in range(0, len(hours), size)]


def _middle(spell: Sequence[Hour]) -> float:
    """Where a point that stands for all of it belongs."""
    return picture.day(spell[0].from_utc_s + 1800.0 * len(spell))
