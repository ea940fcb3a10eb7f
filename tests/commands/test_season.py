"""`greenkeeper season`: what it prints and how it ends."""

import argparse
import json
from pathlib import Path

import pytest

from greenkeeper.commands import season
from greenkeeper.errors import GreenkeeperError
from tests.settings import shipped
from tests.settings.examples import SOUND

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
    assert "Enough: heater has 3000 W, 39% to spare" in told
    assert "lining                  47.3 W/K less" in told


def test_the_sheet_for_programs(glass: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _season("--sheet", "--json", "--settings", str(glass)) == 0
    data = json.loads(capsys.readouterr().out)
    assert sum(line["w_k"] for line in data["lines"]) == pytest.approx(data["loss_w_k"])
    assert data["heater"]["needs_w"] == pytest.approx(10.0 * data["loss_w_k"])
    assert {surface["name"] for surface in data["surfaces"]} >= {"front", "back-roof"}


def test_a_heater_too_small_is_a_finding(glass: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _spoil(glass, "power_w: 3000", "power_w: 1500")
    assert _season("--sheet", "--settings", str(glass)) == 1
    assert "TOO SMALL: heater has 1500 W, 30% less than is needed" in capsys.readouterr().out


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


def test_a_house_nobody_described_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(SOUND, encoding="utf-8")
    with pytest.raises(GreenkeeperError, match="describe no house"):
        _season("--sheet", "--settings", str(path))


def test_a_zone_there_is_not_is_told_with_those_there_are(glass: Path) -> None:
    with pytest.raises(GreenkeeperError, match="no zone 'nowhere'; the settings have bench"):
        _season("--sheet", "--zone", "nowhere", "--settings", str(glass))


def test_a_house_without_heat_is_told_so(glass: Path) -> None:
    _spoil(glass, "    heat:\n      output: heater\n      setpoint_c: 5\n", "")
    with pytest.raises(GreenkeeperError, match="no zone is heated"):
        _season("--sheet", "--settings", str(glass))


@pytest.mark.parametrize("name", ["greenkeeper.yaml", "demo.yaml"])
def test_the_shipped_houses_have_a_sheet(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert _season("--sheet", "--settings", str(shipped.FOLDER / name)) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 80
