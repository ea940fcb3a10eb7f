"""The nights that were, as tables in the reader's figures.

Lives here: last night's verdict, the table of nights, and of winters. Does not live here:
figures and words (reports/night*.py, reports/winters.py).
"""

import re
from collections.abc import Sequence
from datetime import date, timedelta
from typing import NamedTuple

from greenkeeper.journal.reader import Journal
from greenkeeper.page.courses import Row, Table
from greenkeeper.page.figures import Figures
from greenkeeper.reports import night, night_sheet, winters
from greenkeeper.settings.schema import Settings

_A_NUMBER = re.compile(r"[−+]?\d+\.\d+")


class LastNight(NamedTuple):
    evening: str
    verdicts: Sequence[str]
    ran: Sequence[tuple[str, str]]  # output, what it did
    gaps: int  # stretches without a record


def last_night(
    journal: Journal, settings: Settings, figures: Figures, now_utc_s: float
) -> LastNight:
    evening = night.last_evening(now_utc_s, settings.site.zone)
    span = night.night(evening, settings.site.zone)
    found = night.facts(journal, settings, span._replace(to_utc_s=min(span.to_utc_s, now_utc_s)))
    return LastNight(
        figures.day(evening),
        [figures.text(night_sheet.verdict(zone)) for zone in found.zones],
        [(ran.output, figures.text(night_sheet.ran_words(ran, settings))) for ran in found.ran],
        len(found.gaps),
    )


def table(
    journal: Journal,
    settings: Settings,
    figures: Figures,
    evenings: tuple[date, date],
    now_utc_s: float,
) -> Table:
    """Of the evenings from the first to the one before the second, the newest first."""
    rows = winters.by_night(journal, settings, *evenings, now_utc_s)
    found = [(day, night_sheet.night_cells(each, settings)) for day, each in reversed(rows)]
    # Remarks come last, and mostly there are none.
    columns = len(settings.zones) + (5 if any(cells[-1] for _, cells in found) else 4)
    return Table(
        night_sheet.night_heads(settings)[:columns],
        [
            Row(figures.day(day), [_cell(text, figures) for text in cells[:columns]])
            for day, cells in found
        ],
    )


def fortnight(journal: Journal, settings: Settings, figures: Figures, now_utc_s: float) -> Table:
    last = night.last_evening(now_utc_s, settings.site.zone)
    evenings = last - timedelta(days=13), last + timedelta(days=1)
    return table(journal, settings, figures, evenings, now_utc_s)


def winter(journal: Journal, settings: Settings, figures: Figures, now_utc_s: float) -> Table:
    """This one so far, beside the last one."""
    evening = night.last_evening(now_utc_s, settings.site.zone)
    sums = winters.winters(journal, settings, evening)
    return Table(
        [each.name for each in sums],
        [
            Row(label, [_cell(text, figures) for text in texts])
            for label, texts in night_sheet.winter_rows(sums, settings)
        ],
    )


def _cell(text: str, figures: Figures) -> str:
    """A bare number has nothing after it that figures.text would know it by."""
    if _A_NUMBER.fullmatch(text):
        return figures.number(float(text.replace("−", "-")), len(text.partition(".")[2]))
    return figures.text(text)
