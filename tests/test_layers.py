"""The arrows between the rooms hold, and importing a room has no effect.

The table of arrows is tests/support/arrows.py; DEVELOPERS.md draws it.
"""

from pathlib import Path

import pytest

import greenkeeper
from greenkeeper.commands import COMMANDS
from tests.support.apart import run_python
from tests.support.arrows import HOUSE, MAY_IMPORT, imports, modules, trespass

PACKAGE = Path(greenkeeper.__file__).parent
MODULES = modules(PACKAGE)

# What costs memory, time or a side effect, and belongs to one adapter or one command.
HEAVY = {
    "paho", "gpiozero", "lgpio", "gpiod", "w1thermsensor", "structlog", "sqlite3",
    "numpy", "scipy", "matplotlib", "asyncio", "apprise", "http", "ssl", "subprocess",
    "starlette", "uvicorn", "jinja2", "babel",
}  # fmt: skip


def found_in(source: str, module: str, *, is_package: bool = False) -> list[str]:
    """The forbidden arrows of a source, as a person would want them told."""
    return [
        f"line {each.line}: imports {each.target or HOUSE}: {why}"
        for each in imports(source, module, is_package=is_package)
        if (why := trespass(module, each.target)) is not None
    ]


# --- the house as it stands ----------------------------------------------------------------


@pytest.mark.parametrize("module", [name for name in MODULES if name])
def test_every_import_follows_the_arrows(module: str) -> None:
    path = MODULES[module]
    source = path.read_text(encoding="utf-8")
    assert found_in(source, module, is_package=path.name == "__init__.py") == []


def test_every_room_has_its_place_in_the_drawing() -> None:
    rooms = {module.partition(".")[0] for module in MODULES} - {""}
    assert rooms - MAY_IMPORT.keys() == set(), "add a row to tests/support/arrows.py"


# --- the test itself can fail ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("control.step", "import greenkeeper.probes"),
        ("control.step", "from greenkeeper.clock import Clock"),
        ("control.step", "from greenkeeper import journal"),
        ("control.step", "from ..outputs import gpio"),
        ("control.step", "from .. import broker"),
        ("control.step", "def late():\n    from greenkeeper.broker import client"),
        ("control.step", "if TYPE_CHECKING:\n    from greenkeeper.daemon import Keeper"),
        ("control.step", "import greenkeeper"),
        ("probes.onewire", "from greenkeeper.outputs import gpio"),
        ("probes.onewire", "from greenkeeper.house import model"),
        ("outputs.gpio", "from greenkeeper import control"),
        ("gpio.lines", "from greenkeeper.outputs import OutputError"),
        ("journal.writer", "from greenkeeper.broker.client import BrokerClient"),
        ("broker.client", "from greenkeeper.journal import store"),
        ("alarms.desk", "from greenkeeper.broker.client import BrokerClient"),
        ("house.model", "from greenkeeper.settings.load import load"),
        ("house.model", "from greenkeeper import settings"),
        ("settings.load", "from greenkeeper.control.step import step"),
        ("model", "from greenkeeper.units import shown_c"),
        ("status", "from greenkeeper.commands import now"),
        ("assembly", "from greenkeeper.daemon import Keeper"),
        ("daemon", "from greenkeeper.commands import run"),
    ],
)
def test_a_forbidden_arrow_is_found(module: str, line: str) -> None:
    (found,) = found_in(f"import math\n{line}\n", module)
    assert found.startswith(f"line {line.count(chr(10)) + 2}: imports ")


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("control.step", "from greenkeeper.model import Now, Tick"),
        ("control.step", "from greenkeeper.settings import derived"),
        ("control.step", "from . import guard"),
        ("control.step", "from .guard import permit"),
        ("probes.modelled", "from greenkeeper.house.model import Parameters"),
        ("outputs.gpio", "from greenkeeper.gpio.lines import Lines"),
        ("house.model", "from greenkeeper.settings.schema import House"),
        ("commands.run", "from greenkeeper.daemon import Keeper"),
        ("assembly", "from greenkeeper import __version__, control"),
        ("control.step", "import greenkeepers_friend.outputs"),
    ],
)
def test_an_allowed_arrow_is_let_pass(module: str, line: str) -> None:
    assert found_in(f"{line}\n", module) == []


# --- importing has no effect -------------------------------------------------------------------


def heavy_after_importing(names: list[str], folder: Path) -> list[str]:
    program = f"""
import sys
for name in {names!r}:
    __import__(name)
print(*sorted({HEAVY!r} & sys.modules.keys()))
"""
    return run_python(program, folder).split()


# numpy's own room, which `greenkeeper learn` alone opens.
LEARNING = "house.learning"


def of_room(room: str) -> list[str]:
    return [
        f"{HOUSE}.{name}"
        for name in MODULES
        if name.partition(".")[0] == room and not name.startswith(LEARNING)
    ]


@pytest.mark.parametrize("room", ["control", "settings", "house", "model", "clock"])
def test_what_decides_loads_nothing_that_acts(room: str, tmp_path: Path) -> None:
    assert heavy_after_importing(of_room(room), tmp_path) == []


def test_nothing_the_keeper_loads_knows_of_learning() -> None:
    for module, path in MODULES.items():
        source = path.read_text(encoding="utf-8")
        known = imports(source, module, is_package=path.name == "__init__.py") if module else ()
        if any(each.target.startswith(LEARNING) for each in known):
            assert module.startswith((LEARNING, "commands.learn", "reports.learning_"))


def test_commands_load_what_they_need_only_when_they_run(tmp_path: Path) -> None:
    # All of them are imported for any command line, `greenkeeper --help` included.
    names = [f"{HOUSE}.commands.{name}" for name in COMMANDS]
    assert heavy_after_importing(names, tmp_path) == []


def test_a_keeper_that_writes_to_nobody_loads_nothing_of_that(tmp_path: Path) -> None:
    program = f"""
import sys
import {HOUSE}.daemon
print(*sorted(name for name in sys.modules if name.startswith({f"{HOUSE}.alarms"!r})))
"""
    assert run_python(program, tmp_path) == "\n"


def test_a_heavy_import_would_be_noticed(tmp_path: Path) -> None:
    assert heavy_after_importing(["sqlite3"], tmp_path) == ["sqlite3"]


def test_importing_the_whole_house_leaves_no_trace(tmp_path: Path) -> None:
    # lgpio, for one, makes a FIFO, starts a thread and changes the working folder.
    names = [f"{HOUSE}.{name}" for name in MODULES if name and name != "__main__"]
    program = f"""
import os, signal, sys, threading
before = dict(os.environ), os.getcwd(), signal.getsignal(signal.SIGTERM)
for name in {names!r}:
    __import__(name)
assert (dict(os.environ), os.getcwd(), signal.getsignal(signal.SIGTERM)) == before
assert threading.active_count() == 1, threading.enumerate()
"""
    assert run_python(program, tmp_path) == ""
    assert list(tmp_path.iterdir()) == []
