"""The files beside the unit, tried with systemd's own tools in an empty root folder."""

import os
import re
import stat
import subprocess
from fnmatch import fnmatchcase
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


def _rules() -> list[str]:
    """The rules, each on one line, without what is said about them."""
    text = (FOLDER / "greenkeeper.udev").read_text(encoding="utf-8")
    spoken = "\n".join(line for line in text.splitlines() if not line.startswith("#"))
    return [line for line in spoken.replace("\\\n", " ").splitlines() if line.strip()]


@pytest.mark.parametrize(
    ("rom", "may_be_set"),
    [
        # The families of w1_therm (Linux, drivers/w1/slaves/w1_therm.c, w1_therm_families), and
        # which of them have a configuration byte (Maxim, their data sheets).
        ("10-000802824e58", False),  # DS18S20
        ("22-000000004c1b", True),  # DS1822
        ("28-0316a2795a01", True),  # DS18B20
        ("3b-0000001921e8", True),  # DS1825
        ("42-000000a5b1c2", True),  # DS28EA00
    ],
)
def test_what_has_a_resolution_gets_the_finest_when_it_joins(rom: str, may_be_set: bool) -> None:
    bulk, resolution = _rules()
    assert _matches(bulk, rom)
    assert _matches(resolution, rom) is may_be_set
    assert 'ACTION=="add", SUBSYSTEM=="w1"' in resolution
    # Only where it is not so already: each writing takes the bus a moment.
    assert resolution.endswith('ATTR{resolution}!="12", ATTR{resolution}="12"')
    assert 'TEST=="resolution"' in resolution  # kernels before 5.8 have none


def _matches(rule: str, rom: str) -> bool:
    found = re.search(r'KERNEL=="([^"]+)"', rule)
    assert found is not None
    return any(fnmatchcase(rom, pattern) for pattern in found[1].split("|"))


def test_every_rule_is_pairs_of_a_key_and_a_quoted_value() -> None:
    """udev drops a rule it cannot read with one line in the log. `make roots` asks udev itself."""
    for rule in _rules():
        for pair in re.split(r",\s*(?=[A-Z])", rule):
            assert re.fullmatch(r'[A-Z]+(\{[a-z_]+\})?(==|!=|\+=|=)"[^"]+"', pair.strip()), pair
