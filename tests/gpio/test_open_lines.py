"""Which library reaches the lines, and what is said when none does."""

import errno
import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from greenkeeper.gpio import LineError, chips
from greenkeeper.gpio.gpiod_lines import GpiodBackend
from greenkeeper.gpio.gpiozero_lines import GpiozeroBackend
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.pins import Board
from tests.support.fakekernel import FakeKernel, install


@pytest.fixture
def kernel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> FakeKernel:
    kernel = FakeKernel.boot(tmp_path / "dev")
    install(monkeypatch, kernel)
    return kernel


def _without(monkeypatch: pytest.MonkeyPatch, *libraries: str) -> None:
    for library in libraries:
        monkeypatch.setitem(sys.modules, library, None)  # importing it fails from now on


def _backend(gpio: Board, folder: Path) -> object:
    return open_lines(gpio, folder)._backend


@pytest.mark.usefixtures("kernel")
def test_auto_takes_lgpio_where_it_is_installed(tmp_path: Path) -> None:
    assert isinstance(_backend(Board(), tmp_path), GpiozeroBackend)


@pytest.mark.usefixtures("kernel")
def test_auto_takes_gpiod_where_lgpio_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _without(monkeypatch, "lgpio")
    assert isinstance(_backend(Board(), tmp_path), GpiodBackend)


@pytest.mark.usefixtures("kernel")
def test_auto_takes_gpiod_where_lgpio_is_an_empty_shell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "lgpio", ModuleType("lgpio"))
    assert isinstance(_backend(Board(), tmp_path), GpiodBackend)


def test_auto_does_not_turn_to_another_library_because_a_line_is_busy(
    kernel: FakeKernel, tmp_path: Path
) -> None:
    kernel.hold(17, owner=os.getppid())
    lines = open_lines(Board(), tmp_path)
    with pytest.raises(LineError, match="busy"):
        lines.claim(17, False)


@pytest.mark.parametrize(("wanted", "other"), [("lgpio", "gpiod"), ("gpiod", "lgpio")])
@pytest.mark.usefixtures("kernel")
def test_a_named_library_that_is_missing_is_not_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wanted: str, other: str
) -> None:
    _without(monkeypatch, wanted)
    with pytest.raises(LineError) as caught:
        open_lines(Board(wanted), tmp_path)
    assert f"{wanted} is not installed" in str(caught.value)
    assert f"backend: {wanted}" in str(caught.value)
    assert f"{other} is not" not in str(caught.value)


@pytest.mark.usefixtures("kernel")
def test_with_no_library_at_all_the_message_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _without(monkeypatch, "lgpio", "gpiod")
    with pytest.raises(LineError) as caught:
        open_lines(Board(), tmp_path)
    for part in (
        "lgpio is not installed",
        "gpiod is not installed",
        "`pip install 'lgpio>=0.2.2'` on Python 3.11 or 3.12",
        "`pip install 'gpiod>=2.1'` on 3.13 and later",
        f"This is Python {sys.version_info.major}.{sys.version_info.minor}",
    ):
        assert part in str(caught.value)


@pytest.mark.usefixtures("kernel")
def test_the_old_kind_of_gpiod_is_told_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = ModuleType("gpiod")
    old.__dict__.update(Chip=object, LINE_REQ_DIR_OUT=3)  # libgpiod 1.6's Python module
    monkeypatch.setitem(sys.modules, "gpiod", old)
    with pytest.raises(LineError, match=r"old 1\.x kind; 2\.1 or later is needed"):
        open_lines(Board(backend="gpiod"), tmp_path)


@pytest.mark.usefixtures("kernel")
def test_lgpio_without_a_folder_to_write_to_says_so(tmp_path: Path) -> None:
    missing = tmp_path / "nowhere"
    with pytest.raises(LineError, match=f"may write to, and {missing} is not one"):
        open_lines(Board(backend="lgpio"), missing)


def test_lgpio_passes_on_what_the_kernel_says_of_a_forbidden_chip(
    kernel: FakeKernel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kernel.failing = {"open": errno.EACCES}

    def forbidden(*_: object) -> int:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    # lgpio has one error for every chip it cannot open; root may open anything.
    monkeypatch.setattr("greenkeeper.gpio.lgpio_pins.os.open", forbidden)
    with pytest.raises(LineError, match="group 'gpio'"):
        open_lines(Board(backend="lgpio"), tmp_path)


@pytest.mark.usefixtures("kernel")
def test_lgpio_needs_a_chip_with_a_number(tmp_path: Path) -> None:
    with pytest.raises(LineError, match="/dev/null is not a GPIO chip"):
        open_lines(Board(backend="lgpio", chip="/dev/null"), tmp_path)


def test_the_mock_needs_no_library_no_chip_and_no_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _without(monkeypatch, "lgpio", "gpiod")
    monkeypatch.setattr(chips, "DEVICE_FOLDER", tmp_path)
    lines = open_lines(Board(backend="mock"), tmp_path / "nowhere")
    lines.claim(17, True)
    assert lines.read(17) is True
    lines.drive(17, False)
    assert lines.read(17) is False
    lines.close()


# --- the real libraries, on a machine without a header ---------------------------------


@pytest.mark.parametrize(
    ("chip", "words"),
    [
        ("auto", "this machine shows no GPIO chip"),
        ("/dev/gpiochip987", "GPIO chip /dev/gpiochip987 does not exist"),
        ("/dev/null", "/dev/null is not a GPIO chip"),
    ],
)
def test_the_real_gpiod_without_a_header_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, chip: str, words: str
) -> None:
    monkeypatch.setattr(chips, "DEVICE_FOLDER", tmp_path)
    with pytest.raises(LineError, match=words):
        open_lines(Board(backend="gpiod", chip=chip), tmp_path)


# In a process of its own: importing lgpio starts a thread that never ends.
_OPEN = """
import sys
from pathlib import Path
from greenkeeper.gpio import LineError, chips
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.pins import Board

chips.DEVICE_FOLDER = Path(sys.argv[1])
before = Path.cwd()
try:
    open_lines(Board(backend=sys.argv[2], chip=sys.argv[3]), Path(sys.argv[4]))
except LineError as error:
    print(error)
if Path.cwd() != before:
    print("the working directory has changed to", Path.cwd())
"""


def _open(working: Path, *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", _OPEN, *arguments],
        cwd=working,
        env={**os.environ, "LG_WD": str(working)},  # as somebody may have it set
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.stderr, done.returncode) == ("", 0)
    return done.stdout


@pytest.mark.parametrize(
    ("chip", "words"),
    [
        ("auto", "this machine shows no GPIO chip"),
        ("/dev/gpiochip987", "GPIO chip /dev/gpiochip987 does not exist"),
    ],
)
def test_the_real_lgpio_without_a_header_says_so(tmp_path: Path, chip: str, words: str) -> None:
    devices, runtime, working = _folders(tmp_path)
    output = _open(working, str(devices), "lgpio", chip, str(runtime))
    # lgpio has no package for Python 3.13, and then it is that which is said.
    assert (words if _lgpio_is_here() else "lgpio is not installed") in output
    assert "working directory" not in output


@pytest.mark.parametrize("relative", [False, True])
def test_lgpios_fifo_goes_to_the_runtime_folder_and_nowhere_else(
    tmp_path: Path, relative: bool
) -> None:
    devices, runtime, working = _folders(tmp_path)
    named = os.path.relpath(runtime, working) if relative else str(runtime)
    working.chmod(0o500)
    output = _open(working, str(devices), "auto", "auto", named)
    assert "this machine shows no GPIO chip" in output
    assert "working directory" not in output
    assert os.listdir(working) == []
    assert os.listdir(runtime) == ([".lgd-nfy0"] if _lgpio_is_here() else [])


def _folders(tmp_path: Path) -> tuple[Path, Path, Path]:
    folders = tmp_path / "dev", tmp_path / "runtime", tmp_path / "working"
    for folder in folders:
        folder.mkdir()
    return folders


def _lgpio_is_here() -> bool:
    return importlib.util.find_spec("lgpio") is not None
