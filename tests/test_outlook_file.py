"""Outlooks kept for the morning: none is lost, and no damaged line costs the others."""

from pathlib import Path
from typing import Any

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.errors import CATALOGUE, Level
from greenkeeper.model import Condition
from greenkeeper.outlook_file import FILE_NAME, LOOK_EVERY_S, MOST, Newest, Said, add, is_news, read

SAID = Said(
    made_utc_s=1.9e9,
    until_utc_s=1.90004e9,
    zone="bench",
    source="evening",
    outdoor_low_c=-4.8,
    least_c=-6.9,
    most_c=-2.7,
    inside_low_c=5.0,
    outdoor_low_utc_s=1.90003e9,
    cold_low_c=-1.2,
    kwh=5.2,
    advice="Nothing to do.",
    grave=False,
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / FILE_NAME


def test_what_is_added_is_read_back_oldest_first(file: Path) -> None:
    later = SAID._replace(made_utc_s=1.9001e9)
    add(file, SAID)
    add(file, later)
    assert read(file) == [SAID, later]


@pytest.mark.parametrize(
    "change",
    [
        {"until_utc_s": SAID.until_utc_s + 86_400.0},
        {"source": "nights"},
        {"outdoor_low_c": -5.3},
        {"inside_low_c": 4.5},
        {"cold_low_c": -0.7},
        {"kwh": 6.3},
        {"advice": "The heater will do. Lay fleece now to save 2.0 of 5.2 kWh."},
        {"grave": True},
        {"due": "Hang the lining now."},
        {"zone": "tent"},
    ],
)
def test_what_moved_since_the_afternoon_is_news(change: dict[str, Any]) -> None:
    assert is_news([SAID._replace(**change)], [SAID])


def test_the_same_with_other_figures_of_no_weight_is_none() -> None:
    before = SAID._replace(advice="Nothing to do: the heater keeps it, with about 5.2 kWh.")
    little = before._replace(
        made_utc_s=SAID.made_utc_s + 16_200.0, outdoor_low_c=-5.2, kwh=5.5,
        advice="Nothing to do: the heater keeps it, with about 5.5 kWh.",
    )  # fmt: skip
    assert not is_news([little], [before])
    assert is_news([SAID], []), "the first"
    assert is_news([SAID, SAID._replace(zone="tent")], [SAID])


def test_there_is_nothing_before_the_first(file: Path) -> None:
    assert read(file) == []


def test_the_oldest_make_room(file: Path) -> None:
    line = file.with_name("one")
    add(line, SAID)
    file.write_text(line.read_text() * MOST)
    add(file, SAID._replace(zone="newest"))
    found = read(file)
    assert len(found) == MOST
    assert found[-1].zone == "newest"


@pytest.mark.parametrize(
    "damaged",
    ["", "half a li", "[1, 2]", '{"zone": 1}', "[" * 100_000, '"text"'],
)
def test_a_damaged_line_is_left_out_alone(file: Path, damaged: str) -> None:
    add(file, SAID)
    whole = file.read_text()
    file.write_text(f"{damaged}\n{whole}{damaged}\n{whole.replace('-4.8', 'NaN')}")
    assert read(file) == [SAID]


# --- for the keeper -----------------------------------------------------------------------


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=SAID.made_utc_s + 600.0)


def test_the_newest_is_seen_at_the_next_look_and_ends_with_its_night(
    file: Path, clock: HandClock
) -> None:
    newest = Newest(file, clock)
    assert newest.said() is None
    add(file, SAID)
    assert newest.said() is None, "it does not look at every tick"
    clock.advance(LOOK_EVERY_S)
    assert newest.said() == SAID
    for number in range(1, 40):
        add(file, SAID._replace(kwh=float(number)))
    clock.advance(LOOK_EVERY_S)
    assert newest.said() == SAID._replace(kwh=39.0)
    clock.advance(SAID.until_utc_s - clock.now().utc_s)
    assert newest.said() is None


def test_only_a_grave_one_is_an_alarm(file: Path, clock: HandClock) -> None:
    add(file, SAID)
    assert Newest(file, clock).conditions() == ()
    add(file, SAID._replace(grave=True, advice="Plants will be too cold."))
    found = Newest(file, clock).conditions()
    assert found == (Condition("cold-ahead", "bench", "Plants will be too cold."),)
    assert CATALOGUE["cold-ahead"].level is Level.ALARM


def test_of_several_zones_the_one_in_danger_is_shown_and_each_such_is_an_alarm(
    file: Path, clock: HandClock
) -> None:
    nursery = SAID._replace(zone="nursery", advice="Plants will be too cold.", grave=True)
    add(file, SAID._replace(made_utc_s=1.8e9, grave=True), nursery._replace(made_utc_s=1.8e9))
    add(file, SAID, nursery)
    newest = Newest(file, clock)
    assert newest.all() == (SAID, nursery)
    assert newest.said() == nursery
    assert [each.subject for each in newest.conditions()] == ["nursery"]
    add(file, SAID, nursery._replace(grave=False))
    clock.advance(LOOK_EVERY_S)
    assert newest.said() == SAID
    assert newest.conditions() == ()


def test_what_is_due_by_season_is_a_notice(file: Path, clock: HandClock) -> None:
    add(file, SAID._replace(due="Hang bubbles by 15 October, in a day."))
    (found,) = Newest(file, clock).conditions()
    assert found == Condition("cover-due", "covers", "Hang bubbles by 15 October, in a day.")
    assert CATALOGUE["cover-due"].level is Level.NOTICE


def test_a_line_of_before_there_were_reminders_is_read(file: Path) -> None:
    add(file, SAID)
    file.write_text(file.read_text().replace(', "due": ""', ""))
    assert read(file) == [SAID]


def test_no_outlook_holds_while_the_clock_is_unset(file: Path) -> None:
    add(file, SAID._replace(grave=True))
    unset = HandClock(utc_s=SAID.made_utc_s + 600.0, clock_trusted=False)
    assert Newest(file, unset).conditions() == ()


@pytest.mark.parametrize("spoilt", ["", "\n", "{}\n", "half a line", "\0" * 10_000])
def test_a_spoilt_end_is_no_outlook(file: Path, clock: HandClock, spoilt: str) -> None:
    file.write_text(spoilt)
    assert Newest(file, clock).said() is None


def test_a_folder_in_its_place_is_no_outlook(file: Path, clock: HandClock) -> None:
    file.mkdir()
    assert Newest(file, clock).said() is None
