"""What the season costs, as the page tells it.

Lives here: working it out once, in a thread of its own, while whoever asks is told how far
it is; and its tables in the reader's figures. Does not live here: the figures
(reports/season.py) and their sentences (reports/season_words.py).
"""

import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.page.courses import Row, Table
from greenkeeper.page.figures import Figures
from greenkeeper.page.sources import Sources
from greenkeeper.reports import season, season_climate, season_house, season_words
from greenkeeper.reports.season import Degree, Facts, WhatIf
from greenkeeper.reports.words import NOTHING
from greenkeeper.settings.schema import Settings

_PATIENCE_S = 0.5  # a quick one need not be asked for twice


class Sheet(NamedTuple):
    """done: the share that is worked out; below 1 there is nothing else yet."""

    done: float
    trouble: str
    texts: Sequence[tuple[str, str]]  # a heading ("" without one) and what it says
    months: Table | None
    improvements: Table | None
    degrees: Table | None
    unsure: Table | None


def _unready(done: float, trouble: str = "") -> Sheet:
    return Sheet(done, trouble, (), None, None, None, None)


class Season:
    """For any thread."""

    def __init__(self, sources: Sources) -> None:
        self._sources = sources
        self._lock = threading.Lock()
        self._mark: object = None
        self._work: _Work | None = None

    def sheet(self) -> Sheet:
        settings, figures = self._sources.settings()
        file = settings.page.weather_file
        mark = self._sources.mark, file and _changed(Path(file))
        with self._lock:
            if self._work is None or mark != self._mark:
                self._mark, self._work = mark, _Work(settings)
            work = self._work
        work.wait(_PATIENCE_S)
        if work.trouble is not None:
            return _unready(1.0, figures.text(work.trouble))
        if work.found is None:
            return _unready(work.done)
        return _told(work.found, settings, figures)


class _Work:
    """One season, in the making or made. Invariant: found or trouble is set before it ends."""

    def __init__(self, settings: Settings) -> None:
        self.done = 0.0
        self.found: Facts | None = None
        self.trouble: str | None = None
        self._settings = settings
        self._thread = threading.Thread(target=self._run, name="season", daemon=True)
        self._thread.start()

    def wait(self, at_most_s: float) -> None:
        self._thread.join(at_most_s)

    def _run(self) -> None:
        try:
            self.found = _facts(self._settings, self._progress)
        except GreenkeeperError as error:
            self.trouble = str(error)
        except Exception as error:
            self.trouble = f"It could not be worked out: {error}"
            raise

    def _progress(self, share: float) -> None:
        self.done = min(share, 0.99)


def _facts(settings: Settings, progress: "season.Progress") -> Facts:
    who = season_house.held(settings)
    sheet = season_house.described(settings)
    file = settings.page.weather_file
    weather = None if file is None else season_climate.read_file(Path(file))
    return season.facts(settings, who, season_climate.climate(settings, sheet, weather), progress)


def _changed(file: Path) -> float:
    try:
        return file.stat().st_mtime
    except OSError:
        return 0.0


# --- in the reader's figures ---------------------------------------------------------------


def _told(found: Facts, settings: Settings, figures: Figures) -> Sheet:
    texts = [
        (heading, figures.text(words))
        for heading, words in season_words.paragraphs(found, settings)
    ]
    return Sheet(
        1.0,
        "",
        texts,
        Table(("outside", "kWh", *_money(found)), list(_months(found, figures))),
        _improvements(found, settings, figures),
        Table(("kWh", *_money(found), "change"), list(_degrees(found, figures))),
        Table(("kWh",), list(_unsure(found, figures))),
    )


def _money(found: Facts) -> Sequence[str]:
    return () if found.base.cost is None else (found.currency,)


def _cells(kwh: float, cost: float | None, figures: Figures) -> Iterator[str]:
    yield figures.number(kwh)
    if cost is not None:
        yield figures.number(cost)


def _months(found: Facts, figures: Figures) -> Iterator[Row]:
    means_c, base = found.climate.months_c(), found.base
    for month in season_words.from_the_warmest(found):
        cost = None if base.months_cost is None else base.months_cost[month]
        cells = _cells(base.months_kwh[month], cost, figures)
        yield Row(figures.month_name(month + 1), [figures.temperature(means_c[month]), *cells])
    yield Row("altogether", [NOTHING, *_cells(base.kwh, base.cost, figures)])


def _improvements(found: Facts, settings: Settings, figures: Figures) -> Table | None:
    if not found.improvements:
        return None
    every = (*found.improvements, *([found.together] if found.together else []))
    heads = ("saves kWh", *(f"saves {each}" for each in _money(found)), "price", "pays back")
    return Table(heads, [_improvement(each, found, settings, figures) for each in every])


def _improvement(each: WhatIf, found: Facts, settings: Settings, figures: Figures) -> Row:
    cells = [*_cells(each.saves_kwh, each.saves_cost, figures), figures.number(each.price)]
    words = season_words.pays_back(each, settings, found)
    return Row(each.name, [*cells, figures.text(words) or NOTHING])


def _degrees(found: Facts, figures: Figures) -> Iterator[Row]:
    now = Degree(0.0, found.base.kwh, found.base.cost)
    for each in sorted([*found.degrees, now], key=lambda each: each.warmer_k):
        change = "as now" if each is now else season_words.change_words(found, each.kwh)
        name = figures.temperature(found.who.highest_c + each.warmer_k)
        yield Row(name, [*_cells(each.kwh, each.cost, figures), change])


def _unsure(found: Facts, figures: Figures) -> Iterator[Row]:
    for name, better, worse in found.unsure:
        span = f"{figures.number(better)} to {figures.number(worse)}"
        yield Row(f"if {name} were a fifth better or worse", [span])
