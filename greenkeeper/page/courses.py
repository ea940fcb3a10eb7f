"""What a picture of a span shows, asked of the journal.

Lives here: which lines, limits and bars, and the same as a table for those who do not
look. Does not live here: drawing (chart.py).
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import HOUR_S, MINUTE_S
from greenkeeper.page import thin
from greenkeeper.page.chart import Bar, Drawing, Limit, Line
from greenkeeper.page.figures import Figures
from greenkeeper.page.thin import Grid
from greenkeeper.reports import record
from greenkeeper.reports.night import Span
from greenkeeper.reports.words import NOTHING
from greenkeeper.settings.derived import heaters, plants_minimum_c, plants_of, ventilators
from greenkeeper.settings.schema import Settings

_COLUMNS = 240
_ROWS = 24  # of the table
_MINUTES_UP_TO_S = 3 * 86_400.0  # beyond, the hours tell as much in a picture
_DAYS_AT_ONCE = 60  # of ten years, which at once would be 20 MiB for each probe


class Row(NamedTuple):
    """One line of the table, ready to be shown."""

    when: str
    cells: Sequence[str]


class Table(NamedTuple):
    heads: Sequence[str]
    rows: Sequence[Row]


def drawing(journal: Journal, settings: Settings, span: Span, title: str) -> Drawing:
    """Raises JournalError."""
    return _Asking(journal, settings, span).drawing(title)


class _Asking:
    def __init__(self, journal: Journal, settings: Settings, span: Span) -> None:
        self._journal, self._settings = journal, settings
        length_s = span.to_utc_s - span.from_utc_s
        self._fine = length_s <= _MINUTES_UP_TO_S and any(self._has_minutes(span))
        self._step_s = MINUTE_S if self._fine else HOUR_S
        columns = min(_COLUMNS, max(1, int(length_s // self._step_s)))
        self._grid = Grid(span, columns)

    def _has_minutes(self, span: Span) -> Iterator[bool]:
        """Of each probe that has a place in the picture. What is too old has hours alone."""
        site = self._settings.site
        probes = [name for zone in self._settings.zones.values() for name in zone.probes]
        probes += [site.outdoor_probe] if site.outdoor_probe is not None else []
        for name in probes:
            yield bool(self._journal.minutes(name, *span))

    def drawing(self, title: str) -> Drawing:
        settings, site = self._settings, self._settings.site
        lines = [
            Line(name, "inside", self._course(zone.probes), banded=True)
            for name, zone in settings.zones.items()
        ]
        if site.outdoor_probe is not None:
            lines.append(
                Line("outdoors", "outdoors", self._course((site.outdoor_probe,)), banded=False)
            )
        return Drawing(title, self._grid, lines, list(_limits(settings)), list(self._bars()))

    def _course(self, probes: Sequence[str]) -> list[thin.Column | None]:
        ask = self._journal.minutes if self._fine else self._journal.hours
        courses = [
            thin.temperatures(record.rows(ask, name, *self._grid.span, _DAYS_AT_ONCE), self._grid)
            for name in probes
        ]
        return thin.filled(thin.together(courses), self._grid, self._step_s)

    def _bars(self) -> Iterator[Bar]:
        hot = heaters(self._settings)
        for name in (*hot, *ventilators(self._settings)):
            if name not in self._settings.outputs:
                continue  # a vent: its two relays are outputs of its own
            ask = self._journal.output_minutes if self._fine else self._journal.output_hours
            shares = thin.shares_on(
                record.rows(ask, name, *self._grid.span, _DAYS_AT_ONCE), self._grid, self._step_s
            )
            if any(share is not None for share in shares):
                yield Bar(name, "heat" if name in hot else "cool", shares)


def _limits(settings: Settings) -> Iterator[Limit]:
    """One for each minimum of a tenderest plant; zones with the same share it."""
    named: dict[float, list[str]] = {}
    for zone in settings.zones:
        minimum_c = plants_minimum_c(settings, zone)
        if minimum_c is not None:
            tender = [
                plant.name for plant in plants_of(settings, zone) if plant.lowest_c == minimum_c
            ]
            named.setdefault(minimum_c, []).extend(tender)
    for minimum_c, names in named.items():
        yield Limit(f"minimum of {', '.join(dict.fromkeys(names))}", minimum_c)


def table(drawn: Drawing, figures: Figures) -> Table:
    """The picture's figures in words: lows, and the share of the time that outputs ran."""
    heads = [*(line.name for line in drawn.lines), *(bar.name for bar in drawn.bars)]
    each = max(1, round(drawn.grid.columns / _ROWS))
    rows = []
    for first in range(0, drawn.grid.columns, each):
        begins_s = drawn.grid.begins_s(first)
        cells = [*_lows(drawn, figures, first, first + each), *_ran(drawn, first, first + each)]
        rows.append(Row(figures.moment_in(drawn.grid.span, begins_s), cells))
    return Table(heads, rows)


def _lows(drawn: Drawing, figures: Figures, first: int, end: int) -> Iterator[str]:
    for line in drawn.lines:
        seen = [column.low_c for column in line.course[first:end] if column]
        yield figures.temperature(min(seen)) if seen else NOTHING


def _ran(drawn: Drawing, first: int, end: int) -> Iterator[str]:
    for bar in drawn.bars:
        shares = [share for share in bar.shares[first:end] if share is not None]
        yield f"{100.0 * sum(shares) / len(shares):.0f} %" if shares else NOTHING
