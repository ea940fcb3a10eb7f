"""What runs at its hour, and its timer: sound, fenced in, behind the keeper in everything."""

import re
import subprocess
from pathlib import Path

import pytest

from greenkeeper.folders import STATE
from tests.support.unitfile import Unit

FOLDER = Path(__file__).parents[2] / "systemd"
PROGRAM = "/opt/greenkeeper/venv/bin/greenkeeper"
# In tenths: no device, and no network but for what fetches a forecast.
MOST_EXPOSURE = {"learn": 4, "lastnight": 4, "tonight": 12}


# Name -> what it runs.
TIMED = {"learn": "learn", "lastnight": "lastnight --keep", "tonight": "tonight --keep"}


@pytest.fixture(params=TIMED)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def unit(name: str) -> Unit:
    return Unit(FOLDER / f"greenkeeper-{name}.service")


@pytest.fixture
def timer(name: str) -> Unit:
    return Unit(FOLDER / f"greenkeeper-{name}.timer")


@pytest.fixture
def beside(tmp_path: Path, name: str) -> Path:
    """Both files, with a program that exists here."""
    for file in (f"greenkeeper-{name}.service", f"greenkeeper-{name}.timer"):
        text = (FOLDER / file).read_text(encoding="utf-8")
        (tmp_path / file).write_text(text.replace(PROGRAM, "/bin/true"), encoding="utf-8")
    return tmp_path


def test_systemd_has_nothing_to_say_about_them(beside: Path) -> None:
    files = [str(file) for file in sorted(beside.iterdir())]
    done = subprocess.run(
        ["systemd-analyze", "--no-pager", "verify", *files],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.stderr, done.returncode) == ("", 0)


def test_it_may_touch_next_to_nothing(beside: Path, name: str) -> None:
    done = subprocess.run(
        ["systemd-analyze", "--no-pager", "security", "--offline=true",
         f"--threshold={MOST_EXPOSURE[name]}", str(beside / f"greenkeeper-{name}.service")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert re.search(r"Overall exposure level for \S+: [\d.]+", done.stdout)


def test_it_is_the_keepers_user_in_the_keepers_folder(unit: Unit, name: str) -> None:
    keeper = Unit(FOLDER / "greenkeeper.service")
    for key in ("User", "Group", "StateDirectory", "StateDirectoryMode", "UMask"):
        assert unit.one("Service", key) == keeper.one("Service", key)
    assert Path("/var/lib", unit.one("Service", "StateDirectory")) == STATE
    assert unit.one("Service", "ExecStart") == f"{PROGRAM} {TIMED[name]}"


def test_the_keeper_goes_first(unit: Unit) -> None:
    assert unit.one("Service", "CPUSchedulingPolicy") == "idle"
    assert int(unit.one("Service", "OOMScoreAdjust")) > 0
    assert unit.one("Service", "MemoryMax")


def test_only_a_lesson_ends_with_a_finding(unit: Unit, name: str) -> None:
    """The other two end with 1 when something is wrong, and their unit then shows it."""
    assert unit.all("Service", "SuccessExitStatus") == (["1"] if name == "learn" else [])


def test_every_timer_is_wanted_by_the_timers(timer: Unit) -> None:
    assert timer.one("Install", "WantedBy") == "timers.target"


@pytest.mark.parametrize(
    ("name", "times", "catches_up"),
    [
        ("learn", ["*-*-* 12:10:00"], "yes"),
        ("lastnight", ["*-*-* 08:00:00", "*-*-* 12:02:00"], "yes"),
        # An outlook of this afternoon is of no use tomorrow.
        ("tonight", ["*-*-* 15:00:00", "*-*-* 19:30:00", "*-*-* 23:00:00"], "no"),
    ],
)
def test_it_comes_at_its_hour(name: str, times: list[str], catches_up: str) -> None:
    timer = Unit(FOLDER / f"greenkeeper-{name}.timer")
    assert timer.all("Timer", "OnCalendar") == times
    assert timer.one("Timer", "Persistent") == catches_up
