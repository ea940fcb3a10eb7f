"""One night as a picture: temperatures against the plants' minima, and when heat ran.

Lives here: drawing. Does not live here: facts (night.py), paper and ink (picture.py).
"""

from array import array
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import DAY_S, HOUR_S, MINUTE_S
from greenkeeper.reports import picture, record
from greenkeeper.reports.night import Facts
from greenkeeper.settings.schema import Settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_DASHES = ("-", "--", "-.", ":")
# A picture is some 1300 dots wide: of more days than this, an hour is less than a dot.
_MOST_DAYS_BY_MINUTE = 60.0


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
        _line(axes, journal, found, name, picture.LEAF, _DASHES[i % len(_DASHES)])
    if outdoor is not None:
        _line(axes, journal, found, outdoor, picture.COLD, "-")
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


def _line(axes: "Axes", journal: Journal, found: Facts, probe: str, ink: str, dashes: str) -> None:
    """Broken where nothing was measured, never drawn across."""
    step_s = _step_s(found)
    ask = journal.minutes if step_s == MINUTE_S else journal.hours
    moments, temps = array("d"), array("d")
    before_s: int | None = None
    for row in record.rows(ask, probe, *found.span):
        if before_s is not None and row.utc_s - before_s > 3 * step_s:
            moments.append(picture.day(before_s + step_s))
            temps.append(float("nan"))  # matplotlib's word for "lift the pen"
        moments.append(picture.day(row.utc_s))
        temps.append(float("nan") if row.mean_c is None else row.mean_c)
        before_s = row.utc_s
    if any(temp_c == temp_c for temp_c in temps):
        axes.plot(moments, temps, color=ink, linestyle=dashes, linewidth=1.3, label=probe)


def _outputs(axes: "Axes", journal: Journal, found: Facts, ran: Sequence[str]) -> None:
    fine = _step_s(found) == MINUTE_S
    picture.plain(axes, "on, minute by minute" if fine else "share of each hour on")
    axes.grid(visible=False)
    for i, name in enumerate(ran):
        moments, shares = _shares(journal, found, name)
        foot = len(ran) - i - 0.8
        axes.fill_between(
            moments,
            foot,
            [foot + 0.6 * share for share in shares],
            step="post",
            color=picture.WARM if i == 0 else picture.INK,
            linewidth=0.0,
        )
    axes.set_ylim(0, max(1, len(ran)))
    axes.set_yticks([len(ran) - i - 0.5 for i in range(len(ran))], list(ran), fontsize=8)


def _shares(journal: Journal, found: Facts, output: str) -> "tuple[array[float], array[float]]":
    """When its share of time on changed, and to what: steps, of which most nights have few."""
    step_s = _step_s(found)
    ask = journal.output_minutes if step_s == MINUTE_S else journal.output_hours
    moments, shares = array("d"), array("d")
    ends_s = found.span.from_utc_s
    share = 0.0

    def turn(utc_s: float, now: float) -> None:
        nonlocal share
        if now != share or not moments:
            moments.append(picture.day(utc_s))
            shares.append(now)
            share = now

    for row in record.rows(ask, output, *found.span):
        if row.utc_s > ends_s:
            turn(ends_s, 0.0)
        # What ran at all is seen, and a tenth is as much as can be told apart.
        turn(row.utc_s, max(round(row.on_s / step_s, 1), 0.1) if row.on_s > 0.0 else 0.0)
        ends_s = row.utc_s + step_s
    turn(ends_s, 0.0)
    return moments, shares


def _step_s(found: Facts) -> int:
    """As finely as the record is kept, and the picture can show."""
    days = (found.span.to_utc_s - found.span.from_utc_s) / DAY_S
    return found.step_s if days <= _MOST_DAYS_BY_MINUTE else HOUR_S
