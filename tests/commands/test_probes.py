"""`greenkeeper probes`, over real files in the kernel's format."""

import argparse
import io
import json
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from pydantic import TypeAdapter

from greenkeeper.clock import HandClock
from greenkeeper.commands import probes, probes_sheet
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Fault
from greenkeeper.probes.survey import Survey, Surveyor
from greenkeeper.settings.sensors import OnewireProbe
from tests.support.w1tree import W1Tree

BENCH, RIDGE, SPARE = "28-0316a2795a01", "28-031600aabb12", "28-0316d2c3e4f5"

SETTINGS = """\
site: {{name: orchard-house}}
probes:
  bench: {{kind: onewire, rom: {bench}}}
  {ridge_name}: {{kind: onewire, rom: {ridge}}}
onewire: {{folder: {folder}}}
chips: {{iio_folder: {folder}/no-iio, hwmon_folder: {folder}/no-hwmon}}
outputs:
  heater: {{kind: modelled, drives: heater, power_w: 900}}
zones:
  bench:
    probes: [bench]
    heat: {{output: heater, setpoint_c: 5}}
"""


@pytest.fixture
def tree(tmp_path: Path) -> W1Tree:
    made = W1Tree(tmp_path / "devices")
    made.add(BENCH, 4.875)
    made.add(RIDGE, -0.5)
    return made


@pytest.fixture
def settings_file(tree: W1Tree, tmp_path: Path) -> Path:
    return write_settings(tree, tmp_path)


def write_settings(tree: W1Tree, tmp_path: Path, ridge_name: str = "ridge") -> Path:
    file = tmp_path / "my-house.yaml"
    text = SETTINGS.format(bench=BENCH, ridge=RIDGE, folder=tree.folder, ridge_name=ridge_name)
    file.write_text(text, encoding="utf-8")
    return file


def command(*words: object) -> int:
    parser = argparse.ArgumentParser()
    probes.configure(parser)
    return probes.run(parser.parse_args([str(word) for word in words]))


def look(tree: W1Tree) -> Survey:
    surveyor = Surveyor(tree.folder, HandClock(utc_s=0.0))
    try:
        return surveyor.look()
    finally:
        surveyor.close()


def test_every_probe_is_listed_with_its_rom_reading_resolution_and_supply(
    tree: W1Tree, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.add(SPARE, 20.5, bits=9, ext_power=0)
    assert command("--folder", tree.folder) == 0
    sheet = capsys.readouterr().out
    rows = {line.split()[0]: line.split()[1:] for line in sheet.splitlines() if "°C" in line}
    assert rows[BENCH] == ["4.9", "°C", "12", "own", "wire"]
    assert rows[RIDGE] == ["\N{MINUS SIGN}0.5", "°C", "12", "own", "wire"]
    assert rows[SPARE] == ["20.5", "°C", "9", "parasite"]
    assert "steps of 0.5 °C" in sheet
    assert "parasite supply" in sheet


def test_an_old_kernel_s_missing_files_are_left_open(
    tree: W1Tree, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.take_away(BENCH, "resolution")
    tree.put(BENCH, "ext_power", "-22\n")
    assert command("--folder", tree.folder) == 0
    line = next(line for line in capsys.readouterr().out.splitlines() if BENCH in line)
    assert line.split() == [BENCH, "4.9", "°C", "?", "?"]


def test_unnamed_probes_come_as_settings_ready_to_paste(
    tree: W1Tree, capsys: pytest.CaptureFixture[str]
) -> None:
    command("--folder", tree.folder)
    sheet = capsys.readouterr().out
    pasted = yaml.safe_load(sheet[sheet.index("\nprobes:") :])
    checked = TypeAdapter(dict[str, OnewireProbe]).validate_python(pasted["probes"])
    assert {probe.rom for probe in checked.values()} == {BENCH, RIDGE}


def test_with_settings_each_probe_has_its_name_and_only_new_ones_are_offered(
    tree: W1Tree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.add(SPARE)
    assert command("--settings", settings_file) == 0
    sheet = capsys.readouterr().out
    assert [line.split()[-1] for line in sheet.splitlines() if "°C" in line] == [
        "ridge",
        "bench",
        "-",
    ]
    assert f"  probe-1: {{kind: onewire, rom: {SPARE}}}" in sheet
    assert f"rom: {BENCH}" not in sheet


def test_an_offered_name_is_never_one_that_is_taken(
    tree: W1Tree, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.add(SPARE)
    command("--settings", write_settings(tree, tmp_path, ridge_name="probe-1"))
    assert f"  probe-2: {{kind: onewire, rom: {SPARE}}}" in capsys.readouterr().out


def test_a_named_probe_that_is_not_on_the_bus_is_a_finding(
    tree: W1Tree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.vanish(RIDGE)
    assert command("--settings", settings_file) == 1
    sheet = capsys.readouterr().out
    line = next(line for line in sheet.splitlines() if RIDGE in line)
    assert line.split()[1] == "missing"
    assert line.endswith("ridge")
    assert f"In the settings, but not on the bus: ridge ({RIDGE}).\n" in sheet


def test_a_probe_that_was_replaced_is_told_how_to_take_the_old_name(
    tree: W1Tree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.vanish(RIDGE)
    tree.add(SPARE, 6.0)
    assert command("--settings", settings_file) == 1
    sheet = " ".join(capsys.readouterr().out.split())
    assert f"In the settings, but not on the bus: ridge ({RIDGE}). If a probe was" in sheet
    assert "Not in the settings yet." in sheet


def test_a_probe_that_merely_fails_is_not_called_absent(
    tree: W1Tree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.empty(RIDGE)
    assert command("--settings", settings_file) == 1
    assert "not on the bus" not in capsys.readouterr().out


BROKEN: dict[Fault, Callable[[W1Tree, str], None]] = {
    Fault.MISSING: W1Tree.empty,
    Fault.CHECKSUM: W1Tree.crc_no,
    Fault.POWER_ON: W1Tree.power_on,
    Fault.ALL_ZERO: W1Tree.all_zero,
    Fault.CONVERSION: W1Tree.conversion_failed,
    Fault.UNREADABLE: W1Tree.rubbish,
}


@pytest.mark.parametrize("fault", BROKEN, ids=lambda fault: fault.value)
def test_a_broken_probe_says_what_was_seen_and_what_to_look_at(
    tree: W1Tree, fault: Fault, capsys: pytest.CaptureFixture[str]
) -> None:
    BROKEN[fault](tree, BENCH)
    assert command("--folder", tree.folder) == 1
    sheet = capsys.readouterr().out
    assert fault.value in next(line for line in sheet.splitlines() if BENCH in line)
    assert probes_sheet.ADVICE[fault] in " ".join(sheet.split())


def test_every_sheet_fits_eighty_columns(tree: W1Tree, tmp_path: Path) -> None:
    for number, harm in enumerate(BROKEN.values()):
        rom = f"28-0316aaaaaa{number:02d}"
        tree.add(rom, ext_power=0, bits=9)
        harm(tree, rom)
    (tree.folder / "00-400000000000").mkdir()
    (tree.folder / "29-0000001a2b3c").mkdir()
    survey = look(tree)
    names = {probe.rom: "a-name-of-the-greatest-length-there-is-x" for probe in survey.probes}
    changes = {probe.rom: -123.4 for probe in survey.probes}
    nowhere = Surveyor(tmp_path / "none", HandClock(utc_s=0.0)).look()
    sheets = [
        probes_sheet.lines(survey, None),
        probes_sheet.lines(survey, {}),
        probes_sheet.lines(survey, names, changes),
        probes_sheet.lines(nowhere, None),
        probes_sheet.lines(survey._replace(probes=()), None),
        probes_sheet.lines(survey._replace(probes=(), masters=()), None),
    ]
    # Only a path of the owner's own may be longer: it is never broken.
    long = str(tmp_path)
    for sheet in sheets:
        assert sheet
        assert all(len(line) <= 80 for line in sheet if long not in line)


def test_without_a_bus_folder_the_line_to_add_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--folder", tmp_path / "none") == 1
    sheet = capsys.readouterr().out
    assert "No such file or directory" in " ".join(sheet.split())
    assert "    dtoverlay=w1-gpio\n" in sheet
    assert "5 V" in sheet


def test_a_file_in_place_of_the_bus_folder_is_no_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "devices").write_text("")
    assert command("--folder", tmp_path / "devices") == 1
    assert "Not a directory" in " ".join(capsys.readouterr().out.split())


def test_an_empty_folder_names_the_line_to_add_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--folder", tmp_path) == 1
    assert "dtoverlay=w1-gpio" in capsys.readouterr().out


def test_a_bus_without_probes_points_at_the_wires(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree = W1Tree(tmp_path / "devices")
    assert command("--folder", tree.folder) == 1
    assert "4.7 kΩ" in capsys.readouterr().out


def test_made_up_devices_are_called_noise(tree: W1Tree, capsys: pytest.CaptureFixture[str]) -> None:
    (tree.folder / "00-400000000000").mkdir()
    (tree.folder / "29-0000001a2b3c").mkdir()
    assert command("--folder", tree.folder) == 1
    sheet = capsys.readouterr().out
    assert "Noise on the bus" in sheet
    assert "Not thermometers: 29-0000001a2b3c" in sheet


def test_a_hung_probe_hides_no_other(tree: W1Tree) -> None:
    tree.hang(BENCH)
    surveyor = Surveyor(tree.folder, HandClock(utc_s=0.0), deadline_s=0.05)
    survey = surveyor.look()
    surveyor.close()
    assert {probe.rom: probe.reading.temp_c for probe in survey.probes} == {
        BENCH: None,
        RIDGE: -0.5,
    }


def test_json_says_the_same_with_units_in_its_keys(
    tree: W1Tree, settings_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.power_on(RIDGE)
    assert command("--settings", settings_file, "--json") == 1
    said: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert said["well"] is False
    assert said["buses"] == ["w1_bus_master1"]
    entries = {entry["rom"]: entry for entry in said["probes"]}
    assert entries[BENCH] == {
        "rom": BENCH,
        "name": "bench",
        "bus": "w1_bus_master1",
        "temp_c": 4.875,
        "fault": None,
        "detail": None,
        "bits": 12,
        "external_supply": True,
    }
    assert (entries[RIDGE]["temp_c"], entries[RIDGE]["fault"]) == (None, "power-on")


def test_json_without_a_bus_is_still_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--folder", tmp_path / "none", "--json") == 1
    said = json.loads(capsys.readouterr().out)
    assert said["trouble"] == "No such file or directory"
    assert said["probes"] == []


def test_settings_that_were_asked_for_and_have_faults_are_refused(
    tree: W1Tree, tmp_path: Path
) -> None:
    file = tmp_path / "bad.yaml"
    file.write_text("site: {}\n")
    with pytest.raises(GreenkeeperError):
        command("--settings", file, "--folder", tree.folder)


def test_faulty_settings_in_the_usual_place_do_not_hide_the_bus(
    tree: W1Tree,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Who sets a house up runs this command to mend them."""
    file = tmp_path / "greenkeeper.yaml"
    file.write_text("site: {}\n")
    monkeypatch.setattr("greenkeeper.commands.shared.DEFAULT_SETTINGS", file)
    assert command("--folder", tree.folder) == 0
    said = capsys.readouterr()
    assert BENCH in said.out
    assert str(file) in said.err


class Hand(HandClock):
    """Someone warms a probe between two looks, and then leaves."""

    def __init__(self, acts: list[Callable[[], None]], stop: threading.Event) -> None:
        super().__init__(utc_s=0.0)
        self._acts = acts
        self._stop = stop

    def wait_until(self, mono_s: float, wake: threading.Event) -> None:
        super().wait_until(mono_s, wake)
        if self._acts:
            self._acts.pop(0)()
        else:
            self._stop.set()


def watched(tree: W1Tree, *acts: Callable[[], None]) -> list[list[str]]:
    """The sheets of a watch in which these things happen between looks."""
    stop = threading.Event()
    clock = Hand(list(acts), stop)
    surveyor = Surveyor(tree.folder, clock)
    known = probes.Known(tree.folder, {BENCH: "bench", RIDGE: "ridge"})
    sheets = [
        probes_sheet.lines(survey, known.names, changes)
        for survey, changes in probes.looks(surveyor, known, clock, stop)
    ]
    surveyor.close()
    return sheets


def row(sheet: list[str], rom: str) -> str:
    return next(line for line in sheet if rom in line)


def test_the_watch_marks_the_probe_that_is_warmed(tree: W1Tree) -> None:
    def warm() -> None:
        tree.set_temp(BENCH, 9.875)
        tree.set_temp(RIDGE, -0.25)

    before, after = watched(tree, warm)
    assert "Nothing has moved yet: hold one in your hand for a minute." in before
    assert row(before, BENCH).startswith(" ")
    assert "+5.0 K" in row(after, BENCH)
    assert row(after, BENCH).startswith(">")
    assert "+0.2 K" in row(after, RIDGE)
    assert row(after, RIDGE).startswith(" ")


def test_a_cooled_probe_moves_as_well(tree: W1Tree) -> None:
    *_, after = watched(tree, lambda: tree.set_temp(BENCH, 1.875))
    assert row(after, BENCH).startswith(">")
    assert "\N{MINUS SIGN}3.0 K" in row(after, BENCH)


def test_a_step_smaller_than_a_draught_s_marks_nothing(tree: W1Tree) -> None:
    *_, after = watched(tree, lambda: tree.set_temp(BENCH, 4.875 + 0.4375))
    assert row(after, BENCH).startswith(" ")


def test_a_probe_plugged_in_during_the_watch_appears(tree: W1Tree) -> None:
    tree.vanish(RIDGE)

    def plug_in() -> None:
        tree.appear(RIDGE)
        tree.set_temp(RIDGE, 6.0)

    before, after = watched(tree, plug_in)
    assert "missing" in row(before, RIDGE)
    assert "6.0 °C" in row(after, RIDGE)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_bar_moves_on_a_terminal_and_is_wiped(
    tree: W1Tree, monkeypatch: pytest.MonkeyPatch
) -> None:
    tree.add(SPARE)
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    command("--folder", tree.folder)
    said = screen.getvalue()
    assert "reading 1 of 3" in said
    assert "reading 3 of 3" in said
    assert said.endswith("\r\x1b[K")


def test_no_bar_disturbs_a_file_or_a_pipe(tree: W1Tree, capsys: pytest.CaptureFixture[str]) -> None:
    tree.add(SPARE)
    command("--folder", tree.folder)
    assert capsys.readouterr().err == ""
