"""`greenkeeper probes --ice`, over real files in the kernel's format, on a clock turned by hand."""

import argparse
import json
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from pydantic import TypeAdapter

from greenkeeper.clock import HandClock
from greenkeeper.commands import probes, probes_ice, probes_ice_sheet
from greenkeeper.commands.probes_ice import Checked
from greenkeeper.commands.probes_rounds import Subject
from greenkeeper.errors import GreenkeeperError
from greenkeeper.probes.icepoint import GIVE_UP_S, STEADY_S, Standing
from greenkeeper.probes.survey import Surveyor
from greenkeeper.settings.sensors import OnewireProbe
from tests.support.w1tree import W1Tree

LEFT, RIGHT, SPARE = "28-0316a2795a01", "28-0316a279ff77", "28-0316d2c3e4f5"
SETTINGS = """\
site: {{name: orchard-house}}
probes:
  left: {{kind: onewire, rom: {left}, offset_k: -0.2}}
  right: {{kind: onewire, rom: {right}}}
onewire: {{folder: {folder}}}
zones:
  bench: {{probes: [left, right]}}
"""


class Kitchen(HandClock):
    """Time passes round by round, and things happen in the vessel."""

    def __init__(self) -> None:
        super().__init__(utc_s=1.8e9)
        self.rounds = 0
        self.acts: dict[int, Callable[[], None]] = {}
        self.each_round: Callable[[int], None] = lambda number: None

    def wait_until(self, mono_s: float, wake: threading.Event) -> None:
        super().wait_until(mono_s, wake)
        self.rounds += 1
        self.acts.get(self.rounds, lambda: None)()
        self.each_round(self.rounds)


@pytest.fixture
def tree(tmp_path: Path) -> W1Tree:
    made = W1Tree(tmp_path / "devices")
    made.add(LEFT, -0.1875)
    made.add(RIGHT, -0.0625)
    return made


@pytest.fixture
def kitchen(monkeypatch: pytest.MonkeyPatch) -> Kitchen:
    clock = Kitchen()
    monkeypatch.setattr("greenkeeper.clock.SystemClock", lambda: clock)
    return clock


@pytest.fixture
def file(tree: W1Tree, tmp_path: Path) -> Path:
    path = tmp_path / "my-house.yaml"
    path.write_text(SETTINGS.format(left=LEFT, right=RIGHT, folder=tree.folder), encoding="utf-8")
    return path


def command(*words: object) -> int:
    parser = argparse.ArgumentParser()
    probes.configure(parser)
    return probes.run(parser.parse_args([str(word) for word in words]))


def checked(tree: W1Tree, clock: Kitchen, *roms: str) -> tuple[list[Checked], float]:
    """The results of a check of these, and how long it took."""
    surveyor = Surveyor(tree.folder, clock)
    began_s = clock.mono_s()
    subjects = [Subject(rom, None, None) for rom in roms]
    try:
        results = probes_ice.check(surveyor, subjects, clock, lambda results, taken_s: None)
    finally:
        surveyor.close()
    return results, clock.mono_s() - began_s


def standings(results: list[Checked]) -> list[Standing]:
    return [each.finding.standing for each in results]


def test_sound_probes_are_done_after_two_minutes_and_their_offsets_can_be_pasted(
    tree: W1Tree, kitchen: Kitchen, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--ice", "--settings", file) == 0
    assert kitchen.mono_s() - 1000.0 == pytest.approx(STEADY_S, abs=3.0)
    sheet = capsys.readouterr().out
    assert "left: reads \N{MINUS SIGN}0.19 °C: sound, within the 0.5 K of its data sheet." in sheet
    pasted = yaml.safe_load(sheet[sheet.index("\n  left:") :])
    assert pasted == {"left": {"offset_k": 0.19}, "right": {"offset_k": 0.06}}
    assert "    offset_k: 0.19  # now -0.2\n" in sheet


def test_the_settings_take_what_was_pasted(
    tree: W1Tree, kitchen: Kitchen, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--ice", "--folder", tree.folder) == 0
    sheet = capsys.readouterr().out
    pasted = yaml.safe_load(sheet[sheet.index("\n  probe-1:") :])
    probes_read = TypeAdapter(dict[str, OnewireProbe]).validate_python(pasted)
    assert {probe.rom: probe.offset_k for probe in probes_read.values()} == {
        LEFT: 0.19,
        RIGHT: 0.06,
    }


def test_it_warns_of_the_heater_before_it_begins(
    tree: W1Tree, kitchen: Kitchen, capsys: pytest.CaptureFixture[str]
) -> None:
    command("--ice", "--folder", tree.folder)
    said = capsys.readouterr().out
    assert said.index("CAUTION") < said.index("reads")


def test_only_those_named_are_read_by_name_or_by_id(
    tree: W1Tree, kitchen: Kitchen, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.add(SPARE, 0.0)
    tree.set_temp(RIGHT, 18.0)
    assert command("--settings", file, "--ice", "left", SPARE) == 0
    said = capsys.readouterr().out
    assert "right" not in said
    assert f"{SPARE}: reads 0.00 °C: sound" in said


def test_a_name_that_nothing_has_is_refused_with_those_there_are(
    tree: W1Tree, kitchen: Kitchen, file: Path
) -> None:
    with pytest.raises(GreenkeeperError, match="no probe is called lift: there is left, right"):
        command("--settings", file, "--ice", "lift")


def test_a_copy_that_reads_low_is_a_finding_with_its_offset(
    tree: W1Tree, kitchen: Kitchen, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.set_temp(RIGHT, -2.3125)
    assert command("--settings", file, "--ice") == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "right: reads \N{MINUS SIGN}2.31 °C: 2.31 K off, more than the 0.5 K" in said
    assert "Replace it" in said
    assert "right: offset_k: 2.31" in said


def test_one_that_is_not_in_the_ice_gets_no_offset_and_a_reason(
    tree: W1Tree, kitchen: Kitchen, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.set_temp(RIGHT, 17.5)
    assert command("--settings", file, "--ice") == 1
    said = capsys.readouterr().out
    assert "right: rests at 17.50 °C. That is no ice" in said
    assert "right:\n" not in said


def test_one_that_never_rests_is_given_up_after_a_quarter_of_an_hour(
    tree: W1Tree, kitchen: Kitchen, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kitchen.each_round = lambda number: tree.set_temp(RIGHT, 0.5 + 0.25 * (number % 5))
    assert command("--settings", file, "--ice") == 1
    assert kitchen.mono_s() - 1000.0 == pytest.approx(GIVE_UP_S, abs=3.0)
    said = " ".join(capsys.readouterr().out.split())
    assert "right: did not come to rest in 15 min: between 0.50 °C and 1.50 °C" in said
    assert "left: offset_k: 0.19" in said


def test_it_waits_for_the_slowest_to_come_to_rest(tree: W1Tree, kitchen: Kitchen) -> None:
    kitchen.each_round = lambda number: tree.set_temp(RIGHT, 20.0 * 0.9**number - 0.0625)
    results, taken_s = checked(tree, kitchen, LEFT, RIGHT)
    assert standings(results) == [Standing.SOUND, Standing.SOUND]
    assert STEADY_S + 30.0 < taken_s < GIVE_UP_S / 2
    assert results[1].finding.offset_k == pytest.approx(0.06, abs=0.02)


def test_a_silent_one_holds_nobody_up(tree: W1Tree, kitchen: Kitchen) -> None:
    tree.empty(RIGHT)
    results, taken_s = checked(tree, kitchen, LEFT, RIGHT)
    assert standings(results) == [Standing.SOUND, Standing.SILENT]
    assert taken_s < STEADY_S + 5.0


def test_a_silent_one_says_what_was_seen(
    tree: W1Tree, kitchen: Kitchen, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.vanish(RIGHT)
    assert command("--settings", file, "--ice") == 1
    said = capsys.readouterr().out
    assert "right: cannot be read: the bus does not show it" in " ".join(said.split())


def test_readings_that_fail_now_and_then_do_not_disturb_it(tree: W1Tree, kitchen: Kitchen) -> None:
    def joint(number: int) -> None:
        if number % 4:
            tree.set_temp(RIGHT, 0.0)
        else:
            tree.crc_no(RIGHT)

    kitchen.each_round = joint
    results, _ = checked(tree, kitchen, RIGHT)
    assert standings(results) == [Standing.SOUND]


def test_a_power_on_value_is_no_reading(tree: W1Tree, kitchen: Kitchen) -> None:
    tree.power_on(RIGHT)
    kitchen.acts = {5: lambda: tree.set_temp(RIGHT, 0.0)}
    results, _ = checked(tree, kitchen, RIGHT)
    assert standings(results) == [Standing.SOUND]


def test_a_coarse_probe_is_told_what_its_offset_is_worth(
    tree: W1Tree, kitchen: Kitchen, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.add(SPARE, 0.0, bits=9)
    command("--folder", tree.folder, "--ice", SPARE)
    assert "steps of 0.5 K" in " ".join(capsys.readouterr().out.split())


def test_without_anything_on_the_bus_it_says_so_at_once(
    tmp_path: Path, kitchen: Kitchen, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--ice", "--folder", tmp_path / "none") == 1
    assert "dtoverlay=w1-gpio" in capsys.readouterr().out
    assert kitchen.rounds == 0


def test_json_says_the_same_for_programs_and_nothing_besides(
    tree: W1Tree, kitchen: Kitchen, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tree.set_temp(RIGHT, 17.5)
    assert command("--settings", file, "--ice", "--json") == 1
    said: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert said["well"] is False
    left, right = said["probes"]
    assert left == {
        "rom": LEFT,
        "name": "left",
        "standing": "sound",
        "mean_c": -0.1875,
        "lowest_c": -0.1875,
        "highest_c": -0.1875,
        "offset_k": 0.19,
        "offset_k_in_settings": -0.2,
    }
    assert (right["standing"], right["offset_k"]) == ("not-ice", None)


def test_progress_is_one_short_line_that_names_the_slowest(tree: W1Tree, kitchen: Kitchen) -> None:
    lines: list[str] = []
    surveyor = Surveyor(tree.folder, kitchen)
    kitchen.acts = {20: lambda: tree.set_temp(RIGHT, 1.0)}
    subjects = [Subject(LEFT, "left", None), Subject(RIGHT, "a-name" * 6, None)]
    probes_ice.check(
        surveyor,
        subjects,
        kitchen,
        lambda results, taken_s: lines.append(probes_ice_sheet.meanwhile(results, taken_s)),
    )
    surveyor.close()
    assert all(len(line) < 80 for line in lines)
    assert f"{'a-name' * 6} 1.00 °C, steady for " in lines[25]
    assert lines[-1].endswith("2 of 2 at rest")


def test_every_line_fits_eighty_columns(
    tree: W1Tree, kitchen: Kitchen, capsys: pytest.CaptureFixture[str]
) -> None:
    for number, temp_c in enumerate((-2.0, 17.0, 0.0)):
        tree.add(f"28-0316aaaaaa{number:02d}", temp_c, bits=9)
    tree.empty(RIGHT)
    command("--ice", "--folder", tree.folder)
    assert all(len(line) <= 80 for line in capsys.readouterr().out.splitlines())


def test_it_is_either_the_watch_or_the_ice(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        command("--watch", "--ice")
    assert "not allowed with" in capsys.readouterr().err
