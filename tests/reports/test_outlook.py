"""The outlook from a journal: what is known of the nights before, and what is made of it."""

import json
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import yaml
from freezegun import freeze_time

from greenkeeper import moisture, morning_file
from greenkeeper.commands import main
from greenkeeper.errors import GreenkeeperError
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.rows import HygrometerMinute, Minute, OutputMinute, ProbeMinute
from greenkeeper.learned import Estimate, Learned, Unknown
from greenkeeper.outlook.course import EVENING, FORECAST, NIGHTS, Wind
from greenkeeper.outlook.evening import AFTER_SUNSET_S
from greenkeeper.outlook_file import Said
from greenkeeper.reports import outlook, outlook_data, outlook_house, outlook_score, outlook_sheet
from greenkeeper.reports.night import Span
from greenkeeper.reports.outlook_score import Scored
from greenkeeper.settings.damp import ScriptedHygrometer
from greenkeeper.settings.house import House
from greenkeeper.settings.schema import Heat, Settings
from tests.outlook import forecasts
from tests.outlook.forecasts import document
from tests.reports.nights import HOUSE, minutes_of, written
from tests.support.mosquitto import Mosquitto
from tests.support.weatherservice import Service, serving

DAY_S, HOUR_S = 86_400.0, 3600.0
FIRST_UTC_S = datetime(2031, 1, 1, 12, tzinfo=UTC).timestamp()
DAYS = 13
LAST = Span(FIRST_UTC_S, FIRST_UTC_S + DAYS * DAY_S + 12 * HOUR_S)


def outdoor_c(hours: float) -> float:
    """Each day from 6 °C in the afternoon down to a low at 08:00 UTC that differs from day to day:
    night by night 1, 2, 3, 1, 2, 3... K below zero; most of it before five."""
    day, hour = divmod(hours, 24.0)
    low_c = -1.0 - day % 3
    if hour <= 4.0:
        return 6.0
    if hour <= 5.0:
        return 6.0 + (low_c - 6.0) * 0.6 * (hour - 4.0)
    if hour <= 20.0:
        return 6.0 + (low_c - 6.0) * (0.6 + 0.4 * (hour - 5.0) / 15.0)
    return low_c + (6.0 - low_c) * (hour - 20.0) / 4.0


def bench_c(hours: float) -> float:
    return max(4.5, outdoor_c(hours) + 4.0)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("nights") / "journal.db"
    written(
        made, minutes_of(LAST, bench_c, outdoor_c=outdoor_c, on_s=lambda h: 12.0 * (bench_c(h) < 5))
    )
    return made


@pytest.fixture
def journal(file: Path) -> Iterator[Journal]:
    with Journal(file) as opened:
        yield opened


def at(day: int, hour: float) -> float:
    """hour: UTC, of the day whose noon is day days after the first."""
    return FIRST_UTC_S + day * DAY_S + (hour - 12.0) * HOUR_S


def test_sunset_and_sunrise_are_those_of_the_almanac() -> None:
    """Brussels, 13 January 2031: about 17:03 and 08:41 (UTC+1), with refraction and the sun's
    upper edge; from memory. Without them the night is some five minutes longer at each end."""
    dark = outlook_data.coming(outlook_data.place(HOUSE), at(12, 15.0))
    assert dark.sunset_utc_s == pytest.approx(at(12, 16.05), abs=900)
    assert dark.sunrise_utc_s == pytest.approx(at(13, 7.68), abs=900)
    assert outlook_data.coming(outlook_data.place(HOUSE), at(13, 5.0)) == dark, "under way"


def test_where_the_sun_does_not_set_nobody_looks_ahead() -> None:
    with pytest.raises(GreenkeeperError, match="rise and set"):
        outlook_data.coming(outlook_data.Place(78.2, 15.6), at(12, 15.0))


def test_the_nights_before_are_read_as_they_were(journal: Journal) -> None:
    found = outlook_data.situation(journal, HOUSE, at(12, 15.0))
    assert found.zone == "bench"
    assert found.inside is not None
    assert found.inside.temp_c == pytest.approx(bench_c(12 * 24 + 3.0), abs=0.01)
    assert found.outdoor is not None
    assert found.outdoor.temp_c == pytest.approx(6.0)
    assert found.start_c is None, "it is not evening yet"
    assert len(found.falls_k) == len(found.evenings) == 12
    # From 6 °C to -1, -2 and -3 °C, the newest night first; minutes are means.
    assert found.falls_k[:3] == pytest.approx([9.0, 8.0, 7.0], abs=0.05)
    assert [each.low_c for each in found.evenings[:3]] == pytest.approx([-3, -2, -1], abs=0.02)
    assert len(found.past) == DAY_S / 300.0
    assert found.habit.dips_k == pytest.approx([0.5] * 12, abs=0.05)


def test_in_the_evening_the_air_two_hours_after_sunset_counts(journal: Journal) -> None:
    late_s = at(12, 20.0)
    found = outlook_data.situation(journal, HOUSE, late_s)
    start_s = found.dark.sunset_utc_s + AFTER_SUNSET_S
    assert found.start_c == pytest.approx(outdoor_c((start_s - FIRST_UTC_S) / HOUR_S), abs=0.05)
    course = outlook.course(found)
    assert course.kind == EVENING
    assert course.low.temp_c == pytest.approx(outdoor_c(12 * 24 + 20.0), abs=0.2)


DAMP = HOUSE.model_copy(
    update={
        "site": HOUSE.site.model_copy(update={"outdoor_hygrometer": "damp"}),
        "hygrometers": {"damp": ScriptedHygrometer(kind="scripted", file="x.csv")},
    }
)


@pytest.fixture
def damp(file: Path, tmp_path: Path) -> Path:
    """The same nights, with a hygrometer outdoors that is dry before the colder ones."""
    made = tmp_path / "damp.db"
    shutil.copy(file, made)
    rows: list[Minute] = []
    for day in range(DAYS):
        dark = outlook_data.coming(outlook_data.place(HOUSE), at(day, 15.0))
        start_s = int(dark.sunset_utc_s + AFTER_SUNSET_S) // 60 * 60
        pct = 90.0 - 10.0 * (day % 3)
        rows += [
            HygrometerMinute(start_s + late_s, "damp", "", 6, pct, pct, pct, 0)
            for late_s in range(-600, 600, 60)
        ]
    written(made, rows)
    return made


def test_with_a_hygrometer_outdoors_the_dew_point_counts_too(damp: Path) -> None:
    late_s = at(12, 20.0)
    with Journal(damp) as journal:
        found = outlook_data.situation(journal, DAMP, late_s)
        dry = outlook_data.situation(journal, HOUSE, late_s)
    assert found.start_c is not None
    assert found.start_dew_c == pytest.approx(moisture.dew_point_c(found.start_c, 90.0))
    assert all(each.dew_point_c is not None for each in found.evenings)
    course = outlook.course(found)
    assert "and its dew point, as it went in 12 nights here" in course.source
    assert course.band_k[0] < outlook.course(dry).band_k[0], "it tells more of these nights"


def test_without_the_dew_point_of_this_evening_the_air_alone_counts(damp: Path) -> None:
    with Journal(damp) as journal:
        found = outlook_data.situation(journal, DAMP, at(12, 20.0))
    course = outlook.course(found._replace(start_dew_c=None))
    assert "dew point" not in course.source
    few = [each._replace(dew_point_c=None) for each in found.evenings[:5]]
    younger = found._replace(evenings=[*few, *found.evenings[5:]])
    assert "as it went in 12 nights" in outlook.course(younger).source


def test_in_the_afternoon_the_last_nights_count(journal: Journal) -> None:
    course = outlook.course(outlook_data.situation(journal, HOUSE, at(12, 15.0)))
    assert course.kind == NIGHTS
    assert course.low.temp_c == pytest.approx(-2.0, abs=0.1)
    assert course.band_k == pytest.approx((1.0, 1.0), abs=0.1)


def test_what_is_missing_is_told(journal: Journal) -> None:
    with pytest.raises(GreenkeeperError, match="it takes three"):
        outlook.course(outlook_data.situation(journal, HOUSE, at(2, 15.0)))
    with pytest.raises(GreenkeeperError, match="last half hour"):
        outlook.course(outlook_data.situation(journal, HOUSE, at(20, 15.0)))
    nowhere = HOUSE.model_copy(update={"site": HOUSE.site.model_copy(update={"latitude": None})})
    with pytest.raises(GreenkeeperError, match=r"site\.latitude"):
        outlook_data.situation(journal, nowhere, at(12, 15.0))
    weightless = {"heater": HOUSE.outputs["heater"].model_copy(update={"power_w": None})}
    with pytest.raises(GreenkeeperError, match=r"outputs\.heater\.power_w"):
        made(journal, HOUSE.model_copy(update={"outputs": weightless}))


def made(journal: Journal, settings: Settings, learned: Learned | None = None) -> outlook.Outlook:
    found = outlook_data.situation(journal, settings, at(12, 15.0))
    return outlook.outlook(settings, found, outlook.course(found), learned)


def test_the_house_is_kept_and_the_sheet_says_how(journal: Journal) -> None:
    found = made(journal, HOUSE)
    assert found.ways.kept is not None
    assert found.ways.kept.low_c == pytest.approx(4.5, abs=0.05), "the setpoint, less the usual dip"
    assert found.ways.cold.low_c < found.ways.kept.low_c
    assert found.ways.covered_cold is None
    assert not found.advice.grave
    told = "\n".join(outlook_sheet.sheet([found], HOUSE))
    assert "held at 5.0 °C, dips to 4.5 °C" in told
    assert "lemon must have 4.0 °C" in told
    assert max(map(len, told.splitlines())) <= 80


def test_covers_are_what_is_laid_by_night(journal: Journal) -> None:
    house = House.model_validate(
        {
            "length_m": 2.4,
            "width_m": 1.8,
            "improvements": {"fleece": {"r_m2k_w": 0.3, "nights_only": True}},
        }
    )
    found = made(journal, HOUSE.model_copy(update={"house": house}))
    assert found.limits.covers == "fleece"
    assert found.ways.covered_cold is not None
    assert found.ways.covered_kept is not None
    assert found.ways.kept is not None
    assert found.ways.covered_cold.low_c > found.ways.cold.low_c
    assert found.ways.covered_kept.kwh < found.ways.kept.kwh
    assert "Lay fleece before 16:52 to save" in found.advice.text


@pytest.mark.parametrize(("begins", "ends", "there"), [
    ("11-01", "03-15", True), ("01-13", "01-20", True),
    ("10-15", "01-12", False), ("01-14", "12-31", False),
])  # fmt: skip
def test_a_lining_counts_in_its_season_alone(
    journal: Journal, begins: str, ends: str, there: bool
) -> None:
    """The night is that of 13 January."""
    lining = {"r_m2k_w": 0.3, "fitted": True, "from": begins, "to": ends}
    bare = {"length_m": 2.4, "width_m": 1.8}
    lined = House.model_validate({**bare, "improvements": {"bubble-film": lining}})
    found = made(journal, HOUSE.model_copy(update={"house": lined}))
    without = made(journal, HOUSE.model_copy(update={"house": House.model_validate(bare)}))
    assert (found.loss_w_per_k < 0.95 * without.loss_w_per_k) is there
    assert (found.loss_w_per_k == pytest.approx(without.loss_w_per_k)) is not there


def test_a_small_heater_is_told_in_time(journal: Journal) -> None:
    small = {"heater": HOUSE.outputs["heater"].model_copy(update={"power_w": 50.0})}
    found = made(journal, HOUSE.model_copy(update={"outputs": small}))
    assert found.advice.grave
    assert found.ways.kept is not None
    assert found.ways.kept.limit_s > HOUR_S
    assert "at its limit" in "\n".join(outlook_sheet.sheet([found], HOUSE))


def test_what_was_learned_takes_the_place_of_what_is_described(journal: Journal) -> None:
    unknown = Unknown("not in this test")
    learned = Learned(
        0.0, 0.0, 0.0, 14, "bench", "heater", 1500.0, unknown, Estimate(90.0, 3.0),
        *[unknown] * 9,
    )  # fmt: skip
    found, described = made(journal, HOUSE, learned), made(journal, HOUSE)
    assert found.loss_w_per_k == pytest.approx(90.0)
    assert found.house == "learned in 14 nights"
    assert described.loss_w_per_k < 90.0
    assert found.ways.cold.low_c < described.ways.cold.low_c


def test_a_heater_of_unknown_power_is_taken_for_what_it_lifts_the_house_by(
    journal: Journal,
) -> None:
    heater = HOUSE.outputs["heater"]
    unknown = Unknown("not in this test")
    rise_k = 30.0
    learned = Learned(
        at(11, 7.0), at(1, 16.0), at(11, 7.0), 10, "bench", "heater", None,
        Estimate(rise_k, 1.0), *[unknown] * 10,
    )  # fmt: skip
    silent = HOUSE.model_copy(update={"outputs": {"heater": heater.model_copy(
        update={"power_w": None})}})  # fmt: skip
    settings, notes = outlook_house.with_learned_power(silent, learned)
    found = made(journal, settings, learned)
    assert found.heater_w == pytest.approx(rise_k * found.loss_w_per_k)
    assert notes == [
        "outputs.heater.power_w is missing in the settings: taken for "
        f"{round(found.heater_w, -1):.0f} W, which lift the house as far as it did in 10 nights"
    ]
    assert found.ways.kept is not None
    assert outlook_house.with_learned_power(HOUSE, learned) == (HOUSE, [])
    with pytest.raises(GreenkeeperError, match=r"outputs\.heater\.power_w is missing"):
        made(journal, *outlook_house.with_learned_power(silent, None)[:1])


def test_what_was_learned_before_the_lining_was_hung_is_of_the_house_without(
    journal: Journal,
) -> None:
    unknown = Unknown("not in this test")
    lining = {"r_m2k_w": 0.3, "fitted": True, "from": "01-10", "to": "04-01"}
    house = House.model_validate(
        {"length_m": 2.4, "width_m": 1.8, "improvements": {"lining": lining}}
    )
    lined = HOUSE.model_copy(update={"house": house})
    before, since = (
        Learned(
            0.0, at(day, 0.0) - DAY_S, at(day, 0.0) + DAY_S, 7, "bench", "heater", 1500.0,
            unknown, Estimate(90.0, 3.0), *[unknown] * 9,
        )
        for day in (4, 12)
    )  # fmt: skip
    assert made(journal, lined, since).loss_w_per_k == pytest.approx(90.0)
    assert made(journal, lined, before).loss_w_per_k < 85.0


def test_a_forecasts_wind_counts_for_a_described_house_and_not_for_a_learned_loss(
    journal: Journal,
) -> None:
    found = outlook_data.situation(journal, HOUSE, at(12, 15.0))
    calm = outlook.course(found)
    gale = calm._replace(winds=(Wind(at(12, 12.0), 12.0),))
    described = [outlook.outlook(HOUSE, found, each, None) for each in (calm, gale)]
    assert described[1].ways.cold.low_c < described[0].ways.cold.low_c - 0.2
    assert described[1].house.endswith(", in the wind of the forecast")
    unknown = Unknown("not in this test")
    learned = Learned(
        0.0, 0.0, 0.0, 14, "bench", "heater", 1500.0, unknown, Estimate(60.0, 3.0),
        *[unknown] * 9,
    )  # fmt: skip
    same = [outlook.outlook(HOUSE, found, each, learned) for each in (calm, gale)]
    assert same[0].ways == same[1].ways


def test_the_band_becomes_that_of_the_misses(journal: Journal) -> None:
    course = outlook.course(outlook_data.situation(journal, HOUSE, at(12, 15.0)))
    assert outlook.with_misses(course, [0.0] * 9) == course, "too few to say"
    misses_k = [-3.0, -2.0, *[0.0] * 7, 1.0, 4.0]
    assert outlook.with_misses(course, misses_k).band_k == pytest.approx((2.0, 1.0))
    assert outlook.with_misses(course, [0.5] * 10).band_k == (0.0, 0.5)


def test_a_forecast_is_moved_by_what_it_always_misses_and_by_nothing_else(
    journal: Journal,
) -> None:
    """A frost hollow: three kelvin colder than the square of the forecast, every night."""
    found = outlook.course(outlook_data.situation(journal, HOUSE, at(12, 15.0)))
    said = found._replace(kind=FORECAST, source="a forecast")
    hollow_k = [-3.5, -2.5, *[-3.0] * 8]
    moved = outlook.with_misses(said, hollow_k)
    assert moved.low.temp_c == pytest.approx(said.low.temp_c - 3.0)
    assert moved.corrected_k == -3.0
    assert moved.points[0] == said.points[0], "now is measured"
    assert moved.band_k == pytest.approx((0.05, 0.05))
    assert moved.source == "a forecast, its low 3.0 K lower, as it was in 10 nights here"
    by_chance = [-3.0, 3.0, 1.0, -1.0, 2.0, -2.0, 0.8, 0.4, 0.0, 1.2]
    assert outlook.with_misses(said, by_chance).low == said.low
    assert outlook.with_misses(said, [-0.1] * 10).low == said.low, "too little to see"
    assert outlook.with_misses(found, hollow_k).low == found.low, "its own nights know the hollow"


def test_what_was_corrected_counts_as_its_source_said_it() -> None:
    said = Said(
        at(11, 15.0), at(12, 8.0), "bench", FORECAST, -5.0, -6.0, -4.0, 5.0, at(12, 7.0), -1.0,
        2.0, "Nothing to do.", grave=False, corrected_k=-3.0,
    )  # fmt: skip
    assert outlook_score.misses_k([Scored(said, -5.2, 4.9)], FORECAST) == [pytest.approx(-3.2)]


def test_the_low_inside_gets_a_band_once_ten_of_its_kind_are_scored(journal: Journal) -> None:
    found = made(journal, HOUSE)
    assert found.ways.kept is not None
    assert outlook.with_inside_band(found, [0.0] * 9) == found
    low_c = found.ways.kept.low_c
    banded = outlook.with_inside_band(found, [-0.4, -0.2, *[0.0] * 7, 0.1, 0.6])
    assert banded.inside_band_c == pytest.approx((low_c - 0.2, low_c + 0.1))
    told = "\n".join(outlook_sheet.sheet([banded], HOUSE))
    assert "eight nights in ten 4.3 °C to 4.6 °C, as it stands" in told


# --- several zones ------------------------------------------------------------------------

TENTED = HOUSE.model_copy(
    update={
        "house": House.model_validate({"tent": {"zone": "nursery"}}),
        "probes": {**HOUSE.probes, "seedlings": HOUSE.probes["bench-left"]},
        "outputs": {
            **HOUSE.outputs,
            "mat": HOUSE.outputs["heater"].model_copy(update={"power_w": 100.0}),
        },
        "zones": {
            **HOUSE.zones,
            "nursery": HOUSE.zones["bench"].model_copy(
                update={
                    "probes": ("seedlings",),
                    "heat": Heat(output="mat", setpoint_c=10.0),
                }
            ),
            "shelf": HOUSE.zones["bench"].model_copy(update={"probes": ("bench-right",)}),
        },
    }
)


@pytest.fixture(scope="module")
def tented(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same nights, and a tent that is held at 10 °C with 100 W for half of every minute."""
    made = tmp_path_factory.mktemp("tent") / "journal.db"
    late = Span(FIRST_UTC_S + 8 * DAY_S, LAST.to_utc_s)

    def hours(utc_s: float) -> float:
        return (utc_s - FIRST_UTC_S) / HOUR_S

    rows = minutes_of(
        late, lambda h: bench_c(h + 192), outdoor_c=lambda h: outdoor_c(h + 192),
        on_s=lambda h: 12.0 * (bench_c(h + 192) < 5),
    )  # fmt: skip
    for utc_s in range(int(late.from_utc_s), int(late.to_utc_s), 60):
        tent_c = max(10.0, bench_c(hours(utc_s)))
        rows.append(ProbeMinute(utc_s, "seedlings", "", 6, tent_c, tent_c, tent_c, 0))
        rows.append(OutputMinute(utc_s, "mat", 100.0, 30.0 * (tent_c <= 10.0), 0))
    written(made, sorted(rows, key=lambda row: row.utc_s))
    return made


def test_every_zone_is_looked_ahead_for_the_tent_with_its_own_heater(tented: Path) -> None:
    with Journal(tented) as journal:
        situations = outlook_data.situations(journal, TENTED, at(12, 15.0))
        ahead = outlook.course(situations[0])
        bench, nursery, shelf = outlook.outlooks(TENTED, situations, ahead, None)
    assert [each.zone for each in (bench, nursery, shelf)] == ["bench", "nursery", "shelf"]
    assert nursery.ways.kept is not None
    assert nursery.ways.kept.low_c == pytest.approx(10.0, abs=0.2)
    assert 0.3 < nursery.ways.kept.kwh < 1.6, "100 W at most, for some sixteen hours"
    assert bench.ways.cold.low_c < nursery.ways.cold.low_c < 10.0
    assert (bench.heater, nursery.heater, shelf.heater) == ("heater", "mat", "heater")
    told = outlook_sheet.sheet([bench, nursery, shelf], TENTED)
    assert any(line.startswith("nursery: ") for line in told)
    assert max(map(len, told)) <= 80


def test_a_zone_whose_probe_is_silent_costs_the_others_nothing(tented: Path) -> None:
    silent = TENTED.model_copy(
        update={"zones": {
            **TENTED.zones,
            "shelf": TENTED.zones["shelf"].model_copy(update={"probes": ("gone",)}),
        }}
    )  # fmt: skip
    with Journal(tented) as journal:
        situations = outlook_data.situations(journal, silent, at(12, 15.0))
        found = outlook.outlooks(silent, situations, outlook.course(situations[0]), None)
    assert [each.zone for each in found] == ["bench", "nursery"]
    assert found[0].notes == ("no outlook for shelf: shelf has no reading of the last half hour",)


# --- the command --------------------------------------------------------------------------


@pytest.fixture
def words(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path))
    settings = tmp_path / "house.yaml"
    settings.write_text(yaml.safe_dump(HOUSE.model_dump(mode="json", exclude_unset=True)))
    return ["tonight", "--settings", str(settings), "--file", str(file)]


def run(words: list[str], utc_s: float) -> int:
    with freeze_time(datetime.fromtimestamp(utc_s, UTC)):
        return main(words)


def test_kept_in_the_afternoon_it_is_scored_in_the_morning(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*words, "--score"], at(12, 15.0)) == 0
    assert "No outlook has been kept yet" in capsys.readouterr().out
    for day in (10, 11, 12):
        assert run([*words, "--keep"], at(day, 15.0)) == 0
    capsys.readouterr()
    assert run([*words, "--score"], at(13, 11.0)) == 0
    told = capsys.readouterr().out
    assert "outdoors, by the last nights: 3 nights" in told
    assert "at the plants, by the last nights: 3 nights" in told
    # The last of them said -2 °C, and -1 °C came (the thirteenth night).
    assert "+1.0" in told
    assert run([*words, "--score", "--json"], at(13, 11.0)) == 0
    assert len(json.loads(capsys.readouterr().out)) == 3


def test_json_says_the_same(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*words, "--json"], at(12, 15.0)) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert told["advice"]["grave"] is False
    assert told["made_utc"] == "2031-01-13T15:00:00Z"


def test_without_a_journal_of_three_nights_it_says_so(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(words, at(1, 15.0)) == 1
    assert "it takes three" in capsys.readouterr().err


@pytest.mark.parametrize("missing", ["latitude", "outdoor_probe", "power_w"])
def test_a_timer_does_not_fail_for_settings_that_say_too_little(
    words: list[str], capsys: pytest.CaptureFixture[str], missing: str
) -> None:
    file = Path(words[words.index("--settings") + 1])
    found = yaml.safe_load(file.read_text())
    if missing == "power_w":
        found["outputs"]["heater"] = {"kind": "gpio", "pin": 17}
    else:
        del found["site"][missing]
    file.write_text(yaml.safe_dump(found))
    assert run([*words, "--keep"], at(12, 15.0)) == 0
    assert missing in capsys.readouterr().out
    assert run(words, at(12, 15.0)) == 1
    assert missing in capsys.readouterr().err


@pytest.fixture
def service(words: list[str]) -> Iterator[Path]:
    """The settings' file, which names a weather service."""
    file = Path(words[words.index("--settings") + 1])
    with serving() as forecast:
        found = yaml.safe_load(file.read_text())
        file.write_text(yaml.safe_dump({**found, "forecast": forecast.model_dump()}))
        yield file


def test_a_forecast_goes_before_the_nights_before(
    words: list[str],
    service: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    now_s = at(12, 15.0)
    said = document(now_s - 2 * HOUR_S, lambda hour: 6.0 - min(hour, 14.0))
    monkeypatch.setattr(Service, "body", forecasts.written(said))
    assert run(words, now_s) == 0
    told = capsys.readouterr().out
    assert "a forecast 2 hours old" in told
    assert "−8.0 °C about" in told


def test_what_it_says_of_the_morning_is_told_and_kept_for_the_keeper(
    words: list[str],
    service: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    now_s = at(12, 15.0)
    said = document(now_s - 2 * HOUR_S, lambda hour: 6.0 - min(hour, 14.0))
    said["properties"]["meta"]["units"]["cloud_area_fraction"] = "%"
    for row in said["properties"]["timeseries"]:
        row["data"]["instant"]["details"]["cloud_area_fraction"] = 12.0
    monkeypatch.setattr(Service, "body", forecasts.written(said))
    assert run(words, now_s) == 0
    assert "12% of the sky clouded" in capsys.readouterr().out
    (state,) = {each.parent for each in tmp_path.rglob("forecast.json")}
    assert morning_file.read(state / morning_file.FILE_NAME) is None
    assert run([*words, "--keep"], now_s) == 0
    kept = morning_file.read(state / morning_file.FILE_NAME)
    assert kept is not None
    assert kept.cloud_share == pytest.approx(0.12)
    assert 0.0 < kept.sunrise_utc_s - now_s < 20.0 * HOUR_S


def test_one_that_cannot_be_believed_is_told_and_the_journal_does(
    words: list[str],
    service: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(Service, "body", b"<html>closed for today</html>")
    assert run(words, at(12, 15.0)) == 0
    told = capsys.readouterr().out
    assert "the forecast of the service is not used:" in told
    assert "how far the last 12 nights fell" in told


def test_a_forecast_that_somebody_leaves_on_the_broker_is_taken(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    now_s = at(12, 15.0)
    # By a clock that runs: waiting for a broker under a frozen one has no end.
    then = [*words, "--at", datetime.fromtimestamp(now_s, UTC).isoformat()]
    file = Path(words[words.index("--settings") + 1])
    with Mosquitto(tmp_path / "hub") as hub:
        more = {
            "broker": {"host": "127.0.0.1", "port": hub.port},
            "forecast": {"topic": "weather/tonight"},
        }
        file.write_text(yaml.safe_dump({**yaml.safe_load(file.read_text()), **more}))
        assert main(then) == 0
        assert "retained on weather/tonight" in capsys.readouterr().out
        said = document(now_s - 2 * HOUR_S, lambda hour: 6.0 - min(hour, 14.0))
        hub.publish("weather/tonight", forecasts.written(said).decode(), retain=True)
        assert main(then) == 0
        assert "a forecast 2 hours old" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["tonight.png", "tonight.svg"])
def test_the_picture_appears_whole(words: list[str], tmp_path: Path, name: str) -> None:
    file = tmp_path / name
    assert run([*words, "--picture", str(file)], at(12, 15.0)) == 0
    drawn = file.read_bytes()
    assert drawn.startswith(b"\x89PNG" if name.endswith("png") else b"<?xml")
    assert len(drawn) > 10_000


def test_a_picture_that_cannot_be_drawn_is_said_before_anything_is_reckoned(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*words, "--picture", "tonight.gif"], at(12, 15.0)) == 1
    assert ".png or .svg" in capsys.readouterr().err
