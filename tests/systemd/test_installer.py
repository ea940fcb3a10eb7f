"""Installing, upgrading, going back and taking off, on a machine made of stand-ins.

The script runs as it is, into a folder of its own. Python, pip, the program and systemctl
are small scripts that write down how they were called and fail when told to.
"""

import os
import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple

import pytest

from greenkeeper import __version__

ROOT = Path(__file__).parents[2]

# A Python whose -m venv makes an environment with itself in it, and whose pip brings the
# program. What fails is named by files in the machine's folder.
PYTHON = """#!/bin/sh
case "$*" in
*"-m venv"*) mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
*"-m pip"*)
    echo "$*" >>"{folder}/pip-calls"
    [ ! -e "{fails}/pip" ] || { echo "no network" >&2; exit 1; }
    cp "{folder}/greenkeeper" "$(dirname "$0")/greenkeeper" ;;
esac
"""
PROGRAM = """#!/bin/sh
echo "greenkeeper $*" >>"{folder}/log"
case $1 in
check) [ ! -e "{fails}/check" ] || { echo "line 3: setpoint_c: not allowed" >&2; exit 1; } ;;
esac
"""
# Remembers whether the service runs; a start that is to fail leaves it stopped.
SYSTEMCTL = """#!/bin/sh
echo "systemctl $*" >>"{folder}/log"
case "$*" in
*is-active*page*) [ -e "{folder}/page-runs" ] ;;
*is-active*) [ -e "{folder}/running" ] ;;
*is-enabled*) exit 1 ;;
restart*)
    if [ -e "{fails}/start" ]; then
        rm -f "{folder}/running" "{fails}/start"
        exit 1
    fi
    touch "{folder}/running" ;;
disable*) [ -e "{fails}/stop" ] || rm -f "{folder}/running" ;;
esac
"""


class Machine(NamedTuple):
    folder: Path

    @property
    def root(self) -> Path:
        return self.folder / "root"

    @property
    def settings(self) -> Path:
        return self.root / "etc/greenkeeper/greenkeeper.yaml"

    @property
    def in_force(self) -> str:
        """The version the unit's path leads to."""
        return (self.root / "opt/greenkeeper/venv").readlink().name

    @property
    def versions(self) -> set[str]:
        return {each.name for each in (self.root / "opt/greenkeeper/versions").iterdir()}

    @property
    def running(self) -> bool:
        return (self.folder / "running").exists()

    def fails(self, what: str, *, now: bool = True) -> None:
        flag = self.folder / "fails" / what
        flag.touch() if now else flag.unlink()

    def with_settings(self) -> None:
        self.settings.parent.mkdir(parents=True, exist_ok=True)
        self.settings.write_text("site: {name: mine}\n", encoding="utf-8")

    def run(self, command: str, **more: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [ROOT / "systemd/installer", command],
            env={
                "PATH": f"{self.folder / 'instead'}:{os.environ['PATH']}",
                "DESTDIR": str(self.root),
                "PYTHON": str(self.folder / "python3"),
                "SYSTEMCTL": str(self.folder / "systemctl"),
                **more,
            },
            capture_output=True,
            text=True,
            timeout=60,
        )

    def install(self, stamp: str, **more: str) -> subprocess.CompletedProcess[str]:
        """An install whose version bears this time."""
        self.instead("date", f"echo {stamp}")
        return self.run("install", **more)

    def instead(self, name: str, does: str) -> None:
        """Put another program in the place of one of the system's."""
        program = self.folder / "instead" / name
        program.parent.mkdir(exist_ok=True)
        program.write_text(f"#!/bin/sh\n{does}\n", encoding="utf-8")
        program.chmod(0o755)

    def asked_of_pip(self) -> list[str]:
        calls = (self.folder / "pip-calls").read_text(encoding="utf-8").splitlines()
        return [call.rpartition("[")[2].rstrip("]") for call in calls]


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    (tmp_path / "fails").mkdir()
    (tmp_path / "root").mkdir()
    for name, text in (("python3", PYTHON), ("greenkeeper", PROGRAM), ("systemctl", SYSTEMCTL)):
        program = tmp_path / name
        told = text.replace("{folder}", str(tmp_path)).replace("{fails}", str(tmp_path / "fails"))
        program.write_text(told, encoding="utf-8")
        program.chmod(0o755)
    return Machine(tmp_path)


def test_without_settings_it_is_put_in_place_and_says_what_comes_next(machine: Machine) -> None:
    done = machine.run("install")
    assert done.returncode == 0, done.stderr
    assert "safety.md" in done.stdout
    assert not machine.running
    for file in (
        "etc/systemd/system/greenkeeper.service",
        "etc/sysusers.d/greenkeeper.conf",
        "etc/tmpfiles.d/greenkeeper.conf",
        "etc/udev/rules.d/60-greenkeeper.rules",
        "etc/greenkeeper/example-small.yaml",
    ):
        assert (machine.root / file).is_file(), file
    assert not machine.settings.exists()


def test_the_unit_names_the_link_and_the_link_leads_to_the_program(machine: Machine) -> None:
    machine.run("install")
    unit = (machine.root / "etc/systemd/system/greenkeeper.service").read_text(encoding="utf-8")
    assert "ExecStart=/opt/greenkeeper/venv/bin/greenkeeper run" in unit
    link = machine.root / "opt/greenkeeper/venv"
    assert str(link.readlink()).startswith("/opt/greenkeeper/versions/")
    assert (machine.root / str(link.readlink())[1:] / "bin/greenkeeper").is_file()


def test_with_settings_it_starts_after_they_were_checked(machine: Machine) -> None:
    machine.with_settings()
    assert machine.install("20310114T120000").returncode == 0
    assert machine.running
    calls = (machine.folder / "log").read_text(encoding="utf-8").splitlines()
    checked = calls.index(f"greenkeeper check {machine.settings}")
    assert checked < calls.index("systemctl restart greenkeeper.service")
    enabled = {call.split()[-1] for call in calls if call.startswith("systemctl enable --now")}
    # Learning wants an extra, and its owner's word.
    assert enabled == {"greenkeeper-lastnight.timer", "greenkeeper-tonight.timer"}


def test_settings_of_ones_own_are_never_touched(machine: Machine) -> None:
    machine.with_settings()
    before = machine.settings.read_bytes()
    machine.install("20310114T120000")
    machine.install("20310214T120000")
    machine.run("rollback")
    machine.run("uninstall")
    assert machine.settings.read_bytes() == before


def test_an_upgrade_keeps_the_version_before_at_hand_and_no_more(machine: Machine) -> None:
    machine.with_settings()
    for month in (1, 2, 3):
        assert machine.install(f"20310{month}14T120000").returncode == 0
    assert {name[-15:] for name in machine.versions} == {"20310214T120000", "20310314T120000"}
    assert machine.in_force.endswith("20310314T120000")


def test_a_version_that_refuses_the_settings_changes_nothing(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.fails("check")
    done = machine.install("20310214T120000")
    assert done.returncode == 1
    assert "line 3: setpoint_c: not allowed" in done.stderr
    assert "old version stays in force" in done.stderr
    assert machine.in_force.endswith("20310114T120000")
    assert len(machine.versions) == 1
    assert machine.running


def test_an_install_that_breaks_off_changes_nothing(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.fails("pip")
    done = machine.install("20310214T120000")
    assert done.returncode == 1
    assert "Nothing has changed" in done.stderr
    assert machine.in_force.endswith("20310114T120000")
    assert len(machine.versions) == 1


def test_a_version_that_does_not_come_to_life_is_taken_back(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.fails("start")
    done = machine.install("20310214T120000")
    assert done.returncode == 1
    assert "is in force again" in done.stderr
    assert machine.in_force.endswith("20310114T120000")
    assert machine.running


def test_an_upgrade_that_failed_leaves_the_way_back_as_it_was(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.install("20310214T120000")
    machine.fails("start")
    assert machine.install("20310314T120000").returncode == 1
    assert machine.versions == {f"{__version__}-{day}T120000" for day in ("20310114", "20310214")}
    assert machine.run("rollback").returncode == 0
    assert machine.in_force.endswith("20310114T120000")


def test_where_there_is_no_way_back_a_failed_upgrade_makes_none(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.fails("start")
    assert machine.install("20310214T120000").returncode == 1
    assert machine.run("rollback").returncode == 1
    assert machine.in_force.endswith("20310114T120000")


def test_a_first_version_that_does_not_come_to_life_says_where_to_look(machine: Machine) -> None:
    machine.with_settings()
    machine.fails("start")
    done = machine.install("20310114T120000")
    assert done.returncode == 1
    assert "journalctl -u greenkeeper" in done.stderr


def test_going_back_and_forth_between_two_versions(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.install("20310214T120000")
    assert machine.run("rollback").returncode == 0
    assert machine.in_force.endswith("20310114T120000")
    assert machine.run("rollback").returncode == 0
    assert machine.in_force.endswith("20310214T120000")
    assert machine.running


def test_going_back_needs_settings_the_old_version_accepts(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.install("20310214T120000")
    machine.fails("check")
    done = machine.run("rollback")
    assert done.returncode == 1
    assert "does not accept" in done.stderr
    assert machine.in_force.endswith("20310214T120000")


def test_going_back_to_what_does_not_live_stays_where_it_was(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.install("20310214T120000")
    machine.fails("start")
    assert machine.run("rollback").returncode == 1
    assert machine.in_force.endswith("20310214T120000")
    assert machine.running


def test_there_is_nothing_before_the_first_version(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    done = machine.run("rollback")
    assert done.returncode == 1
    assert "no version before" in done.stderr


def test_taking_it_off_stops_it_and_leaves_what_is_the_owners(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    journal = machine.root / "var/lib/greenkeeper/journal.db"
    journal.parent.mkdir(parents=True)
    journal.touch()
    assert machine.run("uninstall").returncode == 0
    assert not machine.running
    # A timer whose file is gone would go on until the next start, and leave a dead link.
    assert "disable --now --quiet greenkeeper-learn.timer" in (machine.folder / "log").read_text()
    left = {
        str(each.relative_to(machine.root)) for each in machine.root.rglob("*") if each.is_file()
    }
    assert left == {"etc/greenkeeper/greenkeeper.yaml", "var/lib/greenkeeper/journal.db"}


def test_the_program_is_found_by_its_name(machine: Machine) -> None:
    machine.install("20310114T120000")
    link = machine.root / "usr/local/bin/greenkeeper"
    assert str(link.readlink()) == "/opt/greenkeeper/venv/bin/greenkeeper"


def test_a_program_of_ones_own_under_that_name_stays(machine: Machine) -> None:
    own = machine.root / "usr/local/bin/greenkeeper"
    own.parent.mkdir(parents=True)
    own.write_text("mine", encoding="utf-8")
    machine.install("20310114T120000")
    machine.run("uninstall")
    assert own.read_text(encoding="utf-8") == "mine"


# --- what is asked for once stays ----------------------------------------------------------------


def test_extras_are_remembered_and_added_to(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000", EXTRAS="learn")
    machine.install("20310214T120000")
    machine.install("20310314T120000", EXTRAS="alarms")
    machine.install("20310414T120000")
    machine.install("20310514T120000", EXTRAS="none")
    asked = ["pi,learn", "pi,learn", "pi,alarms,learn", "pi,alarms,learn", "pi"]
    assert machine.asked_of_pip() == asked


def test_an_extra_that_is_none_is_refused_before_anything_is_built(machine: Machine) -> None:
    done = machine.install("20310114T120000", EXTRAS="alarm")
    assert done.returncode == 1
    assert "there is no extra 'alarm'" in done.stderr
    assert "alarms" in done.stderr
    assert not (machine.root / "opt/greenkeeper/versions").exists()


def test_the_page_is_its_owners_to_start(machine: Machine) -> None:
    machine.with_settings()
    done = machine.install("20310114T120000", EXTRAS="page")
    assert "not started: sudo systemctl enable --now greenkeeper-page" in done.stdout
    calls = (machine.folder / "log").read_text(encoding="utf-8").splitlines()
    assert not any("enable --now" in call and "page" in call for call in calls)
    # Where he has, it goes on in the new version, and ends with the program.
    assert "systemctl try-restart greenkeeper-page.service" in calls
    machine.run("uninstall")
    calls = (machine.folder / "log").read_text(encoding="utf-8").splitlines()
    assert "systemctl disable --now --quiet greenkeeper-page.service" in calls


def test_a_page_that_would_not_come_back_after_a_boot_is_told(machine: Machine) -> None:
    machine.with_settings()
    (machine.folder / "page-runs").touch()
    done = machine.install("20310114T120000", EXTRAS="page")
    assert "will not by itself after a boot: sudo systemctl enable greenkeeper-page" in done.stdout
    assert "not started" not in done.stdout


# --- going back takes the units along ----------------------------------------------------------


def _marked(machine: Machine, version: str, mark: str) -> None:
    """A version whose unit is not like the others'."""
    unit = machine.root / f"opt/greenkeeper/versions/{version}/share/greenkeeper/systemd"
    with (unit / "greenkeeper.service").open("a", encoding="utf-8") as file:
        file.write(f"# {mark}\n")


def test_going_back_puts_the_units_of_that_version_in_place(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    _marked(machine, machine.in_force, "of the first version")
    machine.install("20310214T120000")
    unit = machine.root / "etc/systemd/system/greenkeeper.service"
    assert "of the first version" not in unit.read_text(encoding="utf-8")
    machine.run("rollback")
    assert "of the first version" in unit.read_text(encoding="utf-8")
    machine.run("rollback")
    assert "of the first version" not in unit.read_text(encoding="utf-8")


@pytest.mark.parametrize("command", ["install", "rollback"])
def test_what_does_not_come_to_life_leaves_no_unit_behind(machine: Machine, command: str) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    if command == "rollback":
        machine.install("20310214T120000")
    _marked(machine, machine.in_force, "in force")
    machine.fails("start")
    unit = machine.root / "etc/systemd/system/greenkeeper.service"
    done = machine.install("20310314T120000") if command == "install" else machine.run(command)
    assert done.returncode == 1
    assert "in force" in unit.read_text(encoding="utf-8")


# --- the power fails ---------------------------------------------------------------------------


def _files(machine: Machine) -> dict[str, str]:
    """What systemd and udev would find."""
    etc = machine.root / "etc"
    looked_for = {".service", ".timer", ".conf", ".rules", ".yaml"}
    return {
        str(file.relative_to(etc)): file.read_text(encoding="utf-8")
        for file in etc.rglob("*")
        if file.suffix in looked_for
    }


@pytest.mark.parametrize("command", ["cp", "mv", "ln", "sync"])
def test_an_upgrade_that_is_cut_off_anywhere_leaves_a_whole_version(
    machine: Machine, command: str
) -> None:
    """Ended at each call of a program in turn, as by a power cut, half a file being written."""
    machine.with_settings()
    machine.install("20310114T120000")
    before = _files(machine)
    half = 'case $last in */etc/*) echo half >"$last" ;; esac' if command == "cp" else ""
    cut = f"""count=$(cat {machine.folder}/count)
echo $((count - 1)) >{machine.folder}/count
if [ "$count" = 0 ]; then
    for last; do :; done
    {half}
    kill -KILL $PPID
    exit 1
fi
exec {shutil.which(command)} "$@"
"""
    for number in range(100):
        (machine.folder / "count").write_text(str(number), encoding="utf-8")
        machine.instead(command, cut)
        done = machine.install(f"203102{number:02}T120000")
        assert {name: text for name, text in _files(machine).items() if name in before} == before
        assert (machine.root / "opt/greenkeeper/versions" / machine.in_force).is_dir()
        if done.returncode == 0:
            break
    assert 0 < number < 99
    (machine.folder / "instead" / command).unlink()
    assert machine.run("rollback").returncode == 0


def test_what_cannot_be_stopped_is_not_removed(machine: Machine) -> None:
    machine.with_settings()
    machine.install("20310114T120000")
    machine.fails("stop")
    done = machine.run("uninstall")
    assert done.returncode == 1
    assert "Nothing has been removed" in done.stderr
    assert machine.in_force


def test_wrong_usage_says_what_is_allowed(machine: Machine) -> None:
    done = machine.run("instal")
    assert done.returncode == 2
    assert "install|rollback|uninstall" in done.stderr
