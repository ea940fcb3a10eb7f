"""The season as a picture: where the warmth goes, month by month, and what is left of it.

Lives here: two drawings side by side. Does not live here: paper, ink and file (picture.py),
figures (season.py, house/heatloss.py).
"""

from typing import TYPE_CHECKING

from greenkeeper.house import heatloss
from greenkeeper.reports import picture
from greenkeeper.reports.season import Facts
from greenkeeper.reports.season_words import MONTHS, from_the_warmest
from greenkeeper.units import shown_c

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MEANS = {
    picture.LEAF: "lets light through",
    picture.INK: "lets none through",
    picture.PALE: "along the ground",
    picture.COLD: "with air that leaves",
}
_LESS = "#efc7a4"  # what is left of the warmth: the same hue, so much paler that grey shows it


def drawn(found: Facts, name: str) -> "Figure":
    """Needs matplotlib: picture.checked asks for it first."""
    figure = picture.new(11.0, 5.2)
    left, right = figure.subplots(1, 2)
    _losses(left, found)
    _months(right, found)
    figure.suptitle(f"{name}, held at {shown_c(found.who.highest_c)}", color=picture.INK)
    return figure


def _losses(axes: "Axes", found: Facts) -> None:
    from matplotlib.patches import Patch

    rows = sorted(heatloss.lines(found.sheet), key=lambda line: line.w_k)
    clear = {each.name for each in found.sheet.surfaces if each.transmittance > 0.0}
    inks = [_ink(line.name, clear) for line in rows]
    bars = axes.barh([line.name for line in rows], [line.w_k for line in rows], color=inks)
    axes.bar_label(bars, fmt="%.1f", padding=3, fontsize=9, color=picture.INK)
    means = [Patch(color=ink, label=words) for ink, words in _MEANS.items() if ink in inks]
    axes.legend(handles=means, frameon=False, loc="lower right", fontsize=9)
    loss_w_k = found.heater.loss_w_k
    measured = "" if abs(loss_w_k - found.sheet.loss_w_k) < 0.05 else f" ({loss_w_k:.1f} measured)"
    picture.plain(axes, f"where the warmth goes: {found.sheet.loss_w_k:.1f} W/K{measured}")
    axes.grid(visible=False)
    axes.set_xticks([])


def _ink(line: str, clear: set[str]) -> str:
    if line == heatloss.AIR:
        return picture.COLD
    if line == heatloss.EDGE:
        return picture.PALE
    return picture.LEAF if line in clear else picture.INK


def _months(axes: "Axes", found: Facts) -> None:
    order = from_the_warmest(found)
    names = [MONTHS[month] for month in order]
    now = [found.base.months_kwh[month] for month in order]
    axes.bar(names, now, color=picture.WARM, label=f"now, {found.base.kwh:.0f} kWh")
    if found.improved is not None:
        then = [found.improved.months_kwh[month] for month in order]
        label = f"with all improvements, {found.improved.kwh:.0f} kWh"
        axes.bar(names, then, color=_LESS, width=0.5, label=label)
    axes.set_ylim(top=1.22 * max(*now, 1.0))  # room for the legend above the bars
    axes.legend(frameon=False, loc="upper right", fontsize=9)
    picture.plain(axes, "what it takes an ideal heater, in kWh")
    if found.per_kwh:
        money = axes.twinx()
        low_kwh, high_kwh = axes.get_ylim()
        money.set_ylim(low_kwh * found.per_kwh, high_kwh * found.per_kwh)
        picture.plain(money, "")
        money.set_title(found.currency, loc="right", fontsize=9, color=picture.INK)
        money.grid(visible=False)
