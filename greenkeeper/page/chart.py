"""A picture of a span as SVG: temperatures against limits, what ran, and where nobody looked.

Lives here: drawing. It is drawn for any width: strokes stretch, letters do not, because
curves lie in a plot of their own that is stretched to the picture's width and all words
are placed by per cent. Every look is a class (static/page.css), since the page's own rules
forbid styles within it. Does not live here: what is drawn (courses.py), thinning (thin.py),
round figures (axis.py).

matplotlib would take as much memory as all the rest of the page together.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple
from xml.etree import ElementTree

from markupsafe import Markup

from greenkeeper.page import axis
from greenkeeper.page.figures import Figures
from greenkeeper.page.thin import Column, Grid, silences

_WIDE, _HIGH = 1000, 200  # of the plot; it is stretched
_TOP_PX, _PLOT_PX, _BAR_PX, _FOOT_PX = 8, 200, 34, 22
_LEAST_SPAN = 4.0  # degrees: a still night must not look like a storm
_READ = 48  # so many places can be pointed at


class Line(NamedTuple):
    """look: a class, "inside" or "outdoors". banded: from its coldest to its warmest probe."""

    name: str
    look: str
    course: Sequence[Column | None]
    banded: bool


class Limit(NamedTuple):
    words: str
    temp_c: float


class Bar(NamedTuple):
    """look: a class, "heat" or "cool". shares: 0 to 1 of each column. None: not watched."""

    name: str
    look: str
    shares: Sequence[float | None]


class Drawing(NamedTuple):
    title: str
    grid: Grid
    lines: Sequence[Line]
    limits: Sequence[Limit]
    bars: Sequence[Bar]


def svg(drawing: Drawing, figures: Figures) -> Markup:
    """Ready to stand in a page. Without a single measurement it says so."""
    scale = _scale(drawing, figures)
    height = _TOP_PX + _PLOT_PX + _BAR_PX * len(drawing.bars) + _FOOT_PX
    root = ElementTree.Element(
        "svg",
        {
            "class": "chart",
            "role": "img",
            "aria-label": drawing.title,
            "width": "100%",
            "height": f"{height}",
            "xmlns": "http://www.w3.org/2000/svg",
        },
    )
    _silence(root, drawing, height - _FOOT_PX)
    _moments(root, drawing.grid, figures, height)
    _grid(root, scale, figures)
    plot = _plot(root, _TOP_PX, _PLOT_PX, _HIGH)
    for line in drawing.lines:
        _line(plot, line, scale)
    for limit in drawing.limits:
        _limit(root, plot, limit, scale)
    _degrees(root, scale, figures)
    for i, bar in enumerate(drawing.bars):
        _bar(root, bar, _TOP_PX + _PLOT_PX + _BAR_PX * i)
    for line in drawing.lines:
        _name(root, line, scale, drawing)
    _readings(root, drawing, figures, height - _FOOT_PX)
    return Markup(ElementTree.tostring(root, encoding="unicode"))  # noqa: S704 - built, not pasted


class _Scale(NamedTuple):
    """From °C to a share of the plot's height, counted from its top."""

    ticks: Sequence[float]  # in the reader's degrees
    figures: Figures

    def share(self, temp_c: float) -> float:
        low, high = self.ticks[0], self.ticks[-1]
        return (high - self.figures.degrees(temp_c)) / (high - low)

    def px(self, temp_c: float) -> float:
        return _TOP_PX + _PLOT_PX * self.share(temp_c)


def _scale(drawing: Drawing, figures: Figures) -> _Scale:
    seen = [
        temp_c
        for line in drawing.lines
        for column in line.course
        if column
        for temp_c in ((column.low_c, column.high_c) if line.banded else (column.mean_c,))
    ]
    seen += [limit.temp_c for limit in drawing.limits]
    low = min(map(figures.degrees, seen), default=0.0)
    high = max(map(figures.degrees, seen), default=10.0)
    spare = max(0.0, _LEAST_SPAN - (high - low)) / 2.0
    return _Scale(axis.degrees(low - spare, high + spare), figures)


# --- pieces ------------------------------------------------------------------------------


def _put(parent: ElementTree.Element, tag: str, look: str, **places: object) -> ElementTree.Element:
    attributes = {name.replace("_", "-"): _figure(value) for name, value in places.items()}
    return ElementTree.SubElement(
        parent, tag, {"class": look, **attributes} if look else attributes
    )


def _figure(value: object) -> str:
    return f"{value:.1f}".removesuffix(".0") if isinstance(value, float) else str(value)


def _text(parent: ElementTree.Element, look: str, words: str, **places: object) -> None:
    _put(parent, "text", look, **places).text = words


def _percent(share: float) -> str:
    return f"{100.0 * share:.2f}%"


def _plot(
    root: ElementTree.Element, y_px: float, height_px: float, high: int
) -> ElementTree.Element:
    return _put(
        root, "svg", "", x=0, y=y_px, width="100%", height=height_px,
        viewBox=f"0 0 {_WIDE} {high}", preserveAspectRatio="none",
    )  # fmt: skip


def _grid(root: ElementTree.Element, scale: _Scale, figures: Figures) -> None:
    for degrees in scale.ticks:
        y_px = scale.px(figures.celsius(degrees))
        _put(root, "line", "grid", x1="0", x2="100%", y1=y_px, y2=y_px)


def _degrees(root: ElementTree.Element, scale: _Scale, figures: Figures) -> None:
    """Over the curves, or a curve would strike them out."""
    for i, degrees in enumerate(scale.ticks):
        y_px = scale.px(figures.celsius(degrees))
        unit = f" {figures.degree}" if i == len(scale.ticks) - 1 else ""
        # On its line, but for the highest, which would leave the picture.
        y_words = y_px + 12.0 if unit else y_px - 3.0
        _text(root, "axis", figures.number(degrees) + unit, x=2, y=y_words)


def _moments(root: ElementTree.Element, grid: Grid, figures: Figures, height_px: float) -> None:
    length_s = grid.span.to_utc_s - grid.span.from_utc_s
    for utc_s, words in axis.moments(grid.span, figures):
        share = (utc_s - grid.span.from_utc_s) / length_s
        x = _percent(share)
        _put(root, "line", "grid", x1=x, x2=x, y1=_TOP_PX, y2=height_px - _FOOT_PX)
        anchor = "start" if share < 0.06 else "end" if share > 0.94 else "middle"
        _text(root, "axis", words, x=x, y=height_px - 6, text_anchor=anchor)


def _silence(root: ElementTree.Element, drawing: Drawing, bottom_px: float) -> None:
    """Where no probe told anything at all."""
    courses = [line.course for line in drawing.lines]
    anything = [
        next((each for each in column if each), None) for column in zip(*courses, strict=True)
    ]
    for first, end in silences(anything):
        share = first / drawing.grid.columns
        width = (end - first) / drawing.grid.columns
        _put(
            root, "rect", "silence", x=_percent(share), width=_percent(width), y=_TOP_PX,
            height=bottom_px - _TOP_PX,
        )  # fmt: skip
        if width > 0.2:
            middle = _percent(share + width / 2.0)
            _text(
                root,
                "silent",
                "no record",
                x=middle,
                y=_TOP_PX + _PLOT_PX / 2,
                text_anchor="middle",
            )


def _line(plot: ElementTree.Element, line: Line, scale: _Scale) -> None:
    runs = list(_runs(line.course))
    step = _WIDE / len(line.course)
    if line.banded:
        for first, columns in runs:
            there = [(first + i + 0.5, column.high_c) for i, column in enumerate(columns)]
            back = [(first + i + 0.5, column.low_c) for i, column in enumerate(columns)][::-1]
            path = _path([*there, *back], step, scale)
            _put(plot, "path", f"band {line.look}", d=f"{path}Z")
    for first, columns in runs:
        points = [
            (first + i + 0.5, column.low_c if line.banded else column.mean_c)
            for i, column in enumerate(columns)
        ]
        if len(points) == 1:  # a lone column is a dash, not a point nobody sees
            points = [(first, points[0][1]), (first + 1.0, points[0][1])]
        _put(plot, "path", f"line {line.look}", d=_path(points, step, scale))


def _runs(course: Sequence[Column | None]) -> Iterator[tuple[int, list[Column]]]:
    """Stretches without a break: where each begins, and its columns."""
    run: list[Column] = []
    for i, column in enumerate([*course, None]):
        if column is not None:
            run.append(column)
        elif run:
            yield i - len(run), run
            run = []


def _path(points: Sequence[tuple[float, float]], step: float, scale: _Scale) -> str:
    """Relative steps of whole units: half the letters of absolute ones."""
    places = [(round(x * step), round(_HIGH * scale.share(temp_c))) for x, temp_c in points]
    (x, y), words = places[0], []
    for next_x, next_y in places[1:]:
        words.append(f"{next_x - x},{next_y - y}")
        x, y = next_x, next_y
    return f"M{places[0][0]},{places[0][1]}l{' '.join(words)}"


def _limit(
    root: ElementTree.Element, plot: ElementTree.Element, limit: Limit, scale: _Scale
) -> None:
    y = _HIGH * scale.share(limit.temp_c)
    _put(plot, "line", "limit", x1=0, x2=_WIDE, y1=y, y2=y)
    _text(root, "limit", limit.words, x="99.5%", y=scale.px(limit.temp_c) + 13.0, text_anchor="end")


def _name(root: ElementTree.Element, line: Line, scale: _Scale, drawing: Drawing) -> None:
    """Each line bears its name, so that colour is never the only sign."""
    known = [(i, column) for i, column in enumerate(line.course) if column]
    if not known:
        return
    at, column = known[max(0, int(len(known) * 0.62) - 1)]
    low = line.look == "outdoors"
    temp_c = column.mean_c if low else column.high_c
    y_px = scale.px(temp_c) + (14.0 if low else -5.0)
    y_px = min(max(y_px, _TOP_PX + 12.0), _TOP_PX + _PLOT_PX - 2.0)
    x = _percent(at / drawing.grid.columns)
    _text(root, f"name {line.look}", line.name, x=x, y=y_px, text_anchor="middle")


def _bar(root: ElementTree.Element, bar: Bar, top_px: float) -> None:
    _text(root, f"name {bar.look}", bar.name, x=2, y=top_px + 15)
    plot = _plot(root, top_px + 18, _BAR_PX - 20, 10)
    step = _WIDE / len(bar.shares)
    _put(plot, "line", "grid", x1=0, x2=_WIDE, y1=10, y2=10)
    path = []
    for i, share in enumerate(bar.shares):
        if share:
            height = max(2, round(10 * share))
            path.append(f"M{round(i * step)},10v-{height}h{max(1, round(step))}v{height}z")
    if path:
        _put(plot, "path", f"bar {bar.look}", d="".join(path))


def _readings(
    root: ElementTree.Element, drawing: Drawing, figures: Figures, bottom_px: float
) -> None:
    """Places to point at: each tells its own time and figures, with no script at all."""
    columns = drawing.grid.columns
    each = max(1, columns // _READ)
    for first in range(0, columns, each):
        words = _reading(drawing, figures, first, min(first + each, columns))
        if words is None:
            continue
        place = _put(
            root, "rect", "reading", x=_percent(first / columns), width=_percent(each / columns),
            y=_TOP_PX, height=bottom_px - _TOP_PX,
        )  # fmt: skip
        ElementTree.SubElement(place, "title").text = words


def _reading(drawing: Drawing, figures: Figures, first: int, end: int) -> str | None:
    told = []
    for line in drawing.lines:
        seen = [column for column in line.course[first:end] if column]
        if seen:
            low_c = min(column.low_c for column in seen)
            told.append(f"{line.name} {figures.temperature(low_c)}")
    if not told:
        return None
    for bar in drawing.bars:
        shares = [share for share in bar.shares[first:end] if share is not None]
        if shares:
            told.append(f"{bar.name} {100.0 * sum(shares) / len(shares):.0f} %")
    begins_s = drawing.grid.begins_s(first)
    span, narrow = drawing.grid.span, drawing.grid.width_s < 1800.0
    when = figures.time(begins_s) if narrow else figures.moment_in(span, begins_s)
    return f"{when}: {', '.join(told)}"
