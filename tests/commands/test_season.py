"""`greenkeeper season`: what it prints and how it ends."""

import argparse
import json
import re
from pathlib import Path

import pytest

from greenkeeper.commands import season, season_switching
from greenkeeper.errors import GreenkeeperError
from greenkeeper.rehearsal.excess import Excess
from greenkeeper.settings.derived import Switching
from tests.settings import shipped
from tests.settings.examples import SOUND
from tests.support import weatherfiles

HOUSE = """\
house:
  length_m: 3.6
  width_m: 2.4
  eaves_m: 1.8
  ridge_m: 2.5
  cover: horticultural-glass
  tightness: lapped-glass
  design_low_c: -5
  improvements:
    lining: {lining: bubble-film, price: 60}
tariff: {per_kwh: 0.3}
"""


def _season(*arguments: str) -> int:
    parser = argparse.ArgumentParser()
    season.configure(parser)
    return season.run(parser.parse_args(arguments))


REHEARSED = season_switching.excesses


@pytest.fixture(autouse=True)
def said_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a few rehearsed days would say, but where a test rehearses them."""
    found = [Excess(Switching.PLAIN, 1.8), Excess(Switching.PROPORTION, 0.7)]
    monkeypatch.setattr(season_switching, "excesses", lambda *_, **__: found)


@pytest.fixture
def glass(tmp_path: Path) -> Path:
    path = tmp_path / "house.yaml"
    text = SOUND.replace(
        "heater: {kind: gpio, pin: 17}", "heater: {kind: gpio, pin: 17, power_w: 3000}"
    )
    path.write_text(text + HOUSE, encoding="utf-8")
    return path


def _spoil(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_the_sheet_shows_every_step(glass: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _season("--sheet", "--settings", str(glass)) == 0
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 80
    assert "front            6.48 m2  5.78 W/(m2 K)                    37.5   17 %" in told
    # 33.3 m2 x 5.78 + 12 m x 1.26 + 0.35 x 1.25 x 18.6 m3
    assert "altogether                                                215.8  100 %" in told
    assert "5.0 °C in bench while it is −5.0 °C outside takes 10.0 K × 215.8 W/K" in told
    assert "Enough: heater has 3000 W, 39 % to spare" in told
    assert "lining                           47.3 W/K less" in told


def test_the_sheet_for_programs(glass: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _season("--sheet", "--json", "--settings", str(glass)) == 0
    data = json.loads(capsys.readouterr().out)
    assert sum(line["w_k"] for line in data["lines"]) == pytest.approx(data["loss_w_k"])
    assert data["heater"]["needs_w"] == pytest.approx(10.0 * data["loss_w_k"])
    assert {surface["name"] for surface in data["surfaces"]} >= {"front", "back-roof"}


@pytest.mark.parametrize(("latitude", "there"), [(50.8, False), (-37.0, True)])
def test_what_is_there_in_summer_only_is_not_in_a_winters_sheet(
    glass: Path, capsys: pytest.CaptureFixture[str], latitude: float, there: bool
) -> None:
    _spoil(glass, "  timezone: Europe/Brussels\n", f"  latitude: {latitude}\n")
    _spoil(glass, "price: 60}", "price: 60, fitted: true, from: 05-01, to: 09-15}")
    assert _season("--sheet", "--settings", str(glass)) == 0
    assert ("lining: bubble-film" in capsys.readouterr().out) is there


def test_a_heater_too_small_is_a_finding(glass: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _spoil(glass, "power_w: 3000", "power_w: 1500")
    assert _season("--sheet", "--settings", str(glass)) == 1
    assert "TOO SMALL: heater has 1500 W, 30 % less than is needed" in capsys.readouterr().out


def test_a_place_that_never_gets_cold_needs_no_heater(
    glass: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _spoil(glass, "design_low_c: -5", "design_low_c: 9")
    assert _season("--sheet", "--settings", str(glass)) == 0
    assert "It never gets cold enough there" in capsys.readouterr().out


def test_a_heater_of_unknown_power_is_asked_for(
    glass: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _spoil(glass, ", power_w: 3000", "")
    assert _season("--sheet", "--settings", str(glass)) == 0
    assert "Write outputs.heater.power_w" in capsys.readouterr().out


def test_a_measured_house_goes_by_its_measure(
    glass: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _spoil(glass, "  length_m: 3.6\n", "  length_m: 3.6\n  loss_w_per_k: 180\n")
    assert _season("--sheet", "--settings", str(glass)) == 0
    told = capsys.readouterr().out
    assert "You measured 180.0 W/K, 0.83 times the sheet's sum." in told
    assert "10.0 K × 180.0 W/K = 1800 W" in told


@pytest.mark.parametrize("house", ["", "house: {loss_w_per_k: 60}\n"])
def test_a_house_nobody_described_is_refused(tmp_path: Path, house: str) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(SOUND + house, encoding="utf-8")
    with pytest.raises(GreenkeeperError, match="describe no house"):
        _season("--sheet", "--settings", str(path))


def test_a_zone_there_is_not_is_told_with_those_there_are(glass: Path) -> None:
    with pytest.raises(GreenkeeperError, match="no zone 'nowhere'; the settings have bench"):
        _season("--sheet", "--zone", "nowhere", "--settings", str(glass))


def test_a_house_without_heat_is_told_so(glass: Path) -> None:
    _spoil(glass, "    heat:\n      output: heater\n      setpoint_c: 5\n", "")
    with pytest.raises(GreenkeeperError, match="no zone is heated"):
        _season("--sheet", "--settings", str(glass))


MEANS = "  monthly_mean_c: [2, 3, 6, 9, 13, 16, 18, 18, 15, 11, 6, 3]\n"


@pytest.fixture
def wintry(glass: Path) -> Path:
    _spoil(glass, "site:\n", f"site:\n{MEANS}")
    return glass


def test_a_season_from_means(wintry: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _season("--settings", str(wintry)) == 0
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 80
    assert told.startswith(
        "orchard: what its warmth costs\n\nbench never below 4.0 °C takes about "
    )


def test_it_tells_what_heat_in_proportion_saves_against_a_plain_switch(
    wintry: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(season_switching, "excesses", REHEARSED)
    assert _season("--json", "--settings", str(wintry)) == 0
    data = json.loads(capsys.readouterr().out)
    plain, as_set, thrifty = data["switched"]
    assert [plain["way"], as_set["way"], thrifty["way"]] == ["plain", "set", "proportion"]
    ideal_kwh = data["ideal_at_the_same_lowest"]["kwh"]
    assert plain["kwh"] > as_set["kwh"] > thrifty["kwh"] > ideal_kwh > 0.0
    assert plain["cost"] == pytest.approx(0.3 * plain["kwh"])


def test_the_saving_is_told_in_money(wintry: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _season("--settings", str(wintry)) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "plain switch, 1 K" in told
    assert "'in proportion' (strategy: proportion) saves" in told
    saved = re.search(r"saves about (\d+) kWh \((\d+) EUR\) a year, give or take a third", told)
    plain = re.search(r"plain switch, 1 K (\d+) (\d+) ", told)
    thrifty = re.search(r"in proportion (\d+) (\d+) ", told)
    assert saved is not None
    assert plain is not None
    assert thrifty is not None
    for save, much, less in zip(saved.groups(), plain.groups(), thrifty.groups(), strict=True):
        assert int(save) == int(much) - int(less)


def test_what_the_house_will_use_comes_first_and_the_ideal_beside_it(
    wintry: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _season("--settings", str(wintry)) == 0
    told = " ".join(capsys.readouterr().out.split())
    first = re.search(r"takes about (\d+) kWh .*? would take an ideal one (\d+) kWh", told)
    as_set = re.search(r"(?:as set, \S+ K|plain switch, 1 K) (\d+) ", told)
    ideal = re.search(r"ideal, which no relay reaches (\d+) ", told)
    assert first is not None
    assert as_set is not None
    assert ideal is not None
    assert first.groups() == (as_set[1], ideal[1])


def test_where_switching_cannot_be_rehearsed_it_is_told_why(
    wintry: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _spoil(wintry, "site:\n", "site:\n  latitude: 69.6\n  longitude: 18.9\n")
    assert _season("--settings", str(wintry)) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "What heat in proportion would save cannot be told: the invented year ends at 60" in told
    assert "plain switch" not in told


def test_a_season_for_programs(wintry: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _season("--json", "--settings", str(wintry)) == 0
    data = json.loads(capsys.readouterr().out)
    assert sum(data["months_kwh"]) == pytest.approx(data["kwh"])
    assert data["cost"] == pytest.approx(0.3 * data["kwh"])
    assert data["improvements"][0]["name"] == "lining"
    assert data["sheet"]["heater"]["has_w"] == 3000


def test_a_season_from_a_real_years_file(glass: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """NREL's TMY3 year of Greensboro, as the package pvlib carries it."""
    arguments = ("--settings", str(glass), "--weather", str(weatherfiles.GREENSBORO))
    assert _season(*arguments) == 0  # enough for the design low of -5 °C that is written
    told = capsys.readouterr().out.replace("\n", " ")
    assert "But this weather fell to −16.7 °C: set house.design_low_c to that." in told
    assert "In this weather it was too little for " in told


def test_a_weather_file_that_is_none_changes_nothing(wintry: Path, tmp_path: Path) -> None:
    picture = tmp_path / "season.png"
    for content, said in (("oranges and lemons\n", "no weather file"), ("", "nothing")):
        file = tmp_path / "weather.csv"
        file.write_text(content)
        with pytest.raises(GreenkeeperError, match=said):
            _season("--settings", str(wintry), "--weather", str(file), "--picture", str(picture))
    assert not picture.exists()


def test_a_weather_file_that_is_not_there_is_named(wintry: Path, tmp_path: Path) -> None:
    with pytest.raises(GreenkeeperError, match=r"gone\.epw cannot be read: No such file"):
        _season("--settings", str(wintry), "--weather", str(tmp_path / "gone.epw"))


def test_a_picture_is_drawn_beside_the_words(wintry: Path, tmp_path: Path) -> None:
    picture = tmp_path / "season.svg"
    assert _season("--settings", str(wintry), "--picture", str(picture)) == 0
    assert "where the warmth goes" in picture.read_text("utf-8")
    assert {each.name for each in tmp_path.iterdir()} == {"house.yaml", "season.svg"}


@pytest.mark.parametrize(
    ("name", "said"),
    [("no/season.png", "there is no such folder"), ("season.docx", "name ends in"),
     ("season", "name ends in")],
)  # fmt: skip
def test_a_picture_that_cannot_be_is_told_before_any_work(
    wintry: Path, tmp_path: Path, name: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(GreenkeeperError, match=said):
        _season("--settings", str(wintry), "--picture", str(tmp_path / name))
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--sheet", "--picture", "a.png"), "leave out --picture or --sheet"),
        (("--sheet", "--weather", "a.epw"), "leave out --weather or --sheet"),
    ],
)
def test_wrong_usage_is_told(
    wintry: Path, arguments: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        _season("--settings", str(wintry), *arguments)
    assert ended.value.code == 2
    assert said in capsys.readouterr().err.replace("\n", " ")


def test_the_shipped_houses_have_a_season(capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("greenkeeper.yaml", "demo.yaml"):
        assert _season("--settings", str(shipped.FOLDER / name)) == 0
        assert max(map(len, capsys.readouterr().out.splitlines())) <= 80


@pytest.mark.parametrize("name", ["greenkeeper.yaml", "demo.yaml"])
def test_the_shipped_houses_have_a_sheet(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert _season("--sheet", "--settings", str(shipped.FOLDER / name)) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 80
