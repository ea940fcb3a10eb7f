"""`greenkeeper rehearse` as a grower uses it: what it shows, and what it refuses."""

import json
from functools import cache
from pathlib import Path

import pytest

from greenkeeper.commands import main, rehearse_document, rehearse_several, rehearse_sheet
from greenkeeper.commands.rehearse_head import About
from greenkeeper.rehearsal.compare import Comparison, Contender, Dawn
from greenkeeper.rehearsal.faults import KINDS, Fault
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.run import rehearse as rehearsed
from greenkeeper.rehearsal.sweep import Swept
from tests.rehearsal.houses import DEMO, invented

DAYS = ["--from", "2026-02-03", "--to", "2026-02-04"]


def rehearse(*words: str, capsys: pytest.CaptureFixture[str], settings: Path = DEMO) -> str:
    assert main(["rehearse", "--settings", str(settings), *words]) == 0
    return capsys.readouterr().out


def refused(*words: str, capsys: pytest.CaptureFixture[str], settings: Path = DEMO) -> str:
    try:
        code = main(["rehearse", "--settings", str(settings), *words])
    except SystemExit as left:
        code = int(left.code or 0)
    assert code in (1, 2)
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


def steady(tmp_path: Path, *, hours: int = 48) -> Path:
    """A made CSV: two cold days."""
    file = tmp_path / "station.csv"
    rows = [
        f"2026-02-{3 + i // 24:02d}T{i % 24:02d}:00Z,{-4.0 + i % 24 / 8:.1f}" for i in range(hours)
    ]
    file.write_text("\n".join(["time,outdoor_c", *rows]) + "\n")
    return file


def test_a_day_is_told_in_eighty_columns(capsys: pytest.CaptureFixture[str]) -> None:
    said = rehearse(*DAYS, capsys=capsys)
    assert max(map(len, said.splitlines())) <= 80
    assert "Weather: invented, as warm on average as your months" in said
    assert "never below the tenderest plant's" in said
    assert "kWh" in said
    assert "nothing: no alarm was raised" in said


def test_the_document_has_what_the_sheet_has(capsys: pytest.CaptureFixture[str]) -> None:
    document = json.loads(rehearse(*DAYS, "--json", capsys=capsys))
    assert document["site"] == "orchard-corner"
    assert len(document["zones"][0]["hours"]) == len(document["hours"]) == 24
    assert sum(hour["heat_kwh"] for hour in document["hours"]) == pytest.approx(document["kwh"])
    assert "heat_kwh" not in document["zones"][0]["hours"][0]
    assert document["kwh"] == pytest.approx(document["outputs"][0]["kwh"])


def test_a_stations_record_is_rehearsed_to_its_end(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = rehearse("--weather", str(steady(tmp_path)), capsys=capsys)
    assert "Weather: " in said
    assert "station.csv" in said
    assert "2 days" in said


def test_a_fault_is_told_first_with_what_came_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    said = rehearse(
        *DAYS, "--fault", "dead-element", "--fault-at", "2026-02-03T20:00", capsys=capsys
    )
    assert "What breaks: the heater is switched and stays cold" in said
    assert "First told after" in said


def test_a_power_cut_says_who_could_tell_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    said = rehearse(*DAYS, "--fault", "power-cut", "--fault-at", "2026-02-03T20:00", capsys=capsys)
    assert "A keeper without power tells nobody" in said


def test_what_is_broken_is_told_by_what_was_drawn_and_not_by_what_was_switched(
    capsys: pytest.CaptureFixture[str],
) -> None:
    cold = "--fault", "dead-element", "--fault-at", "2026-02-03T00:00", "--fault-for", "3d"
    said = rehearse(*DAYS, *cold, capsys=capsys)
    (heater,) = (line for line in said.splitlines() if line.startswith("heater "))
    assert "ran " in heater
    assert "heat      0.0 kWh drawn in all, 0.00 EUR" in said
    assert said.count("kWh") == 1
    document = json.loads(rehearse(*DAYS, *cold, "--json", capsys=capsys))
    assert document["kwh"] == 0.0
    assert document["outputs"][0]["kwh"] is None


def test_a_sweep_has_a_line_for_each_value(capsys: pytest.CaptureFixture[str]) -> None:
    said = rehearse(
        *DAYS, "--workers", "1", "--sweep", "zones.bench.heat.hysteresis_k=0.3,1", capsys=capsys
    )
    lines = said.splitlines()
    assert [line.split()[0] for line in lines[-2:]] == ["0.3", "1"]
    assert int(lines[-2].split()[-1]) > int(lines[-1].split()[-1])  # a narrow band switches more


def test_the_heat_of_several_zones_is_told_once() -> None:
    settings, stage, span = invented(1.0)
    result = rehearsed(settings, stage, span)
    (bench,) = result.zones
    result = result._replace(
        zones=(bench, bench._replace(name="nursery")), to_utc_s=span.from_utc_s + 14 * 86_400.0
    )
    said = rehearse_sheet.lines(About(settings, None, None, span), result, None)
    assert max(map(len, said)) <= 80
    heads = [line.split() for line in said if line.split()[-3:] == ["kWh", "EUR", "on"]]
    assert heads == [["all", "heat", "kWh", "EUR", "on"]]
    assert sum(line.startswith("Jan 2026") for line in said) == 3  # two zones, and the heat


INVENTED_FORECASTS = "Forecasts of clear dawns (leave_dawn_to_sun) are invented"


@cache
def a_day() -> tuple[About, Result]:
    settings, stage, span = invented(1.0)
    return About(settings, None, None, span), rehearsed(settings, stage, span)


def test_forecasts_that_no_weather_file_holds_are_told_to_be_invented() -> None:
    about, plain = a_day()
    foretold = plain._replace(foretold=True)
    fault = Fault("dead-element", about.span.from_utc_s, about.span.to_utc_s)
    for broken in (None, fault):
        said = rehearse_sheet.lines(about, foretold, broken)
        assert max(map(len, said)) <= 80
        assert "\n".join(said).count(INVENTED_FORECASTS) == 1
        assert INVENTED_FORECASTS not in "\n".join(rehearse_sheet.lines(about, plain, broken))
    assert rehearse_document.facts(about, foretold, None)["forecasts"] == "invented"
    assert rehearse_document.facts(about, plain, None)["forecasts"] is None


def test_a_sweep_in_which_some_dawns_are_left_to_the_sun_says_so_too() -> None:
    about, plain = a_day()
    swept = [Swept("false", plain), Swept("true", plain._replace(foretold=True))]
    assert INVENTED_FORECASTS in "\n".join(rehearse_several.sweep_lines(about, "any", swept))
    assert INVENTED_FORECASTS not in "\n".join(
        rehearse_several.sweep_lines(about, "any", swept[:1])
    )


def test_a_comparison_says_once_that_its_forecasts_are_invented() -> None:
    about, result = a_day()
    plain = Contender("hysteresis 1 K", 5.0, 1.0, 0.1, 0.0, 4.0, 9)
    elsewhere = Comparison(4.0, result._replace(foretold=True), (plain,))
    here = elsewhere._replace(dawns=(Dawn(4.9, 1.0, 4.0), Dawn(5.0, 1.0, 4.1)))
    for found in (elsewhere, here):
        said = " ".join(" ".join(rehearse_several.comparison_lines(about, found)).split())
        assert (INVENTED_FORECASTS in said) + ("Its forecasts are invented." in said) == 1


def compared(about: About, **changed: frozenset[int]) -> str:
    plain = Contender("hysteresis 1 K", 5.0, 1.0, 0.1, 0.0, 4.0, 9)
    found = Comparison(4.0, a_day()[1]._replace(**changed), (plain,))
    lines = rehearse_several.comparison_lines(about, found)
    assert max(map(len, lines)) <= 80
    return " ".join(" ".join(lines).split())


def test_a_comparison_says_what_is_left_out_of_the_lowest_and_what_is_counted() -> None:
    about, _ = a_day()
    said = compared(about, hard_hours=frozenset({4}), beyond_hours=frozenset({4, 5, 6}))
    assert "holds exactly while its power is enough. In 1 hour full power was not" in said
    assert "3 hours in all are left out of that lowest; what they took is counted" in said
    said = compared(about, beyond_hours=frozenset({0, 1}))
    assert "Just before these days full power was not always enough." in said
    assert "2 hours in all are left out" in said
    assert "left out" not in compared(about)


def with_second(about: About) -> About:
    found = about.settings
    bench = found.zones["bench"]
    assert bench.heat is not None
    heat = bench.heat.model_copy(update={"second_output": "spare"})
    outputs = {**found.outputs, "spare": found.outputs["heater"]}
    zones = {"bench": bench.model_copy(update={"heat": heat})}
    return about._replace(settings=found.model_copy(update={"outputs": outputs, "zones": zones}))


def test_with_two_heaters_it_is_said_whose_switchings_are_counted() -> None:
    about, result = a_day()
    two = with_second(about)
    assert "Of heater and spare, 'switched on' is the one that was" in compared(two)
    assert "'switched on' is" not in compared(about)
    swept = [Swept("1", result)]
    assert "counts all heaters" in rehearse_several.sweep_lines(two, "any", swept)[-1]
    assert "counts all heaters" not in rehearse_several.sweep_lines(about, "any", swept)[-1]


def test_with_two_heated_zones_it_is_said_whose_figures_are_compared() -> None:
    about, _ = a_day()
    bench = about.settings.zones["bench"]
    zones = {"bench": bench, "nursery": bench}
    two = about._replace(settings=about.settings.model_copy(update={"zones": zones}))
    assert "the lowest air and 'switched on' those of bench." in compared(two)
    assert "those of bench" not in compared(about)


def test_the_picture_shows_when_it_was_broken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "broken.svg"
    fault = ("--fault", "dead-element", "--fault-at", "2026-02-03T18:00", "--fault-for", "6h")
    rehearse(*DAYS, *fault, "--picture", str(file), capsys=capsys)
    # matplotlib leaves the words of an SVG as comments beside their outlines.
    assert f"<!-- grey: {KINDS['dead-element']} -->" in file.read_text(encoding="utf-8")


def test_a_picture_is_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "days.png"
    assert f"The picture: {file}" in rehearse(*DAYS, "--picture", str(file), capsys=capsys)
    assert file.read_bytes().startswith(b"\x89PNG")


def test_the_picture_of_several_rehearsals_says_which_of_them_it_shows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, key = tmp_path / "sweep.svg", "zones.bench.heat.hysteresis_k"
    rehearse(*DAYS, "--sweep", f"{key}=0.3,1", "--picture", str(file), capsys=capsys)
    assert f"rehearsed, {key}=0.3, " in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--weather", "no.epw"], "no.epw cannot be read: No such file"),
        (["--weather", str(DEMO)], "This is no weather file."),
        (["--from", "2026-02-04", "--to", "2026-02-03"], "--from must come before --to"),
        (["--from", "yesterday"], "'yesterday' is no day: write 2026-01-14"),
        (["--from", "2020-01-01", "--to", "2026-01-01"], "more than three years"),
        (["--fault", "flood"], "invalid choice: 'flood'"),
        (["--fault-for", "0h"], "'0h' is no time"),
        (["--fault-for", "3h"], "--fault says what breaks"),
        (["--fault-at", "2026-02-03T20:00"], "--fault says what breaks"),
        ([*DAYS, "--fault", "door-open", "--fault-at", "2026-02-05T20:00"], "between --from and"),
        (["--sweep", "zones.bench"], "is no sweep"),
        (["--sweep", "zones.bench.heat.hysteresis=1,2"], "hysteresis_k"),
        (["--sweep", "zones.bench.heat.hysteresis_k=1,99"], "allowed 0.1 to 5"),
        (["--sweep", "plants[rose].min_c=1,2"], "no 'rose' in plants[rose].min_c"),
        (["--sweep", "zones.beach.heat.hysteresis_k=1"], "no 'beach' in zones.beach.heat"),
        (["--sweep", "house.width_m=2,-2"], "found -2; allowed above 0.3"),
        (["--picture", "winter.bmp"], "a picture's name ends in"),
        (["--picture", "nowhere/winter.png"], "there is no such folder"),
        (["--workers", "0"], "--workers must be 1 or more"),
    ],
)
def test_what_cannot_be_is_refused_before_any_work(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told in refused(*words, capsys=capsys)


def test_a_span_the_record_does_not_reach_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = str(steady(tmp_path))
    told = refused("--weather", file, "--from", "2026-01-01", capsys=capsys)
    assert "reaches from 2026-02-03T01:00" in told


@pytest.mark.parametrize("moment", ["2025-02-03T20:00", "2026-02-03T01:30", "2026-02-09T00:00"])
def test_a_fault_beyond_the_record_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], moment: str
) -> None:
    words = "--weather", str(steady(tmp_path, hours=96)), "--fault", "door-open"
    assert "within the weather" in refused(*words, "--fault-at", moment, capsys=capsys)


def test_a_fault_near_the_records_end_is_rehearsed_as_far_as_it_reaches(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = "--weather", str(steady(tmp_path, hours=96)), "--fault", "door-open"
    said = rehearse(*words, "--fault-at", "2026-02-06T20:00", capsys=capsys)
    assert "What breaks: " in said


def test_a_heater_of_unknown_power_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    small = DEMO.with_name("small.yaml")
    assert "outputs.heater.power_w is missing" in refused(*DAYS, capsys=capsys, settings=small)
