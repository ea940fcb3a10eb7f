"""What all pictures have in common: paper, ink, the clock along the bottom, the file.

Lives here: making a figure and saving it whole, and the few inks every picture uses, told
apart by dash and place too, so that colour is never the only sign. Does not live here:
what is drawn. matplotlib comes with the extra `report` and is imported inside only.
"""

import os
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.errors import GreenkeeperError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FORMS = (".png", ".svg")

# Inks that stay apart for eyes without red or green, and in grey: dark to light.
INK = "#2b2b2b"
COLD = "#31688e"  # outdoors, and what is lost
WARM = "#c2571a"  # heat
LEAF = "#4a7c3a"  # the plants' air
PALE = "#b9b3a6"  # lines that only guide
ALARM = "#9b1b30"


class PictureError(GreenkeeperError):
    """The picture cannot be drawn or saved; the message says why and what to do."""


def checked(file: Path) -> Path:
    """The same file, if a picture can go there; asked before any long work.

    Raises PictureError.
    """
    if file.suffix.lower() not in FORMS:
        raise PictureError(f"{file}: a picture's name ends in {' or '.join(FORMS)}")
    folder = file.absolute().parent
    if not folder.is_dir():
        raise PictureError(f"{folder}: there is no such folder")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise PictureError(f"{folder}: you may not write there; name another folder")
    if file.is_dir():
        raise PictureError(f"{file} is a folder: name a file in it")
    try:
        import matplotlib.figure  # noqa: F401 - only whether it is there
    except ImportError as error:
        raise PictureError(
            "pictures need matplotlib: pip install 'greenkeeper[report]', or apt install"
            " python3-matplotlib"
        ) from error
    return file


def new(width_in: float = 9.0, height_in: float = 5.0) -> "Figure":
    """An empty figure; with no window behind it and nothing kept anywhere else."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in), layout="constrained", facecolor="white")


def save(figure: "Figure", file: Path) -> None:
    """The file appears whole or not at all. Raises PictureError."""
    beside = file.with_name(f".{file.name}.new")
    try:
        figure.savefig(beside, format=file.suffix.lower()[1:], dpi=150)
        beside.replace(file)
    except OSError as error:
        raise PictureError(f"{file} cannot be written: {error.strerror}") from error
    finally:
        if os.path.lexists(beside):  # unlike Path.exists, no error where nobody may look
            beside.unlink()


def plain(axes: "Axes", unit: str) -> None:
    """Few lines: a grid across, no box, the unit over the axis."""
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(PALE)
    axes.tick_params(colors=INK, length=0)
    axes.grid(axis="y", color=PALE, linewidth=0.5, alpha=0.6)
    axes.set_axisbelow(True)
    axes.set_title(unit, loc="left", fontsize=9, color=INK)


def day(utc_s: float) -> float:
    """A moment as matplotlib counts them: days since 1970."""
    return utc_s / 86_400.0


def clock(axes: "Axes", timezone: tzinfo) -> None:
    """The bottom axis is in days of `day`: show the wall's clock, and the day where it turns."""
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    days = ["%Y", "%b %Y", "%-d %b", "%H:%M", "%H:%M", "%S.%f"]
    turns = ["", "%b %Y", "%b %Y", "%-d %b", "%-d %b", "%H:%M"]

    locator = AutoDateLocator(tz=timezone, minticks=4, maxticks=9)  # type: ignore[no-untyped-call] # theirs
    axes.xaxis.set_major_locator(locator)
    shown = ConciseDateFormatter(
        locator,
        tz=timezone,
        formats=days,
        zero_formats=turns,
        show_offset=False,
    )  # type: ignore[no-untyped-call] # theirs
    axes.xaxis.set_major_formatter(shown)
