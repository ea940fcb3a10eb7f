"""`greenkeeper safe`: whatever was left on goes off, whatever is broken."""

import argparse
import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from greenkeeper.commands import safe as command
from greenkeeper.outputs.relays_file import FILE_NAME, remember
from greenkeeper.settings.load import load
from tests.support.fakekernel import FakeKernel, install

SETTINGS = """\
site: {name: lean-to}
probes:
  bench: {kind: onewire, rom: 28-0316a2795a01}
zones:
  bench: {probes: [bench], heat: {output: heater, setpoint_c: 5}}
"""
BOTH = """\
outputs:
  heater: {kind: gpio, pin: 17, on_level: low, power_w: 1500}
  fan: {kind: gpio, pin: 23}
"""


@pytest.fixture
def kernel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> FakeKernel:
    kernel = FakeKernel.boot(tmp_path / "dev")
    install(monkeypatch, kernel)
    return kernel


class Place:
    """A settings file and the two folders, as a keeper has them."""

    def __init__(self, root: Path) -> None:
        self.file = root / "settings.yaml"
        self.state = root / "state"
        self.runtime = root / "run"
        self.state.mkdir()
        self.runtime.mkdir()

    @property
    def relays(self) -> Path:
        return self.state / FILE_NAME

    @property
    def options(self) -> list[str]:
        where = {"settings": self.file, "state": self.state, "runtime": self.runtime}
        return [text for name, path in where.items() for text in (f"--{name}", str(path))]

    def tell(self, outputs: str, gpio: str = "{}") -> None:
        self.file.write_text(f"{SETTINGS}{outputs}gpio: {gpio}\n", encoding="utf-8")

    def remember(self, outputs: str, gpio: str = "{}") -> None:
        """As a keeper does that starts with these settings."""
        self.tell(outputs, gpio)
        remember(self.relays, load(self.file))


@pytest.fixture
def place(tmp_path: Path) -> Place:
    return Place(tmp_path)


def safe(place: Place) -> int:
    return _run(place.options)


def _run(options: list[str]) -> int:
    parser = argparse.ArgumentParser()
    command.configure(parser)
    return command.run(parser.parse_args(options))


Said = pytest.CaptureFixture[str]


@pytest.mark.parametrize("backend", ["lgpio", "gpiod", "auto"])
def test_every_relay_of_the_settings_is_claimed_at_off_and_let_go(
    kernel: FakeKernel, place: Place, capsys: Said, backend: str
) -> None:
    place.tell(BOTH, f"{{backend: {backend}}}")
    assert safe(place) == 0
    assert kernel.changes(17) == [("output", 1), ("free", None)]
    assert kernel.changes(23) == [("output", 0), ("free", None)]
    said = capsys.readouterr()
    assert said.out.splitlines() == [
        "heater           GPIO17  off (high)",
        "fan              GPIO23  off (low)",
    ]
    assert said.err == ""


@pytest.mark.parametrize("broken", ["site: {name: [", "nonsense: true\n", None])
def test_with_broken_settings_the_remembered_relays_go_off(
    kernel: FakeKernel, place: Place, capsys: Said, broken: str | None
) -> None:
    place.remember(BOTH)
    if broken is None:
        place.file.unlink()
    else:
        place.file.write_text(broken, encoding="utf-8")
    assert safe(place) == 0
    assert kernel.changes(17) == [("output", 1), ("free", None)]
    assert kernel.changes(23) == [("output", 0), ("free", None)]
    assert "the settings are not used" in capsys.readouterr().err


def test_a_bug_in_reading_the_settings_does_not_keep_relays_on(
    kernel: FakeKernel, place: Place, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    place.remember(BOTH)

    def buggy(_file: Path) -> None:
        raise RecursionError("too deep")

    monkeypatch.setattr("greenkeeper.settings.load.load", buggy)
    assert safe(place) == 0
    assert kernel.changes(17) == [("output", 1), ("free", None)]
    assert "RecursionError" in capsys.readouterr().err


def test_a_relay_only_the_last_keeper_knew_goes_off_too(kernel: FakeKernel, place: Place) -> None:
    place.remember(BOTH)
    place.tell("outputs:\n  heater: {kind: gpio, pin: 17, on_level: low}\n")
    assert safe(place) == 0
    assert kernel.changes(17) == [("output", 1), ("free", None)]
    assert kernel.changes(23) == [("output", 0), ("free", None)]


def test_where_the_levels_differ_the_settings_win_and_it_says_so(
    kernel: FakeKernel, place: Place, capsys: Said
) -> None:
    place.remember(BOTH)
    place.tell("outputs:\n  heater: {kind: gpio, pin: 17, on_level: high}\n")
    assert safe(place) == 0
    # First as the keeper left it off, as it would itself; then as the settings have it.
    was, now = [("output", 1), ("free", None)], [("output", 0), ("free", None)]
    assert kernel.changes(17) == was + now
    assert kernel.changes(23) == now
    said = capsys.readouterr().err
    assert "GPIO17: off is low by the settings, and was high for the last keeper" in said
    assert "GPIO23" not in said


def test_what_the_last_keeper_knew_is_off_before_the_settings_are_read(
    kernel: FakeKernel, place: Place, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    place.remember(BOTH)
    seen: list[tuple[int, int]] = []

    def read(_file: Path) -> None:
        seen.append((kernel.level(17), kernel.level(23)))
        raise OSError("a card that hangs, at last")

    monkeypatch.setattr("greenkeeper.settings.load.load", read)
    assert safe(place) == 0
    assert seen == [(1, 0)]
    out = capsys.readouterr().out
    assert out.count("off (high)") == out.count("off (low)") == 1  # not driven, nor told, twice


def test_what_could_not_be_driven_off_at_first_is_tried_again_and_told_once(
    kernel: FakeKernel, place: Place, capsys: Said
) -> None:
    place.remember(BOTH)
    kernel.hold(17, owner=os.getppid())
    assert safe(place) == 1
    fan, heater = capsys.readouterr().out.splitlines()
    assert fan == "fan              GPIO23  off (low)"
    assert heater.startswith("heater           GPIO17  NOT OFF: GPIO17 is busy")


@pytest.mark.parametrize("backend", ["lgpio", "gpiod"])
def test_driving_off_what_is_remembered_waits_for_none_of_the_settings_types(
    tmp_path: Path, place: Place, backend: str
) -> None:
    """They take most of a second's processor on a small board, and a heater is on meanwhile."""
    kernel = FakeKernel.boot(tmp_path / "dev")
    place.remember(BOTH, f"{{backend: {backend}}}")
    program = f"import sys\nsys.modules['pydantic'] = None\n{_SAFE}"
    done = _safe_process(kernel, place, program)
    assert (kernel.level(17), kernel.level(23)) == (1, 0), done.stderr
    assert "ModuleNotFoundError" in done.stderr  # afterwards, when the settings' turn has come


def test_where_only_the_settings_say_where_the_last_keeper_was_they_come_first(
    kernel: FakeKernel, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand, for a house of one's own: the relays of this machine's service are not its."""
    place.remember(BOTH)
    monkeypatch.delenv("STATE_DIRECTORY", raising=False)
    monkeypatch.setattr("greenkeeper.folders.STATE", place.state)
    place.tell(
        "outputs: {heater: {kind: modelled, drives: heater, power_w: 1500}}\n"
        f"folders: {{state: {place.state.parent / 'own'}}}\n"
    )
    assert _run(["--settings", str(place.file)]) == 0
    assert kernel.changes(17) == kernel.changes(23) == []


def test_a_keeper_that_ran_on_another_board_has_its_relays_driven_off_there(
    kernel: FakeKernel, place: Place
) -> None:
    """The settings were changed to pretend pins, but a relay of before is still on."""
    place.remember(BOTH, "{backend: lgpio}")
    place.tell(BOTH, "{backend: mock}")
    assert safe(place) == 0
    assert kernel.changes(17) == [("output", 1), ("free", None)]
    assert kernel.changes(23) == [("output", 0), ("free", None)]


def test_one_busy_relay_is_named_and_the_others_go_off(
    kernel: FakeKernel, place: Place, capsys: Said
) -> None:
    place.tell(BOTH)
    kernel.hold(17, owner=os.getppid())
    assert safe(place) == 1
    assert kernel.changes(17) == []
    assert kernel.changes(23) == [("output", 0), ("free", None)]
    assert "heater           GPIO17  NOT OFF: GPIO17 is busy" in capsys.readouterr().out


def test_a_pin_that_does_not_follow_is_not_called_off(
    kernel: FakeKernel, place: Place, capsys: Said
) -> None:
    place.tell(BOTH)
    kernel.force(17, 0)
    assert safe(place) == 1
    out = capsys.readouterr().out
    assert "heater           GPIO17  NOT OFF: driven high, but the pin is not" in out
    assert "fan              GPIO23  off (low)" in out


def test_lines_that_cannot_be_let_go_are_not_called_safe(
    kernel: FakeKernel, place: Place, capsys: Said
) -> None:
    place.tell(BOTH)
    kernel.failing = {"free": errno.EIO}
    assert safe(place) == 1
    assert "NOT SURELY OFF: heater, fan" in capsys.readouterr().err
    assert (kernel.level(17), kernel.level(23)) == (1, 0)


def test_no_way_to_the_lines_names_every_relay(
    kernel: FakeKernel, place: Place, capsys: Said
) -> None:
    place.tell(BOTH)
    (kernel.folder / "gpiochip0").unlink()
    assert safe(place) == 1
    said = capsys.readouterr().err
    assert "NOT SURELY OFF: heater, fan: this machine shows no GPIO chip" in said


def test_knowing_no_relays_is_a_finding(place: Place, capsys: Said) -> None:
    assert safe(place) == 1
    assert "no relay is known" in capsys.readouterr().err


def test_damaged_memory_alone_is_a_finding(place: Place, capsys: Said) -> None:
    place.relays.write_text("{", encoding="utf-8")
    assert safe(place) == 1
    said = capsys.readouterr().err
    assert f"the remembered relays in {place.relays} make no sense" in said
    assert "no relay is known" in said


def test_damaged_memory_does_not_stop_the_settings_relays(
    kernel: FakeKernel, place: Place, capsys: Said
) -> None:
    place.tell(BOTH)
    place.relays.write_text("{", encoding="utf-8")
    assert safe(place) == 0
    assert kernel.changes(17) == [("output", 1), ("free", None)]
    assert "make no sense" in capsys.readouterr().err


def test_settings_without_relays_are_fine(place: Place, capsys: Said) -> None:
    place.tell("outputs:\n  heater: {kind: modelled, drives: heater, power_w: 1500}\n")
    assert safe(place) == 0
    assert "there are no relays" in capsys.readouterr().out


def test_it_works_without_a_runtime_folder(kernel: FakeKernel, place: Place) -> None:
    place.tell(BOTH)
    place.runtime.rmdir()
    assert safe(place) == 0
    assert kernel.changes(17) == [("output", 1), ("free", None)]
    assert not place.runtime.exists()


def test_systemds_folders_are_used_where_none_is_named(
    kernel: FakeKernel, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    place.remember(BOTH)
    monkeypatch.setenv("STATE_DIRECTORY", str(place.state))
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(place.runtime))
    assert _run(["--settings", str(place.file.parent / "none.yaml")]) == 0
    assert kernel.changes(17) == [("output", 1), ("free", None)]


# --- after a kill: two processes, and lines that outlive the first ---------------------

_KEEPER = """
import sys, time
from pathlib import Path
from greenkeeper.clock import SystemClock
from greenkeeper.model import Command
from greenkeeper.outputs.build import build_drivers
from greenkeeper.outputs.relays_file import FILE_NAME, remember
from greenkeeper.outputs.switchboard import Switchboard
from greenkeeper.settings.load import load

settings = load(Path(sys.argv[1]))
state, runtime = Path(sys.argv[2]), Path(sys.argv[3])
remember(state / FILE_NAME, settings)
clock = SystemClock()
board = Switchboard(build_drivers(settings, runtime, {}), clock)
board.apply([Command(name, True, clock.mono_s() + 600.0, "cold") for name in settings.outputs])
print("on", flush=True)
time.sleep(600)
"""


@pytest.mark.parametrize("backend", ["lgpio", "gpiod"])
@pytest.mark.parametrize("broken", [False, True])
def test_after_a_kill_the_relays_left_on_are_driven_off(
    tmp_path: Path, place: Place, backend: str, broken: bool
) -> None:
    kernel = FakeKernel.boot(tmp_path / "dev")
    place.tell(BOTH, f"{{backend: {backend}}}")
    arguments = [str(place.file), str(place.state), str(place.runtime)]
    with subprocess.Popen(
        [sys.executable, "-c", _KEEPER, *arguments],
        env=kernel.environment(),
        stdout=subprocess.PIPE,
        text=True,
    ) as keeper:
        assert keeper.stdout is not None
        assert keeper.stdout.readline() == "on\n"
        busy = _safe_process(kernel, place)
        keeper.send_signal(signal.SIGKILL)
    assert busy.returncode == 1
    assert "heater           GPIO17  NOT OFF: GPIO17 is busy" in busy.stdout
    assert (kernel.level(17), kernel.level(23)) == (0, 1)  # both relays are on, and nobody's

    if broken:
        place.file.write_text("site: [", encoding="utf-8")
    done = _safe_process(kernel, place)
    assert done.returncode == 0, done.stderr
    assert (kernel.level(17), kernel.level(23)) == (1, 0)
    assert kernel.changes(17) == [("output", 1), ("write", 0), ("output", 1), ("free", None)]
    assert kernel.changes(23) == [("output", 0), ("write", 1), ("output", 0), ("free", None)]


_SAFE = """
import argparse, sys
from greenkeeper.commands import safe

parser = argparse.ArgumentParser()
safe.configure(parser)
sys.exit(safe.run(parser.parse_args(sys.argv[1:])))
"""


def _safe_process(
    kernel: FakeKernel, place: Place, program: str = _SAFE
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", program, *place.options],
        env=kernel.environment(),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
