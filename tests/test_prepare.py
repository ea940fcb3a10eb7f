"""The set-up behind `make demo` and `make test`, on a machine made of stand-ins.

The script runs as it is. Python, apt-get and sudo are small scripts that write down how
they were called; what the machine has is what lies in its one folder of programs.
"""

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.page.browser import NAMES

ROOT = Path(__file__).parents[1]
BASICS = ("sh", "cat", "cksum", "dirname", "env", "mkdir", "rm", "touch", "chmod", "cp")
TOOLS = (
    *("mosquitto", "mosquitto_pub", "openssl", "systemd-analyze"),
    *("chromium-headless-shell", "java"),
)

# Answers what prepare asks of a Python, and makes a .venv with itself inside.
PYTHON = """#!/bin/sh
case "$*" in
*print\\(sys.executable\\)*) echo "$0" ;;
*print*) echo "{version}" ;;
*ensurepip*) exit {without_venv} ;;
*version_info*) exit {too_old} ;;
*"-m venv"*) echo "venv" >>"{log}"
    mkdir -p "$4/bin" && cp "$0" "$4/bin/python" ;;
*"-m pip"*) echo "pip $*" >>"{log}"; exit {pip_fails} ;;
esac
"""


class Machine(NamedTuple):
    folder: Path

    @property
    def programs(self) -> Path:
        return self.folder / "bin"

    @property
    def checkout(self) -> Path:
        return self.folder / "checkout"

    @property
    def log(self) -> Path:
        return self.folder / "log"

    def called(self) -> list[str]:
        """What the stand-ins were asked since the last time."""
        calls = self.log.read_text().splitlines() if self.log.exists() else []
        self.log.write_text("")
        return calls

    def program(self, name: str, text: str = "#!/bin/sh\n") -> None:
        path = self.programs / name
        path.unlink(missing_ok=True)
        path.write_text(text.replace("{log}", str(self.log)))
        path.chmod(0o755)

    def python(
        self,
        name: str = "python3",
        *,
        version: str = "3.11",
        too_old: bool = False,
        without_venv: bool = False,
        pip_fails: bool = False,
    ) -> None:
        self.program(
            name,
            PYTHON.format(
                version=version,
                too_old=int(too_old),
                without_venv=int(without_venv),
                pip_fails=int(pip_fails),
                log=self.log,
            ),
        )

    def prepare(self, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(self.checkout / ".ci" / "prepare"), *arguments],
            env={"PATH": str(self.programs), **environment},
            capture_output=True,
            text=True,
            check=False,
        )


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    """Root's, with Python 3.11 and every tool of the tests."""
    made = Machine(tmp_path)
    made.programs.mkdir()
    for name in BASICS:
        found = shutil.which(name)
        assert found is not None
        (made.programs / name).symlink_to(found)
    for name in TOOLS:
        made.program(name)
    made.program("id", "#!/bin/sh\necho 0\n")
    made.program("apt-get", '#!/bin/sh\necho "apt-get $*" >>"{log}"\n')
    made.program("apt-cache")  # knows every package
    made.python()
    (made.checkout / ".ci").mkdir(parents=True)
    (made.checkout / "greenkeeper").mkdir()
    for name in (".ci/prepare", "pyproject.toml", "greenkeeper/__init__.py"):
        shutil.copy(ROOT / name, made.checkout / name)
    # The script looks there as well, and this machine has things of its own there.
    script = made.checkout / ".ci/prepare"
    text = script.read_text()
    assert "/usr/sbin:/sbin" in text
    assert "/bin/kill" in text
    script.write_text(
        text.replace(":/usr/sbin:/sbin", "").replace("/bin/kill", f"{made.programs}/kill")
    )
    made.program("kill")
    return made


@pytest.fixture
def no_root(machine: Machine) -> Callable[[int], None]:
    """Make it an ordinary user's; sudo exits with the given code."""

    def make(sudo: int) -> None:
        machine.program("id", "#!/bin/sh\necho 1000\n")
        run = f'[ {sudo} = 0 ] || exit {sudo}\n[ "$2" = true ] || {{ shift; exec "$@"; }}\n'
        machine.program("sudo", f"#!/bin/sh\n{run}")

    return make


def installs(calls: list[str]) -> list[str]:
    return [call.rsplit(" install ")[1] for call in calls if " install " in call and "apt" in call]


def test_a_fresh_checkout_gets_an_environment_with_the_program(machine: Machine) -> None:
    done = machine.prepare("demo")
    assert done.returncode == 0, done.stderr
    venv, pip = machine.called()
    assert venv == "venv"
    assert pip.endswith("-e .")


def test_tests_get_the_test_tools_too(machine: Machine) -> None:
    machine.prepare("test")
    assert machine.called()[-1].endswith("-e .[pi,report,dev]")


def test_the_second_time_nothing_is_done(machine: Machine) -> None:
    machine.prepare("test")
    machine.called()
    for goal in ("test", "demo"):  # whatever tests need, a demo has
        done = machine.prepare(goal)
        assert (done.stdout, done.stderr, done.returncode) == ("", "", 0)
    assert machine.called() == []


def test_a_demo_environment_is_not_taken_for_a_test_environment(machine: Machine) -> None:
    machine.prepare("demo")
    machine.called()
    machine.prepare("test")
    (pip,) = machine.called()
    assert pip.endswith("-e .[pi,report,dev]")


@pytest.mark.parametrize("name", ["pyproject.toml", "greenkeeper/__init__.py", ".ci/prepare"])
def test_what_decides_the_environment_renews_it(machine: Machine, name: str) -> None:
    machine.prepare("demo")
    machine.called()
    with (machine.checkout / name).open("a") as file:
        file.write("\n# changed\n")
    machine.prepare("demo")
    (pip,) = machine.called()
    assert pip.startswith("pip")


def test_a_moved_checkout_is_installed_anew(machine: Machine) -> None:
    # The scripts in .venv/bin hold the path they were made for.
    machine.prepare("demo")
    machine.called()
    moved = machine.folder / "elsewhere"
    machine.checkout.rename(moved)
    subprocess.run(
        [str(moved / ".ci/prepare"), "demo"],
        env={"PATH": str(machine.programs)},
        check=True,
        capture_output=True,
    )
    assert len(machine.called()) == 1


def test_a_failed_install_is_not_taken_for_a_good_one(machine: Machine) -> None:
    # Not even when what was to be installed goes back to what once was: it may be half gone.
    machine.prepare("demo")
    project = machine.checkout / "pyproject.toml"
    before = project.read_text()
    project.write_text(before + "\n# changed\n")
    in_venv = machine.checkout / ".venv/bin/python"
    machine.python(pip_fails=True)
    shutil.copy(machine.programs / "python3", in_venv)
    failed = machine.prepare("demo")
    assert failed.returncode == 1
    assert "needs the network" in failed.stderr
    project.write_text(before)
    machine.python()
    shutil.copy(machine.programs / "python3", in_venv)
    machine.called()
    assert machine.prepare("demo").returncode == 0
    assert len(machine.called()) == 1


def test_a_newer_python_is_found_beside_one_that_is_too_old(machine: Machine) -> None:
    machine.python(too_old=True)
    machine.python("python3.12", version="3.12")
    done = machine.prepare("demo")
    assert done.returncode == 0, done.stderr
    assert "python3.12 in .venv" in done.stdout


def test_no_suitable_python_is_a_clear_message(machine: Machine) -> None:
    machine.python(too_old=True)
    done = machine.prepare("demo")
    assert done.returncode == 1
    assert "Python 3.11 or later is needed" in done.stderr
    # It was tried: perhaps the distribution had one that was not installed.
    assert installs(machine.called()) == ["python3 python3-venv"]


def test_a_python_asked_for_is_used_or_refused_never_replaced(machine: Machine) -> None:
    machine.python("python3.13", version="3.13")
    assert "python3.13 in .venv" in machine.prepare("demo", PYTHON="python3.13").stdout
    machine.python("python3.10", version="3.10", too_old=True)
    done = machine.prepare("demo", PYTHON="python3.10")
    assert done.returncode == 1
    assert "PYTHON=python3.10 is not a Python of version 3.11 or later" in done.stderr


def test_another_python_asked_for_makes_the_environment_anew(machine: Machine) -> None:
    machine.prepare("demo")
    machine.python("python3.13", version="3.13")
    machine.called()
    machine.prepare("demo", PYTHON="python3.13")
    assert machine.called()[0] == "venv"
    machine.prepare("demo")  # nothing asked for: what is there is fine
    assert "venv" not in machine.called()


def test_what_debian_splits_off_is_installed_for_that_python(machine: Machine) -> None:
    machine.python(version="3.13", without_venv=True)
    machine.prepare("demo")
    assert installs(machine.called()) == ["python3.13-venv"]


@pytest.mark.parametrize(
    ("program", "package"),
    [
        ("mosquitto", "mosquitto"),
        ("mosquitto_pub", "mosquitto-clients"),
        ("openssl", "openssl"),
        ("systemd-analyze", "systemd"),
        ("kill", "procps"),
    ],
)
def test_a_missing_tool_is_installed_for_tests_but_not_for_a_demo(
    machine: Machine, program: str, package: str
) -> None:
    (machine.programs / program).unlink()
    machine.prepare("demo")
    assert installs(machine.called()) == []
    machine.prepare("test")
    assert installs(machine.called()) == [package]


@pytest.mark.parametrize("name", [name for name in NAMES if name != "chromium-headless-shell"])
def test_any_chromium_that_the_page_s_tests_would_find_will_do(machine: Machine, name: str) -> None:
    (machine.programs / "chromium-headless-shell").rename(machine.programs / name)
    done = machine.prepare("test")
    assert done.returncode == 0, done.stderr
    assert installs(machine.called()) == []


@pytest.mark.parametrize(
    ("known", "taken"),
    [
        ("chromium-headless-shell|chromium|openssl", "chromium-headless-shell"),  # Debian
        ("chromium|openssl", "chromium"),
        ("", "chromium-headless-shell"),  # apt's lists are not here: Debian's name, as good as any
    ],
)
def test_a_missing_browser_is_taken_under_the_name_it_has_here(
    machine: Machine, known: str, taken: str
) -> None:
    (machine.programs / "chromium-headless-shell").unlink()
    knows(machine, known)
    assert machine.prepare("test").returncode == 0
    assert installs(machine.called()) == [taken]


def test_where_no_browser_is_to_be_had_it_says_what_to_do(machine: Machine) -> None:
    """Ubuntu: its package chromium-browser is empty and sends for a snap."""
    (machine.programs / "chromium-headless-shell").unlink()
    knows(machine, "openssl|chromium-browser")
    done = machine.prepare("test")
    assert done.returncode == 1
    assert "sudo snap install chromium" in done.stderr
    assert installs(machine.called()) == []
    assert machine.prepare("demo").returncode == 0  # the keeper itself needs none


def test_without_root_the_browser_is_named_as_it_is_called_here(
    machine: Machine, no_root: Callable[[int], None]
) -> None:
    no_root(1)
    (machine.programs / "chromium-headless-shell").unlink()
    knows(machine, "chromium|openssl")
    assert "sudo apt-get install chromium" in machine.prepare("test").stderr
    knows(machine, "openssl")
    assert "sudo snap install chromium" in machine.prepare("test").stderr


def knows(machine: Machine, packages: str) -> None:
    """Packages with | between them: no other can be installed here."""
    asked = f"{packages}) ;;\n" if packages else ""
    machine.program("apt-cache", f"#!/bin/sh\ncase $2 in\n{asked}*) exit 100 ;;\nesac\n")


def test_without_root_or_sudo_it_says_what_to_install(
    machine: Machine, no_root: Callable[[int], None]
) -> None:
    no_root(1)
    (machine.programs / "mosquitto").unlink()
    (machine.programs / "openssl").unlink()
    done = machine.prepare("test")
    assert done.returncode == 1
    assert "sudo apt-get install mosquitto openssl" in done.stderr
    assert machine.called() == []


def test_with_a_sudo_that_asks_nothing_it_installs(
    machine: Machine, no_root: Callable[[int], None]
) -> None:
    no_root(0)
    (machine.programs / "mosquitto").unlink()
    done = machine.prepare("test")
    assert done.returncode == 0, done.stderr
    assert installs(machine.called()) == ["mosquitto"]


def test_without_apt_it_says_what_is_missing(machine: Machine) -> None:
    (machine.programs / "apt-get").unlink()
    (machine.programs / "openssl").unlink()
    done = machine.prepare("test")
    assert done.returncode == 1
    assert "missing: openssl" in done.stderr


@pytest.mark.parametrize("arguments", [(), ("deploy",)])
def test_wrong_usage_is_told(machine: Machine, arguments: tuple[str, ...]) -> None:
    done = machine.prepare(*arguments)
    assert (done.returncode, done.stderr) == (2, "usage: .ci/prepare demo|test\n")
