"""What is due by season, and what frost has to say to it."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from greenkeeper.journal.reader import Journal
from greenkeeper.reports import night, reminders
from greenkeeper.reports.night import Span
from greenkeeper.reports.reminders import Lately
from greenkeeper.settings.house import House
from greenkeeper.settings.schema import Settings
from tests.reports.nights import BRUSSELS, HOUSE, minutes_of, written

LINING = {"lining": "bubble-film", "from": "10-15", "to": "04-15", "fitted": True}
FLEECE = {"r_m2k_w": 0.2, "nights_only": True}
COLD = Lately(date(2031, 1, 14), 0)
MILD = Lately(None, None)


def said(
    cover: dict[str, Any], today: date, before: Lately = MILD, least_c: float | None = None
) -> list[str]:
    house = House.model_validate({"improvements": {"bubbles": cover}})
    found = reminders.due(HOUSE.model_copy(update={"house": house}), today, before, least_c)
    return [each.text for each in found]


@pytest.mark.parametrize(
    ("today", "text"),
    [
        (date(2030, 9, 30), None),
        (date(2030, 10, 1), "Hang bubbles by 15 October, in 14 days."),
        (date(2030, 10, 14), "Hang bubbles by 15 October, in a day."),
        (date(2030, 10, 15), "Bubbles has its season since 15 October: hang it, if you have not."),
        (date(2030, 10, 21), "Bubbles has its season since 15 October: hang it, if you have not."),
        (date(2030, 10, 22), None),
        (date(2031, 1, 1), None),
        (date(2031, 4, 1), "Bubbles has its last day on 15 April, in 14 days."),
        (date(2031, 4, 16), "Bubbles had its last day on 15 April: take it down."),
        (date(2031, 4, 22), None),
        (date(2031, 7, 1), None),
    ],
)
def test_a_lining_is_told_of_around_its_days_and_not_for_ever(
    today: date, text: str | None
) -> None:
    assert said(LINING, today) == ([] if text is None else [text])


def test_frost_before_its_first_day_hurries_it() -> None:
    (text,) = said(LINING, date(2030, 10, 2), least_c=-1.2)
    assert text == (
        "Hang bubbles now: the night may fall to −1.2 °C outdoors, and by the settings it is not "
        "there before 15 October."
    )
    assert said(LINING, date(2030, 11, 2), least_c=-1.2) == [], "it is there"


def test_frost_after_its_last_day_brings_it_back() -> None:
    (text,) = said(LINING, date(2031, 4, 25), least_c=-0.5)
    assert text.startswith("Hang bubbles once more: ")


def test_late_frost_says_do_not_hurry() -> None:
    (text,) = said(LINING, date(2031, 4, 10), Lately(date(2031, 4, 3), 7))
    assert text.endswith("but there was frost in the night of 3 April: do not hurry.")


def test_a_quiet_fortnight_in_spring_lets_it_go_early_and_in_autumn_does_not() -> None:
    quiet = Lately(None, 15)
    (text,) = said(LINING, date(2031, 3, 20), quiet)
    assert text == "There was neither frost nor heat for 15 nights: bubbles may go before 15 April."
    assert said(LINING, date(2030, 11, 20), quiet) == []


def test_a_cover_laid_by_night_is_told_of_at_the_first_frost_and_when_it_is_over() -> None:
    (text,) = said(FLEECE, date(2030, 10, 20), least_c=-0.3)
    assert text.startswith("Have bubbles at hand: the night may fall to −0.3 °C outdoors")
    assert said(FLEECE, date(2031, 1, 20), COLD, -5.0) == [], "everybody knows that it is winter"
    (text,) = said(FLEECE, date(2031, 4, 20), Lately(None, 14))
    assert text.endswith("bubbles need not be laid any more.")


def test_what_is_only_thought_about_and_what_is_always_there_are_not_told_of() -> None:
    assert said({**LINING, "fitted": False}, date(2030, 10, 10)) == []
    always = {"lining": "bubble-film", "fitted": True}
    assert said(always, date(2030, 10, 10), MILD, -3.0) == []


def test_the_southern_winter_lies_in_the_middle_of_the_year() -> None:
    southern = {**LINING, "from": "05-01", "to": "09-30"}
    assert said(southern, date(2031, 4, 25)) == ["Hang bubbles by 1 May, in 6 days."]
    assert said(southern, date(2031, 7, 1)) == []


# --- from the journal ---------------------------------------------------------------------

LAST = date(2031, 3, 20)


def lately(
    file: Path, outdoor_c: float, frost_nights_ago: int, settings: Settings = HOUSE
) -> Lately:
    span = Span(
        night.night(LAST - timedelta(days=20), BRUSSELS).from_utc_s,
        night.night(LAST, BRUSSELS).to_utc_s,
    )

    def outside(hours: float) -> float:
        ago = (span.to_utc_s - span.from_utc_s) / 86_400.0 - hours / 24.0
        return -2.0 if frost_nights_ago < ago <= frost_nights_ago + 1 else outdoor_c

    rows = minutes_of(span, lambda h: 6.0, outdoor_c=outside, step_s=3600)
    written(file, rows)
    with Journal(file) as journal:
        return reminders.lately(journal, settings, LAST)


def test_the_last_frost_and_the_quiet_nights_since_are_the_journals(tmp_path: Path) -> None:
    found = lately(tmp_path / "j.db", 3.0, frost_nights_ago=16)
    assert found == Lately(LAST - timedelta(days=16), 16)
    assert lately(tmp_path / "k.db", 3.0, frost_nights_ago=99) == Lately(None, None)
