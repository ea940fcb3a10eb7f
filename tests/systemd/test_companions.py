"""The files beside the unit, tried with systemd's own tools in an empty root folder."""

import os
import stat
import subprocess
from pathlib import Path

import pytest

from greenkeeper.commands.shared import DEFAULT_SETTINGS
from tests.support.unitfile import Unit

FOLDER = Path(__file__).parents[2] / "systemd"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    (tmp_path / "root" / "etc").mkdir(parents=True)
    return tmp_path / "root"


def test_the_user_of_the_unit_is_made_and_may_reach_the_relays(root: Path) -> None:
    subprocess.run(
        ["systemd-sysusers", f"--root={root}", str(FOLDER / "greenkeeper.sysusers")],
        check=True,
        capture_output=True,
    )
    user = Unit(FOLDER / "greenkeeper.service").one("Service", "User")
    passwd = dict(_colons(line) for line in (root / "etc/passwd").read_text().splitlines())
    group = dict(_colons(line) for line in (root / "etc/group").read_text().splitlines())
    assert passwd[user][-1] == "/usr/sbin/nologin"
    assert group["gpio"][-1] == user
    assert user in group


def _colons(line: str) -> tuple[str, list[str]]:
    name, *rest = line.split(":")
    return name, rest


def test_settings_can_be_read_by_all_and_the_password_by_root_alone(
    root: Path, tmp_path: Path
) -> None:
    # The owner root cannot be given away by an ordinary user who runs the tests.
    ours = tmp_path / "ours.conf"
    text = (FOLDER / "greenkeeper.tmpfiles").read_text(encoding="utf-8")
    assert text.count("  root  root ") == 2
    ours.write_text(text.replace("  root  root ", f"  {os.getuid()}  {os.getgid()} "))
    subprocess.run(["systemd-tmpfiles", f"--root={root}", "--create", str(ours)], check=True)
    assert _mode(root / DEFAULT_SETTINGS.parent.relative_to("/")) == 0o755
    assert _mode(root / "etc/credstore") == 0o700


def _mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_the_bus_file_is_handed_to_the_user_that_the_unit_lets_write_it() -> None:
    unit = Unit(FOLDER / "greenkeeper.service")
    rule = (FOLDER / "greenkeeper.udev").read_text(encoding="utf-8")
    assert f"/bin/chgrp {unit.one('Service', 'Group')} /sys%p/../therm_bulk_read" in rule
    # Under ProtectKernelTunables= all of /sys is read-only but these.
    assert unit.one("Service", "ProtectKernelTunables") == "yes"
    assert "-/sys/devices/w1_bus_master1" in unit.words("Service", "ReadWritePaths")
