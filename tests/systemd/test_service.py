"""The service unit: sound, fenced in, and free of the traps that would stop a heater.

Each trap was met on systemd 252 or 257 and passes `systemd-analyze verify` without a
word, so that it must be looked for by name.
"""

import re
import subprocess
from pathlib import Path

import pytest

from greenkeeper.commands.shared import DEFAULT_SETTINGS
from greenkeeper.folders import RUNTIME, STATE
from greenkeeper.settings.schema import Settings
from tests.support.unitfile import Unit

UNIT_FILE = Path(__file__).parents[2] / "systemd" / "greenkeeper.service"
PROGRAM = "/opt/greenkeeper/venv/bin/greenkeeper"

# In tenths, as --threshold= wants it. What is left: network and local sockets, the GPIO
# chip, no list of addresses, the host's file system, /proc, readable files.
MOST_EXPOSURE = 12


@pytest.fixture
def unit() -> Unit:
    return Unit(UNIT_FILE)


@pytest.fixture
def with_a_program(tmp_path: Path) -> Path:
    """The unit with a program that exists here, under its own name."""
    text = UNIT_FILE.read_text(encoding="utf-8")
    assert PROGRAM in text
    copy = tmp_path / UNIT_FILE.name
    copy.write_text(text.replace(PROGRAM, "/bin/true"), encoding="utf-8")
    return copy


def analyze(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["systemd-analyze", "--no-pager", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
    )


# --- systemd's own word ------------------------------------------------------------------


def test_systemd_has_nothing_to_say_about_the_unit(with_a_program: Path) -> None:
    # The exit code is no help: 0 even for keys it does not know.
    result = analyze("verify", with_a_program)
    assert (result.stderr, result.returncode) == ("", 0)


def test_systemd_does_speak_up_about_a_key_it_does_not_know(with_a_program: Path) -> None:
    text = with_a_program.read_text(encoding="utf-8")
    with_a_program.write_text(text.replace("[Service]", "[Service]\nWatchDogSek=1"))
    assert "WatchDogSek" in analyze("verify", with_a_program).stderr


def test_exposure_stays_below_the_budget(with_a_program: Path) -> None:
    result = analyze(
        "security", "--offline=true", f"--threshold={MOST_EXPOSURE}", str(with_a_program)
    )
    print(result.stdout.rstrip().splitlines()[-1])
    found = re.search(r"Overall exposure level for \S+: ([\d.]+)", result.stdout)
    assert found is not None, result.stdout + result.stderr
    assert float(found[1]) <= MOST_EXPOSURE / 10
    assert result.returncode == 0


# --- start, watch, stop --------------------------------------------------------------------


def test_readiness_is_announced_in_the_way_every_systemd_here_understands(unit: Unit) -> None:
    # notify-reload needs 253: Debian 12 would silently take the unit for Type=simple.
    assert unit.one("Service", "Type") == "notify"
    assert unit.one("Service", "NotifyAccess") == "main"
    assert unit.one("Service", "ExecStart") == f"{PROGRAM} run"


def test_options_newer_than_debian_12_are_not_used(unit: Unit) -> None:
    newer = {"RestartSteps", "RestartMaxDelaySec", "RestartMode", "ImportCredential"}
    assert newer.isdisjoint(entry.key for entry in unit.entries)


def test_settings_are_taken_anew_on_reload(unit: Unit) -> None:
    # No program of its own for it: /bin/kill is missing from a bare Debian.
    reload = unit.one("Service", "ExecReload")
    assert reload == """/bin/sh -c 'kill -s HUP "$$MAINPID"'"""


def test_every_end_is_followed_by_driving_the_relays_off(unit: Unit) -> None:
    assert unit.one("Service", "ExecStopPost") == f"{PROGRAM} safe"


def test_it_never_stops_trying(unit: Unit) -> None:
    # In [Unit], where systemd looks for it; in [Service] it would be ignored.
    assert unit.one("Unit", "StartLimitIntervalSec") == "0"
    assert unit.one("Service", "Restart") == "always"
    assert not unit.all("Service", "RestartPreventExitStatus")


def test_nothing_that_may_be_missing_is_required(unit: Unit) -> None:
    binding = {"Requires", "Requisite", "BindsTo", "PartOf", "Upholds"}
    for entry in unit.entries:
        assert entry.key not in binding, entry
        assert not entry.key.startswith(("Condition", "Assert")), entry
    # This one waits for a server on the network, perhaps for ever; time-set does not.
    assert "time-sync.target" not in unit.words("Unit", "After")


def test_whoever_starts_the_keeper_starts_the_timers_of_every_keeper(unit: Unit) -> None:
    """`systemctl enable --now greenkeeper`, as setup has it, would leave them out."""
    wanted = set(unit.words("Unit", "Wants"))
    assert all((UNIT_FILE.parent / name).is_file() for name in wanted)
    installer = (UNIT_FILE.parent / "installer").read_text(encoding="utf-8")
    enabled = re.search(r"for name in ([a-z ]+); do\n +systemd enable --now", installer)
    assert enabled is not None
    assert wanted == {f"greenkeeper-{name}.timer" for name in enabled[1].split()}


def test_the_watchdog_leaves_three_ticks_of_the_default_rhythm(unit: Unit) -> None:
    # Longer rhythms ask for more by themselves (greenkeeper/notify.py).
    watchdog_s = float(unit.one("Service", "WatchdogSec"))
    assert watchdog_s >= 3 * Settings.model_fields["poll_s"].default


def test_a_stop_is_bounded_and_reaches_the_keeper_first(unit: Unit) -> None:
    assert unit.one("Service", "KillMode") == "mixed"
    assert unit.one("Service", "TimeoutStopSec") == "15"


# --- where it lives --------------------------------------------------------------------------


def test_folders_are_those_the_program_expects(unit: Unit) -> None:
    assert Path("/var/lib", unit.one("Service", "StateDirectory")) == STATE
    assert Path("/run", unit.one("Service", "RuntimeDirectory")) == RUNTIME
    assert Path("/etc", unit.one("Service", "ConfigurationDirectory")) == DEFAULT_SETTINGS.parent


def test_lgpio_has_a_folder_it_can_write_to(unit: Unit) -> None:
    # Importing lgpio fails where it cannot make its FIFO; a service's folder is /.
    assert f"LG_WD=%t/{RUNTIME.name}" in unit.words("Service", "Environment")


def test_a_missing_password_does_not_stop_the_start(unit: Unit) -> None:
    # A path that is missing does (243/CREDENTIALS); a bare name does not.
    for credential in unit.all("Service", "LoadCredential"):
        assert re.fullmatch(r"[a-z-]+", credential), credential


# --- fences that must not lock the keeper out --------------------------------------------------


def test_devices_are_named_one_by_one(unit: Unit) -> None:
    # A pattern in a path is accepted and matches nothing: every relay out of reach.
    assert unit.all("Service", "DeviceAllow")
    for allowed in unit.all("Service", "DeviceAllow"):
        assert re.fullmatch(r"/dev/gpiochip\d rw", allowed), allowed


def test_paths_that_may_be_missing_do_not_stop_the_start(unit: Unit) -> None:
    # Without the dash a missing node fails the whole unit, ExecStopPost included.
    for key in ("BindPaths", "BindReadOnlyPaths", "ReadWritePaths", "ReadOnlyPaths"):
        for path in unit.words("Service", key):
            assert path.startswith("-/"), f"{key}={path}"
    bound = {path.removeprefix("-") for path in unit.words("Service", "BindPaths")}
    assert bound == {allowed.split()[0] for allowed in unit.all("Service", "DeviceAllow")}


def test_no_group_is_named_that_may_be_missing(unit: Unit) -> None:
    # 216/GROUP: the user's own membership (greenkeeper.sysusers) does the same without it.
    assert not unit.all("Service", "SupplementaryGroups")


def test_the_program_still_sees_the_board_the_probes_and_the_broker(unit: Unit) -> None:
    assert not unit.all("Service", "ProcSubset")  # hides the board's name
    assert not unit.all("Service", "SocketBindDeny")  # breaks the MQTT library's wake-up pair
    assert not unit.all("Service", "PrivateNetwork")
    families = set(unit.words("Service", "RestrictAddressFamilies"))
    assert families == {"AF_UNIX", "AF_INET", "AF_INET6"}


def test_a_refused_system_call_is_an_error_not_the_end(unit: Unit) -> None:
    assert unit.one("Service", "SystemCallErrorNumber") == "EPERM"
