"""The coming night as a picture: what was measured so far, and what is reckoned.

Lives here: drawing. Does not live here: figures (outlook.py), paper and ink (picture.py).
"""

import textwrap
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.journal.reader import Journal
from greenkeeper.outlook.course import Point
from greenkeeper.reports import picture
from greenkeeper.reports.outlook import Outlook
from greenkeeper.settings.schema import Settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_BACK_S = 12 * 3600.0
_GAP_S = 180.0
_LETTERING = 8
_TITLE_COLUMNS = 90


def draw(journal: Journal, settings: Settings, found: Outlook, title: str, file: Path) -> None:
    """Raises JournalError, PictureError."""
    figure = picture.new(9.0, 4.8)
    axes = figure.subplots()
    lines = textwrap.wrap(title, _TITLE_COLUMNS)
    figure.suptitle("\n".join(lines), x=0.01, ha="left", fontsize=12, color=picture.INK)
    picture.plain(axes, "\N{DEGREE SIGN}C, measured until now, then reckoned")
    _measured(axes, journal, settings, found)
    _reckoned(axes, found)
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
    _limit(axes, found)
    axes.axvline(picture.day(found.made_utc_s), color=picture.PALE, linewidth=1.0)
    axes.set_xlim(picture.day(found.made_utc_s - _BACK_S), picture.day(found.until_utc_s))
    axes.legend(
        loc="lower left", bbox_to_anchor=(0.0, -0.32), frameon=False, fontsize=_LETTERING, ncols=3
    )
    picture.clock(axes, settings.site.zone)
    picture.save(figure, file)


def _measured(axes: "Axes", journal: Journal, settings: Settings, found: Outlook) -> None:
    outdoor = settings.site.outdoor_probe
    inside = settings.zones[found.zone].probes
    for name in (*inside, *(() if outdoor is None else (outdoor,))):
        rows = journal.minutes(name, found.made_utc_s - _BACK_S, found.made_utc_s)
        known = [Point(float(row.utc_s), row.mean_c) for row in rows if row.mean_c is not None]
        ink = picture.COLD if name == outdoor else picture.LEAF
        _line(axes, known, ink, "-", None)


def _reckoned(axes: "Axes", found: Outlook) -> None:
    ways, covers = found.ways, found.limits.covers
    _line(axes, found.outdoor, picture.COLD, "--", "outdoors")
    _line(axes, ways.cold.points, picture.INK, ":", f"{found.zone} without heat")
    if ways.kept is not None:
        _line(axes, ways.kept.points, picture.LEAF, "--", f"{found.zone} with the heater")
    if ways.covered_cold is not None:
        _line(axes, ways.covered_cold.points, picture.INK, "-.", f"without heat, under {covers}")


def _limit(axes: "Axes", found: Outlook) -> None:
    minimum_c = found.limits.minimum_c
    axes.axhline(minimum_c, color=picture.ALARM, linewidth=0.9, linestyle=(0, (1, 2)))
    axes.annotate(
        found.limits.wants,
        (0.0, minimum_c),
        xycoords=("axes fraction", "data"),
        xytext=(3, -9),
        textcoords="offset points",
        fontsize=_LETTERING,
        color=picture.ALARM,
    )


def _line(axes: "Axes", points: Sequence[Point], ink: str, dashes: str, label: str | None) -> None:
    """Broken where the record is, never drawn across. Reckoned points are half an hour apart."""
    moments, temps = [], []
    step_s = min((later.utc_s - earlier.utc_s for earlier, later in pairwise(points)), default=0.0)
    before: Point | None = None
    for point in points:
        if before is not None and point.utc_s - before.utc_s > max(_GAP_S, 8.0 * step_s):
            moments.append(picture.day(before.utc_s))
            temps.append(float("nan"))  # matplotlib's word for "lift the pen"
        moments.append(picture.day(point.utc_s))
        temps.append(point.temp_c)
        before = point
    axes.plot(moments, temps, color=ink, linestyle=dashes, linewidth=1.4, label=label)
