"""The coming night as the page tells it, and what earlier outlooks were worth.

Lives here: the newest outlook that was kept, and the score. Does not live here: making one:
that is the timer's (`greenkeeper tonight --keep`), and may fetch a forecast, which this
process never does.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from greenkeeper.journal.reader import Journal
from greenkeeper.outlook.advice import LEAST_KWH
from greenkeeper.outlook_file import Said
from greenkeeper.page.courses import Row, Table
from greenkeeper.page.figures import Figures
from greenkeeper.reports import outlook_score, outlook_sheet
from greenkeeper.reports.words import NOTHING
from greenkeeper.settings.schema import Settings

SCORE_HEADS = ("outdoors", "off by", "plants", "off by")


class Tonight(NamedTuple):
    zone: str
    advice: str
    due: str  # what the season asks to be hung, laid or taken down
    grave: bool
    rows: Sequence[tuple[str, str]]
    made: str


class Score(NamedTuple):
    table: Table
    worths: Sequence[str]  # what each way is worth, in a sentence


def tonight(said: Sequence[Said], figures: Figures, now_utc_s: float) -> list[Tonight]:
    """said: what stands for the coming night, of each zone."""
    return [
        Tonight(
            each.zone,
            figures.text(each.advice),
            figures.text(each.due),
            each.grave,
            tuple(_rows(each, figures)),
            figures.since(each.made_utc_s, now_utc_s),
        )
        for each in said
    ]


def _rows(said: Said, figures: Figures) -> Iterator[tuple[str, str]]:
    at = figures.time(said.outdoor_low_utc_s)
    lowest, least, most = map(figures.temperature, (said.outdoor_low_c, said.least_c, said.most_c))
    yield "outdoors", f"lowest {lowest} about {at}; {least} to {most} eight nights in ten"
    yield "plants", f"lowest {figures.temperature(said.inside_low_c)}"
    if said.kwh >= LEAST_KWH:
        yield "without heat", figures.temperature(said.cold_low_c)
        yield "electricity", f"{figures.number(said.kwh, 1)} kWh"


def score(
    journal: Journal, settings: Settings, said: Sequence[Said], figures: Figures, now_utc_s: float
) -> Score:
    """The newest first. Raises JournalError."""
    past = outlook_score.scored(journal, settings, said, now_utc_s)
    many = len({each.said.zone for each in past}) > 1
    rows = [
        Row(
            figures.day_of(each.said.made_utc_s) + (f", {each.said.zone}" if many else ""),
            [
                *_pair(each.said.outdoor_low_c, each.outdoor_c, figures),
                *_pair(each.said.inside_low_c, each.inside_c, figures),
            ],
        )
        for each in reversed(past)
    ]
    worths = [figures.text(each) for each in outlook_sheet.worths(past)]
    return Score(Table(SCORE_HEADS, rows), worths)


def _pair(said_c: float, came_c: float | None, figures: Figures) -> Iterator[str]:
    """What came, and how much it was above what was said."""
    yield figures.temperature(came_c)
    yield NOTHING if came_c is None else figures.difference(came_c - said_c, signed=True)
