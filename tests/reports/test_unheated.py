"""What a heated night would have been without heat, against the very model that lived it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from greenkeeper.house.network import Parameters
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.rows import Minute, OutputMinute, ProbeMinute
from greenkeeper.outlook.ahead import House
from greenkeeper.outlook.course import Course, Point
from greenkeeper.reports import night, night_sheet
from greenkeeper.reports.night import Span
from greenkeeper.reports.unheated import NotReckonedError, unheated
from greenkeeper.settings.schema import Plant, Settings
from tests.reports.nights import BRUSSELS, EVENING, HOUSE, written

NIGHT = night.night(EVENING, BRUSSELS)
BEFORE = Span(NIGHT.from_utc_s - 86_400.0, NIGHT.to_utc_s)
STEP_S = 300
PLAIN = HOUSE.model_copy(
    update={"house": HOUSE.house.model_copy(update={"loss_w_per_k": 50.0, "improvements": {}})}
)
P = Parameters.from_settings(PLAIN.house)


def outdoor_c(utc_s: float) -> float:
    hours = (utc_s - NIGHT.from_utc_s) / 3600.0
    return 4.0 - 0.5 * max(0.0, min(hours, 20.0))


def lived() -> Iterator[Minute]:
    """Held at 5 °C and above by a heater that gives exactly what that takes."""
    house = House(P)
    state = house.usual.stepped(_start(house), 4.0, 0.0)
    for at_s in range(int(BEFORE.from_utc_s), int(BEFORE.to_utc_s), STEP_S):
        outside_c = outdoor_c(at_s)
        power_w = min(1500.0, max(0.0, house.usual.wanted_w(state, outside_c, 5.0)))
        state = house.usual.stepped(state, outside_c, power_w)
        for minute in range(at_s, at_s + STEP_S, 60):
            for name, temp_c in (
                ("bench-left", state.air_c),
                ("bench-right", state.air_c + 0.1),
                ("outdoors", outside_c),
            ):
                yield ProbeMinute(minute, name, "", 6, temp_c, temp_c, temp_c, 0)
            yield OutputMinute(minute, "heater", 1500.0, power_w / 1500.0 * 60.0, 0)


def _start(house: House):
    from greenkeeper.outlook.ahead import Measured

    state = house.now([Measured(6.0, 4.0)] * 5 * 288)
    assert state is not None
    return state


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("heated") / "journal.db"
    written(made, list(lived()))
    return made


def truth_c() -> float:
    """The same house, its heater off from sunset on."""
    house = House(P)
    state = house.usual.stepped(_start(house), 4.0, 0.0)
    sunset_s = NIGHT.from_utc_s + 5.0 * 3600.0  # about: 17:00
    for at_s in range(int(BEFORE.from_utc_s), int(sunset_s), STEP_S):
        power_w = min(1500.0, max(0.0, house.usual.wanted_w(state, outdoor_c(at_s), 5.0)))
        state = house.usual.stepped(state, outdoor_c(at_s), power_w)
    points = tuple(Point(s, outdoor_c(s)) for s in range(int(sunset_s), int(NIGHT.to_utc_s), 600))
    ends_s = NIGHT.from_utc_s + 21.7 * 3600.0  # an hour after sunrise
    return house.ahead(state, Course("", "", points, (0, 0)), sunset_s, ends_s).low_c


def test_it_is_what_the_model_itself_comes_to(file: Path) -> None:
    with Journal(file) as journal:
        found = unheated(journal, PLAIN, NIGHT, None)
    ((zone, without, needed),) = found
    assert zone == "bench"
    assert needed is True, "the lemon would have been too cold"
    assert without.low_c == pytest.approx(truth_c(), abs=0.3)
    assert without.low_c < 1.0 < 5.0


def test_the_sheet_tells_it_beside_what_was(file: Path) -> None:
    with Journal(file) as journal:
        facts = night.facts(journal, PLAIN, NIGHT)
        told = night_sheet.one(facts, PLAIN, "a night", unheated(journal, PLAIN, NIGHT, None))
    (line,) = [each for each in told if "without heat" in each]
    assert line.endswith("as reckoned: heat was needed")
    assert "bench \N{MINUS SIGN}" in line


@pytest.mark.parametrize("missing", ["latitude", "outdoor_probe"])
def test_where_the_settings_say_too_little_the_key_is_named(file: Path, missing: str) -> None:
    site = PLAIN.site.model_copy(update={missing: None})
    settings: Settings = PLAIN.model_copy(update={"site": site})
    with Journal(file) as journal, pytest.raises(NotReckonedError, match=f"site.{missing}"):
        unheated(journal, settings, NIGHT, None)


def test_of_a_night_without_a_record_that_is_said(file: Path) -> None:
    later = Span(NIGHT.from_utc_s + 10 * 86_400.0, NIGHT.to_utc_s + 10 * 86_400.0)
    with Journal(file) as journal, pytest.raises(NotReckonedError, match="too little of outdoors"):
        unheated(journal, PLAIN, later, None)


def test_the_sheet_says_why_it_is_not_known(file: Path) -> None:
    with Journal(file) as journal:
        facts = night.facts(journal, PLAIN, NIGHT)
    told = night_sheet.one(facts, PLAIN, "a night", unknown="the probe was silent")
    (line,) = [each for each in told if "without heat" in each]
    assert line.endswith("not known: the probe was silent")


def test_heat_that_no_plant_needed_is_called_that(file: Path) -> None:
    tough = (Plant(name="heather", zone="bench", min_c=-8.0),)
    with Journal(file) as journal:
        (found,) = unheated(journal, PLAIN.model_copy(update={"plants": tough}), NIGHT, None)
    assert found.needed is False
