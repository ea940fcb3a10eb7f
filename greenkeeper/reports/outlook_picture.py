"""The coming night as a picture: what was measured so far, and what is reckoned.

Lives here: drawing. Does not live here: figures (outlook.py), paper and ink (picture.py).
"""

import textwrap
from collections.abc import Sequence
from itertools import cycle
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.journal.reader import Journal
from greenkeeper.outlook.course import Point
from greenkeeper.reports import outlook_sheet, picture
from greenkeeper.reports.outlook import Outlook
from greenkeeper.settings.schema import Settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    Dashes = str | tuple[float, tuple[float, ...]]

_BACK_S = 12 * 3600.0
_GAP_S = 180.0
_LETTERING = 8
_TITLE_COLUMNS = 90
_DASHES: "tuple[Dashes, ...]" = (":", "-.", (0, (5, 1)), (0, (3, 1, 1, 1)))  # by zone


def draw(journal: Journal, settings: Settings, zones: Sequence[Outlook], file: Path) -> None:
    """Raises JournalError, PictureError."""
    first = zones[0]
    lines = [outlook_sheet.title(first, settings.site.timezone)]
    for each in zones:
        text = outlook_sheet.said(each, alone=len(zones) == 1)
        lines += textwrap.wrap(text, _TITLE_COLUMNS)
    figure = picture.new(9.0, 4.3 + 0.25 * len(lines))
    axes = figure.subplots()
    figure.suptitle("\n".join(lines), x=0.01, ha="left", fontsize=12, color=picture.INK)
    picture.plain(axes, "\N{DEGREE SIGN}C, measured until now, then reckoned")
    _measured(axes, journal, settings, zones)
    _outdoors(axes, first)
    for found, dashes in zip(zones, cycle(_DASHES), strict=False):
        _reckoned(axes, found, dashes)
    for minimum_c in dict.fromkeys(each.limits.minimum_c for each in zones):
        wants = [each.limits.wants for each in zones if each.limits.minimum_c == minimum_c]
        _limit(axes, minimum_c, "; ".join(dict.fromkeys(wants)))
    axes.axvline(picture.day(first.made_utc_s), color=picture.PALE, linewidth=1.0)
    axes.set_xlim(picture.day(first.made_utc_s - _BACK_S), picture.day(first.until_utc_s))
    axes.legend(
        loc="upper left", bbox_to_anchor=(0.0, -0.09), frameon=False, fontsize=_LETTERING, ncols=3
    )
    picture.clock(axes, settings.site.zone)
    picture.save(figure, file)


def _measured(axes: "Axes", journal: Journal, settings: Settings, zones: Sequence[Outlook]) -> None:
    first, outdoor = zones[0], settings.site.outdoor_probe
    inside = [probe for each in zones for probe in settings.zones[each.zone].probes]
    for name in (*inside, *(() if outdoor is None else (outdoor,))):
        rows = journal.minutes(name, first.made_utc_s - _BACK_S, first.made_utc_s)
        known = [Point(float(row.utc_s), row.mean_c) for row in rows if row.mean_c is not None]
        ink = picture.COLD if name == outdoor else picture.LEAF
        _line(axes, known, ink, "-", None)


def _outdoors(axes: "Axes", found: Outlook) -> None:
    _line(axes, found.outdoor, picture.COLD, "--", "outdoors")
    least_c, most_c = found.outdoor_band_c
    low = found.outdoor_low
    axes.errorbar(
        [picture.day(low.utc_s)],
        [low.temp_c],
        yerr=[[low.temp_c - least_c], [most_c - low.temp_c]],
        color=picture.COLD,
        capsize=3,
        linewidth=1.0,
        label="its low, eight nights in ten",
    )


def _reckoned(axes: "Axes", found: Outlook, dashes: "Dashes") -> None:
    ways, covers = found.ways, found.limits.covers
    _line(axes, ways.cold.points, picture.INK, dashes, f"{found.zone} without heat")
    if ways.kept is not None:
        _line(axes, ways.kept.points, picture.LEAF, dashes, f"{found.zone} with the heater")
    if ways.covered_cold is not None:
        name = f"{found.zone} without heat, under {covers}"
        _line(axes, ways.covered_cold.points, picture.INK, (0, (1, 3)), name)


def _limit(axes: "Axes", minimum_c: float, wants: str) -> None:
    axes.axhline(minimum_c, color=picture.ALARM, linewidth=0.9, linestyle=(0, (1, 2)))
    axes.annotate(
        wants,
        (0.0, minimum_c),
        xycoords=("axes fraction", "data"),
        xytext=(3, -9),
        textcoords="offset points",
        fontsize=_LETTERING,
        color=picture.ALARM,
    )


def _line(
    axes: "Axes", points: Sequence[Point], ink: str, dashes: "Dashes", label: str | None
) -> None:
    """A record is broken where it is, never drawn across; what is reckoned has no gaps, however
    far apart its points are."""
    moments, temps = [], []
    before: Point | None = None
    for point in points:
        if label is None and before is not None and point.utc_s - before.utc_s > _GAP_S:
            moments.append(picture.day(before.utc_s))
            temps.append(float("nan"))  # matplotlib's word for "lift the pen"
        moments.append(picture.day(point.utc_s))
        temps.append(point.temp_c)
        before = point
    axes.plot(moments, temps, color=ink, linestyle=dashes, linewidth=1.4, label=label)
