"""`greenkeeper probes --lag`, over real files in the kernel's format, on a clock turned by hand."""

import argparse
import json
import math
import threading
from pathlib import Path

import pytest
import yaml

from greenkeeper.clock import HandClock
from greenkeeper.commands import probes, probes_lag, probes_lag_sheet
from greenkeeper.probes.cooling import GIVE_UP_S, Finding, Standing
from greenkeeper.settings.load import load
from tests.support.w1tree import W1Tree

LEFT, RIGHT = "28-0316a2795a01", "28-0316a279ff77"
AIR_C, HAND_C, HELD_FROM_S, HELD_TO_S = 12.0, 31.0, 10.0, 70.0


class Shed(HandClock):
    """Time passes round by round; the probes with a lag are taken into the hand and let go."""

    def __init__(self, tree: W1Tree) -> None:
        super().__init__(utc_s=1.8e9)
        self.tree, self.began_s = tree, self.mono_s()
        self.lags_s: dict[str, float] = {}
        self.temps_c: dict[str, float] = {}

    def wait_until(self, mono_s: float, wake: threading.Event) -> None:
        passed_s = mono_s - self.mono_s()
        super().wait_until(mono_s, wake)
        held = HELD_FROM_S <= self.mono_s() - self.began_s < HELD_TO_S
        for rom, lag_s in self.lags_s.items():
            around_c, follows_s = (HAND_C, lag_s / 6.0) if held else (AIR_C, lag_s)
            was_c = self.temps_c.get(rom, AIR_C)
            self.temps_c[rom] = around_c + (was_c - around_c) * math.exp(-passed_s / follows_s)
            self.tree.set_temp(rom, self.temps_c[rom])


@pytest.fixture
def tree(tmp_path: Path) -> W1Tree:
    made = W1Tree(tmp_path / "devices")
    made.add(LEFT, AIR_C)
    made.add(RIGHT, AIR_C)
    return made


@pytest.fixture
def shed(tree: W1Tree, monkeypatch: pytest.MonkeyPatch) -> Shed:
    clock = Shed(tree)
    monkeypatch.setattr("greenkeeper.clock.SystemClock", lambda: clock)
    return clock


@pytest.fixture
def file(tree: W1Tree, tmp_path: Path) -> Path:
    path = tmp_path / "my-house.yaml"
    path.write_text(
        "site: {name: orchard-house}\n"
        "probes:\n"
        f"  left: {{kind: onewire, rom: {LEFT}}}\n"
        f"  right: {{kind: onewire, rom: {RIGHT}}}\n"
        f"onewire: {{folder: {tree.folder}}}\n"
        "zones:\n  bench: {probes: [left, right]}\n",
        encoding="utf-8",
    )
    return path


def command(*words: object) -> int:
    parser = argparse.ArgumentParser()
    probes.configure(parser)
    return probes.run(parser.parse_args([str(word) for word in words]))


def test_a_probe_that_was_warmed_and_let_go_gives_a_figure_the_settings_take(
    shed: Shed, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shed.lags_s = {LEFT: 95.0}
    assert command("--settings", file, "--lag", "left") == 0
    said = capsys.readouterr().out
    assert said.index("CAUTION") < said.index("behind the air.")
    pasted = yaml.safe_load(said[said.index("\nhouse:") :])
    assert pasted["house"]["probe_lag_s"] == pytest.approx(95.0, rel=0.06)
    file.write_text(f"{file.read_text()}{said[said.index(chr(10) + 'house:') :]}", encoding="utf-8")
    assert load(file).house.probe_lag_s == pasted["house"]["probe_lag_s"]
    assert max(len(line) for line in said.splitlines()) <= 80


def test_of_several_the_middle_one_counts(
    shed: Shed, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shed.lags_s = {LEFT: 80.0, RIGHT: 120.0}
    assert command("--settings", file, "--lag") == 0
    said = capsys.readouterr().out
    assert "For the settings (the middle one):" in said
    figure = yaml.safe_load(said[said.index("\nhouse:") :])["house"]["probe_lag_s"]
    assert figure == pytest.approx(100.0, rel=0.06)


def test_one_that_nobody_warmed_ends_the_waiting_with_a_finding(
    shed: Shed, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--settings", file, "--lag", "right") == 1
    assert shed.mono_s() - shed.began_s == pytest.approx(GIVE_UP_S, abs=3.0)
    said = capsys.readouterr().out
    assert "right: was not warmed by 8 K in 40 min. Start again." in said
    assert "house:" not in said


def test_one_that_says_nothing_holds_nobody_up(
    shed: Shed, tree: W1Tree, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shed.lags_s = {LEFT: 95.0}
    tree.vanish(RIGHT)
    assert command("--settings", file, "--lag", "left", "right") == 1
    assert shed.mono_s() - shed.began_s < 600.0
    said = capsys.readouterr().out
    assert "right: cannot be read" in said
    assert "probe_lag_s" in said


def test_without_a_bus_it_says_what_is_wrong_with_it(
    shed: Shed, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command("--folder", tmp_path / "none", "--lag") == 1
    assert "hand" not in capsys.readouterr().out


def test_json_says_the_same_for_programs(
    shed: Shed, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shed.lags_s = {LEFT: 95.0}
    assert command("--settings", file, "--json", "--lag", "left") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["well"] is True
    assert said["probes"][0]["standing"] == "done"
    assert said["probe_lag_s"] == pytest.approx(95.0, rel=0.06)


def test_meanwhile_it_says_what_to_do_of_the_one_that_is_furthest() -> None:
    from greenkeeper.commands.probes_rounds import Subject
    from greenkeeper.model import Reading

    def watched(name: str, standing: Standing, share: float = 0.0) -> probes_lag.Watched:
        return probes_lag.Watched(
            Subject(LEFT, name, None), Finding(standing, None, share), Reading(name, 20.5, 0.0)
        )

    cold, warm = watched("left", Standing.COLD), watched("right", Standing.WARM)
    assert "left 20.50 °C, waits for the hand" in probes_lag_sheet.meanwhile([cold], 4.0)
    assert "right 20.50 °C, warm: let go" in probes_lag_sheet.meanwhile([cold, warm], 40.0)
    cooling = watched("left", Standing.COOLING, 0.4)
    said = probes_lag_sheet.meanwhile([warm, cooling], 90.0)
    assert said == "90 s  0 of 2 done  left 20.50 °C, has cooled 40% of the way"
    assert probes_lag_sheet.meanwhile([watched("left", Standing.ROUGH)], 9.0) == "9 s  1 of 1 done"
