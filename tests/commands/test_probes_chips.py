"""`greenkeeper probes` and the chips that the kernel reads, over real files in its format."""

import json
from pathlib import Path

import pytest
import yaml

from greenkeeper.clock import HandClock
from greenkeeper.commands import probes_chips
from greenkeeper.probes import chip_survey
from greenkeeper.settings import load
from tests.commands.test_probes import command
from tests.support.chiptree import ChipTree

SETTINGS = """\
site: {{name: orchard-house}}
probes:
  bench: {{kind: kernel, chip: bme280, at: 1-0076}}
hygrometers:
  bench-damp: {{kind: kernel, chip: bme280, at: 1-0076, beside: bench}}
onewire: {{folder: {root}/no-bus}}
chips: {{iio_folder: {folders.iio}, hwmon_folder: {folders.hwmon}}}
zones:
  bench: {{probes: [bench]}}
"""


@pytest.fixture
def tree(tmp_path: Path) -> ChipTree:
    made = ChipTree(tmp_path / "sys")
    made.add_bme280()
    return made


@pytest.fixture
def settings_file(tree: ChipTree, tmp_path: Path) -> Path:
    file = tmp_path / "house.yaml"
    file.write_text(SETTINGS.format(root=tmp_path, folders=tree.folders), encoding="utf-8")
    return file


def test_a_house_of_chips_alone_is_well_without_a_1_wire_bus(
    settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--settings", settings_file) == 0
    assert capsys.readouterr().out.splitlines() == [
        "Chips that the kernel reads",
        "",
        "  chip             at                    reads       damp  name",
        "  bme280           1-0076               5.1 °C       87 %  bench, bench-damp",
    ]


def test_a_new_chip_comes_as_settings_ready_to_paste(
    tree: ChipTree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.add_hwmon("shtc3", "1-0070", temp1_input="-1250", humidity1_input="93000")
    assert command("--settings", settings_file) == 0
    sheet = capsys.readouterr().out
    pasted = yaml.safe_load(sheet[sheet.index("\nprobes:") :])
    house = yaml.safe_load(settings_file.read_text(encoding="utf-8"))
    for section in ("probes", "hygrometers"):
        house[section] |= pasted[section]
    settings = load.parse(yaml.safe_dump(house), "pasted.yaml")
    assert settings.hygrometers["damp-1"].beside == "chip-1"


def test_a_chip_that_is_gone_is_a_finding(
    tree: ChipTree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.vanish("1-0076")
    assert command("--settings", settings_file) == 1
    assert "not shown by the kernel: bench, bench-damp." in capsys.readouterr().out


def test_a_chip_that_fails_says_how(
    tree: ChipTree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.broken("1-0076", "in_temp_input")
    assert command("--settings", settings_file) == 1
    sheet = capsys.readouterr().out
    assert "missing" in sheet
    assert "It cannot be read: Input/output error." in sheet


def test_programs_are_told_the_same(
    tree: ChipTree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--settings", settings_file, "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["well"] is True
    assert said["chips"] == [
        {
            "chip": "bme280",
            "at": "1-0076",
            "channel": None,
            "names": ["bench", "bench-damp"],
            "temp_c": 5.13,
            "rh_pct": 87.331,
            "faults": [],
        }
    ]


def test_a_hung_chip_hides_no_other(tree: ChipTree) -> None:
    tree.add_bme280("1-0077", 1, temp="6000")
    gate = tree.hang("1-0076", "in_temp_input")
    found = chip_survey.look(tree.folders, HandClock(utc_s=0.0), deadline_s=0.2)
    gate.unlink()
    temps = {chip.wanted.at: chip.temperature and chip.temperature.temp_c for chip in found}
    assert temps == {"1-0076": None, "1-0077": 6.0}


def test_the_board_s_own_chips_are_not_offered(tree: ChipTree) -> None:
    tree.add_hwmon("cpu_thermal", "thermal_zone0", temp1_input="48300")
    found = chip_survey.look(tree.folders, HandClock(utc_s=0.0))
    assert [chip.wanted.name for chip in found] == ["bme280"]


def test_every_line_fits_eighty_columns(tree: ChipTree) -> None:
    tree.add_iio("a-chip-of-a-very-long-name-indeed", "i2c-10/1-0048", 3, in_temp_input="nonsense")
    found = chip_survey.look(tree.folders, HandClock(utc_s=0.0))
    known = probes_chips.KnownChips({"x" * 40: found[0].wanted}, {}, frozenset())
    table = [line for line in probes_chips.lines(found, known) if "kind:" not in line]
    assert all(len(line) <= 80 for line in table)
