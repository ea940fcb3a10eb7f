"""One night as a picture: temperatures against the plants' minima, and when heat ran.

Lives here: drawing. Does not live here: facts (night.py), paper and ink (picture.py).
"""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.journal.answers import OnTimes, Temperatures
from greenkeeper.journal.reader import Journal
from greenkeeper.reports import picture
from greenkeeper.reports.night import Facts
from greenkeeper.settings.schema import Settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_DASHES = ("-", "--", "-.", ":")


def draw(journal: Journal, settings: Settings, found: Facts, title: str, file: Path) -> None:
    """Raises JournalError, PictureError."""
    ran = [each.output for each in found.ran]
    figure = picture.new(9.0, 4.6 + 0.28 * len(ran))
    above, below = figure.subplots(
        2, 1, sharex=True, height_ratios=[4.0, 0.4 + 0.28 * max(1, len(ran))]
    )
    figure.suptitle(title, x=0.01, ha="left", fontsize=12, color=picture.INK)
    _temperatures(above, journal, settings, found)
    _outputs(below, journal, found, ran)
    for gap in found.gaps:
        for axes in (above, below):
            axes.axvspan(
                picture.day(gap.from_utc_s),
                picture.day(gap.to_utc_s),
                facecolor="none",
                edgecolor=picture.PALE,
                hatch="//",
                linewidth=0.0,
                alpha=0.4,
            )
    above.set_xlim(picture.day(found.span.from_utc_s), picture.day(found.span.to_utc_s))
    picture.clock(below, settings.site.zone)
    picture.save(figure, file)


def _temperatures(axes: "Axes", journal: Journal, settings: Settings, found: Facts) -> None:
    picture.plain(axes, "\N{DEGREE SIGN}C")
    outdoor = settings.site.outdoor_probe
    inside = [name for zone in settings.zones.values() for name in zone.probes]
    for i, name in enumerate(dict.fromkeys(inside)):
        _line(axes, name, _rows(journal, name, found), picture.LEAF, _DASHES[i % len(_DASHES)])
    if outdoor is not None:
        _line(axes, outdoor, _rows(journal, outdoor, found), picture.COLD, "-")
    for zone in found.zones:
        if zone.minimum_c is not None:
            tender = [plant.name for plant in zone.plants if plant.min_c == zone.minimum_c]
            axes.axhline(zone.minimum_c, color=picture.ALARM, linewidth=0.9, linestyle=(0, (1, 2)))
            axes.annotate(
                f"minimum of {', '.join(tender)}",
                (0.0, zone.minimum_c),
                xycoords=("axes fraction", "data"),
                xytext=(3, -9),
                textcoords="offset points",
                fontsize=8,
                color=picture.ALARM,
            )
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), frameon=False, fontsize=8, ncols=4)


def _line(axes: "Axes", name: str, rows: Sequence[Temperatures], ink: str, dashes: str) -> None:
    """Broken where nothing was measured, never drawn across."""
    known = [(row.utc_s, row.mean_c) for row in rows]
    if not any(mean_c is not None for _, mean_c in known):
        return
    moments, temps = [], []
    before_s: int | None = None
    step_s = min((b.utc_s - a.utc_s for a, b in pairwise(rows)), default=60)
    for utc_s, mean_c in known:
        if before_s is not None and utc_s - before_s > 3 * step_s:
            moments.append(picture.day(before_s + step_s))
            temps.append(float("nan"))  # matplotlib's word for "lift the pen"
        moments.append(picture.day(utc_s))
        temps.append(float("nan") if mean_c is None else mean_c)
        before_s = utc_s
    axes.plot(moments, temps, color=ink, linestyle=dashes, linewidth=1.3, label=name)


def _rows(journal: Journal, probe: str, found: Facts) -> Sequence[Temperatures]:
    ask = journal.minutes if found.step_s < 3600 else journal.hours
    return ask(probe, *found.span)


def _outputs(axes: "Axes", journal: Journal, found: Facts, ran: Sequence[str]) -> None:
    picture.plain(axes, "on, minute by minute" if found.step_s < 3600 else "share of each hour on")
    axes.grid(visible=False)
    for i, name in enumerate(ran):
        ask = journal.output_minutes if found.step_s < 3600 else journal.output_hours
        rows = ask(name, *found.span)
        ink = picture.WARM if i == 0 else picture.INK
        for share, spans in _shares(rows, found.step_s):
            axes.broken_barh(spans, (len(ran) - i - 0.8, 0.6 * share), facecolors=ink)
    axes.set_ylim(0, max(1, len(ran)))
    axes.set_yticks([len(ran) - i - 0.5 for i in range(len(ran))], list(ran), fontsize=8)


def _shares(
    rows: Iterable[OnTimes], step_s: int
) -> Iterable[tuple[float, list[tuple[float, float]]]]:
    """Bars of one height together: matplotlib draws a thousand as quickly as one."""
    by_share: dict[float, list[tuple[float, float]]] = {}
    for row in rows:
        share = round(row.on_s / step_s, 1)
        if row.on_s > 0.0:
            by_share.setdefault(max(share, 0.1), []).append(
                (picture.day(row.utc_s), picture.day(step_s))
            )
    return by_share.items()
