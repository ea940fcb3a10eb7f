"""The unit that learns, and its timer: sound, fenced in, behind the keeper in everything."""

import re
import subprocess
from pathlib import Path

import pytest

from greenkeeper.folders import STATE
from tests.support.unitfile import Unit

FOLDER = Path(__file__).parents[2] / "systemd"
PROGRAM = "/opt/greenkeeper/venv/bin/greenkeeper"
MOST_EXPOSURE = 4  # in tenths: no network, no device


@pytest.fixture
def unit() -> Unit:
    return Unit(FOLDER / "greenkeeper-learn.service")


@pytest.fixture
def beside(tmp_path: Path) -> Path:
    """Both files, with a program that exists here."""
    for name in ("greenkeeper-learn.service", "greenkeeper-learn.timer"):
        text = (FOLDER / name).read_text(encoding="utf-8")
        (tmp_path / name).write_text(text.replace(PROGRAM, "/bin/true"), encoding="utf-8")
    return tmp_path


def test_systemd_has_nothing_to_say_about_them(beside: Path) -> None:
    files = [str(file) for file in sorted(beside.iterdir())]
    done = subprocess.run(
        ["systemd-analyze", "--no-pager", "verify", *files],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.stderr, done.returncode) == ("", 0)


def test_it_may_touch_next_to_nothing(beside: Path) -> None:
    done = subprocess.run(
        ["systemd-analyze", "--no-pager", "security", "--offline=true",
         f"--threshold={MOST_EXPOSURE}", str(beside / "greenkeeper-learn.service")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert re.search(r"Overall exposure level for \S+: [\d.]+", done.stdout)


def test_it_is_the_keepers_user_in_the_keepers_folder(unit: Unit) -> None:
    keeper = Unit(FOLDER / "greenkeeper.service")
    for key in ("User", "Group", "StateDirectory", "StateDirectoryMode", "UMask"):
        assert unit.one("Service", key) == keeper.one("Service", key)
    assert Path("/var/lib", unit.one("Service", "StateDirectory")) == STATE
    assert unit.one("Service", "ExecStart") == f"{PROGRAM} learn"


def test_the_keeper_goes_first(unit: Unit) -> None:
    assert unit.one("Service", "CPUSchedulingPolicy") == "idle"
    assert int(unit.one("Service", "OOMScoreAdjust")) > 0
    assert unit.one("Service", "MemoryMax")


def test_a_finding_is_no_failure(unit: Unit) -> None:
    assert unit.one("Service", "SuccessExitStatus") == "1"


def test_the_timer_catches_up_and_comes_after_the_night() -> None:
    timer = Unit(FOLDER / "greenkeeper-learn.timer")
    assert timer.one("Timer", "Persistent") == "yes"
    assert timer.one("Timer", "OnCalendar") == "*-*-* 12:10:00"
    assert timer.one("Install", "WantedBy") == "timers.target"
