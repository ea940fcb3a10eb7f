"""The page's unit: another user, who reads and can do nothing else, and only nearby."""

import ipaddress
import re
import subprocess
from pathlib import Path

import pytest

from greenkeeper.commands import COMMANDS
from tests.support.unitfile import Unit

FOLDER = Path(__file__).parents[2] / "systemd"
UNIT_FILE = FOLDER / "greenkeeper-page.service"
PROGRAM = "/opt/greenkeeper/venv/bin/greenkeeper"
MOST_EXPOSURE = 10  # in tenths: it listens, and has no device


@pytest.fixture
def unit() -> Unit:
    return Unit(UNIT_FILE)


@pytest.fixture
def with_a_program(tmp_path: Path) -> Path:
    copy = tmp_path / UNIT_FILE.name
    copy.write_text(UNIT_FILE.read_text("utf-8").replace(PROGRAM, "/bin/true"), "utf-8")
    return copy


def analyze(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = ["systemd-analyze", "--no-pager", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_systemd_has_nothing_to_say_about_it(with_a_program: Path) -> None:
    result = analyze("verify", with_a_program)
    assert (result.stderr, result.returncode) == ("", 0)


def test_it_is_fenced_in_better_than_the_keeper(with_a_program: Path) -> None:
    result = analyze("security", "--offline=true", f"--threshold={MOST_EXPOSURE}", with_a_program)
    print(result.stdout.rstrip().splitlines()[-1])
    assert result.returncode == 0, result.stdout
    assert re.search(r"Overall exposure level for \S+: [\d.]+", result.stdout)


def test_it_starts_a_command_there_is(unit: Unit) -> None:
    assert unit.one("Service", "ExecStart") == f"{PROGRAM} page"
    assert "page" in COMMANDS


def test_it_is_somebody_else_who_may_read_with_the_keepers_group(
    unit: Unit, tmp_path: Path
) -> None:
    keeper = Unit(FOLDER / "greenkeeper.service")
    (tmp_path / "etc").mkdir()
    subprocess.run(
        ["systemd-sysusers", f"--root={tmp_path}", str(FOLDER / "greenkeeper.sysusers")],
        check=True,
        capture_output=True,
    )
    groups = {
        line.split(":")[0]: line.split(":")[3]
        for line in (tmp_path / "etc/group").read_text("utf-8").splitlines()
    }
    user = unit.one("Service", "User")
    assert user != keeper.one("Service", "User")
    assert groups[keeper.one("Service", "Group")] == user
    assert groups["gpio"] == keeper.one("Service", "User")  # no relay for the page
    # The group may enter the folder, and not write into it.
    assert keeper.one("Service", "StateDirectoryMode") == "0750"
    assert keeper.one("Service", "UMask") == "0022"


def test_there_is_nothing_it_may_write(unit: Unit) -> None:
    assert unit.one("Service", "ProtectSystem") == "strict"
    keys = {entry.key for entry in unit.entries}
    writable = {"StateDirectory", "CacheDirectory", "LogsDirectory", "RuntimeDirectory"}
    assert keys.isdisjoint(writable | {"ReadWritePaths", "BindPaths", "SupplementaryGroups"})


def test_it_answers_to_its_own_network_alone(unit: Unit) -> None:
    assert unit.one("Service", "IPAddressDeny") == "any"
    words = unit.words("Service", "IPAddressAllow")
    assert {"localhost", "link-local"} <= set(words)
    nets = [ipaddress.ip_network(word) for word in words if "/" in word]
    assert nets
    # 100.64.0.0/10 is shared by providers and tunnels: not private, and not of the internet.
    assert not any(net.is_global for net in nets)


def test_a_missing_word_does_not_stop_the_start(unit: Unit) -> None:
    assert unit.all("Service", "LoadCredential") == ["page-word"]


def test_the_keeper_goes_first(unit: Unit) -> None:
    keeper = Unit(FOLDER / "greenkeeper.service")
    assert int(unit.one("Service", "OOMScoreAdjust")) > int(keeper.one("Service", "OOMScoreAdjust"))
    assert int(unit.one("Service", "Nice")) > 0
    assert unit.one("Service", "MemoryMax")
    binding = {"Requires", "BindsTo", "PartOf", "Wants", "Upholds"}
    assert binding.isdisjoint(entry.key for entry in unit.entries)
