"""The season as a picture: where the warmth goes, month by month, and what is left of it.

Lives here: drawing, with matplotlib, which only this module and only on demand loads. Does
not live here: figures (season.py, house/heatloss.py), and where the file goes.
"""

from io import BytesIO
from typing import TYPE_CHECKING

from greenkeeper.errors import GreenkeeperError
from greenkeeper.house import heatloss
from greenkeeper.reports.season import Facts
from greenkeeper.reports.season_words import MONTHS
from greenkeeper.units import shown_c

if TYPE_CHECKING:
    from matplotlib.axes import Axes

KINDS = ("png", "svg", "pdf")

# Told apart by everybody: dark against light, and legible in grey.
_GLAZED, _SOLID, _EDGE, _AIR = "#3b7a57", "#8a6d3b", "#5b6770", "#7fa8c9"
_MEANS = {
    _GLAZED: "lets light through",
    _SOLID: "lets none through",
    _EDGE: "along the ground",
    _AIR: "with air that leaves",
}
_NOW, _THEN = "#c46a2b", "#f0cfa8"


def picture(found: Facts, name: str, kind: str) -> bytes:
    """The picture's file. kind: one of KINDS.

    Raises GreenkeeperError where matplotlib is not installed.
    """
    try:
        from matplotlib.figure import Figure
    except ImportError as error:
        raise GreenkeeperError(
            "a picture needs matplotlib: pip install 'greenkeeper[report]'"
        ) from error
    figure = Figure(figsize=(11.0, 5.2), layout="constrained")
    left, right = figure.subplots(1, 2)
    _losses(left, found)
    _months(right, found)
    figure.suptitle(f"{name}, held at {shown_c(found.who.highest_c)}", fontsize=13)
    out = BytesIO()
    # Without a date in it, equal facts make an equal file.
    stamp = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(kind)
    figure.savefig(out, format=kind, dpi=130, metadata=stamp)
    return out.getvalue()


def _losses(axes: "Axes", found: Facts) -> None:
    from matplotlib.patches import Patch

    rows = sorted(heatloss.lines(found.sheet), key=lambda line: line.w_k)
    clear = {each.name for each in found.sheet.surfaces if each.transmittance > 0.0}
    colours = [_colour(line.name, clear) for line in rows]
    bars = axes.barh([line.name for line in rows], [line.w_k for line in rows], color=colours)
    axes.bar_label(bars, fmt="%.1f", padding=3, fontsize=9)
    axes.set_title(f"Where the warmth goes: {found.sheet.loss_w_k:.0f} W for each kelvin")
    axes.set_xlabel("W/K")
    seen = {_colour(line.name, clear) for line in rows}
    means = [Patch(color=colour, label=words) for colour, words in _MEANS.items() if colour in seen]
    axes.legend(handles=means, frameon=False, loc="lower right")
    _bare(axes)


def _colour(line: str, clear: set[str]) -> str:
    if line == "air exchange":
        return _AIR
    if line == "floor edge":
        return _EDGE
    return _GLAZED if line in clear else _SOLID


def _months(axes: "Axes", found: Facts) -> None:
    """From July to June in the north: a winter stands in one piece."""
    means_c = found.climate.months_c()
    known = [month for month, mean_c in enumerate(means_c) if mean_c is not None]
    warmest = max(known, key=lambda month: means_c[month] or 0.0)
    order = [month for step in range(1, 13) if (month := (warmest + step) % 12) in known]
    names = [MONTHS[month] for month in order]
    now = [found.base.months_kwh[month] for month in order]
    what = f"now, {found.base.kwh:.0f} kWh"
    axes.bar(names, now, color=_NOW, label=what)
    if found.improved is not None and found.together is not None:
        then = [found.improved.months_kwh[month] for month in order]
        label = f"with all improvements, {found.improved.kwh:.0f} kWh"
        axes.bar(names, then, color=_THEN, width=0.5, label=label)
    axes.set_title("What it takes, month by month")
    axes.set_ylabel("kWh")
    axes.set_ylim(top=1.22 * max(*now, 1.0))  # room for the legend above the bars
    axes.legend(frameon=False, loc="upper right")
    if found.per_kwh:
        money = axes.twinx()
        low_kwh, high_kwh = axes.get_ylim()
        money.set_ylim(low_kwh * found.per_kwh, high_kwh * found.per_kwh)
        money.set_ylabel(found.currency)
        _bare(money)
    _bare(axes)


def _bare(axes: "Axes") -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
