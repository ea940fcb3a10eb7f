"""A kernel's GPIO lines in a folder, with stand-ins for lgpio and gpiod on top of it.

The lines outlive the process that drives them, as on a Raspberry Pi: a line whose owner
has died keeps its level and can be claimed by the next one. Every change of a line is
kept, so that a test sees all levels a relay has seen, and in which order.
The stand-ins are strict: they have the functions the keeper uses and no others, and what
the real ones would do of their own accord (lgpio claims unclaimed lines) is an error here.
"""

import errno
import json
import os
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from enum import Enum
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import TYPE_CHECKING, Any, NamedTuple, Self

from greenkeeper.gpio import chips

if TYPE_CHECKING:
    import pytest

FOLDER_VARIABLE = "FAKE_KERNEL_FOLDER"
FAKE_LINES = Path(__file__).parent / "fake_lines"  # has lgpio.py and gpiod.py
PROJECT = Path(__file__).parents[2]

Change = tuple[str, int | str | None]
"""("output", level), ("input", pull), ("write", level) or ("free", None)."""


class Line(NamedTuple):
    level: int
    owner: int | None
    changes: list[Change]


class FakeKernel:
    """folder stands for /dev: a file for each chip, and one with the state of the lines."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._file = folder / "lines.json"
        self._saving = threading.Lock()
        self.open_chips = 0
        self.failing: dict[str, int] = {}  # operation -> errno, for this process

    @classmethod
    def boot(cls, folder: Path, chip_labels: dict[str, tuple[str, int]] | None = None) -> Self:
        """chip_labels: name -> (label, number of lines). Without it: a Raspberry Pi 4."""
        folder.mkdir()
        for name, about in (chip_labels or {"gpiochip0": ("pinctrl-bcm2711", 58)}).items():
            (folder / name).write_text(json.dumps(about), encoding="utf-8")
        return cls(folder)

    def environment(self) -> dict[str, str]:
        """The environment of a program that finds both libraries on this kernel."""
        path = os.pathsep.join((str(FAKE_LINES), str(PROJECT)))
        return {**os.environ, "PYTHONPATH": path, FOLDER_VARIABLE: str(self.folder)}

    def level(self, pin: int) -> int:
        return self._load(pin).level

    def changes(self, pin: int) -> list[Change]:
        return self._load(pin).changes

    def hold(self, pin: int, owner: int) -> None:
        """Let another process have the line."""
        self._save(pin, self._load(pin)._replace(owner=owner))

    def force(self, pin: int, level: int) -> None:
        """Something outside pulls the pin to a level, whatever it is driven to."""
        self._outside(pin, {"level": level})

    def pulse(self, pin: int, hz: float, high_share: float) -> None:
        """Something outside drives it up and down: high for this share of each turn."""
        self._outside(pin, {"hz": hz, "high_share": high_share})

    def let_be(self, pin: int) -> None:
        """Nothing outside touches the pin any more: an input's wire is broken, say."""
        (self.folder / f"forced{pin}").unlink(missing_ok=True)

    def _outside(self, pin: int, what: dict[str, float]) -> None:
        beside = self.folder / f"forcing{pin}"  # replaced whole: another process reads it
        beside.write_text(json.dumps(what), encoding="utf-8")
        beside.replace(self.folder / f"forced{pin}")

    def about(self, path: Path) -> tuple[str, int]:
        self._check("open")
        if not path.exists():
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
        label, lines = json.loads(path.read_text(encoding="utf-8"))
        return label, lines

    def request(self, pin: int, level: int) -> None:
        self._check("request")
        line = self._available(pin)
        self._save(pin, Line(level, os.getpid(), [*line.changes, ("output", level)]))

    def request_input(self, pin: int, pull: str) -> None:
        """pull: "up", "down" or "none"; of a line that nothing pulls, low is read here."""
        self._check("request")
        line = self._available(pin)
        level = int(pull == "up")
        self._save(pin, Line(level, os.getpid(), [*line.changes, ("input", pull)]))

    def write(self, pin: int, level: int) -> None:
        self._check("write")
        line = self._owned(pin)
        self._save(pin, line._replace(level=level, changes=[*line.changes, ("write", level)]))

    def read(self, pin: int) -> int:
        self._check("read")
        forced = self.folder / f"forced{pin}"
        if not forced.exists():  # without a file handle, as the kernel does it
            return self._owned(pin).level
        outside = json.loads(forced.read_text(encoding="utf-8"))
        if "level" in outside:
            return int(outside["level"])
        return int(time.monotonic() * outside["hz"] % 1.0 < outside["high_share"])

    def free(self, pin: int) -> None:
        self._check("free")
        line = self._owned(pin)
        self._save(pin, line._replace(owner=None, changes=[*line.changes, ("free", None)]))

    def _check(self, operation: str) -> None:
        if operation in self.failing:
            number = self.failing[operation]
            raise OSError(number, os.strerror(number))

    def _available(self, pin: int) -> Line:
        line = self._load(pin)
        if line.owner is not None and _alive(line.owner):
            raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
        return line

    def _owned(self, pin: int) -> Line:
        line = self._load(pin)
        assert line.owner == os.getpid(), f"GPIO{pin} is not this process's line"
        return line

    def _all(self) -> dict[str, Any]:
        if not self._file.exists():
            return {}
        lines: dict[str, Any] = json.loads(self._file.read_text(encoding="utf-8"))
        return lines

    def _load(self, pin: int) -> Line:
        level, owner, changes = self._all().get(str(pin), (0, None, []))
        return Line(level, owner, [(what, value) for what, value in changes])

    def _save(self, pin: int, line: Line) -> None:
        with self._saving:
            beside = self._file.with_suffix(".new")
            beside.write_text(json.dumps({**self._all(), str(pin): line}), encoding="utf-8")
            beside.replace(self._file)


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def lgpio_on(kernel: FakeKernel) -> ModuleType:
    """The part of lgpio 0.2.2 that the keeper uses."""
    module = ModuleType("lgpio")
    handles: dict[int, Path] = {}
    mine: dict[int, int] = {}  # claimed line -> the handle it was claimed through
    outputs: set[int] = set()
    pulls = {32: "up", 64: "down", 128: "none"}

    class error(Exception):  # noqa: N801, N818 # lgpio's own name
        def __init__(self, value: str) -> None:
            super().__init__(value)
            self.value = value

    texts = {-79: "GPIO busy", -78: "can not open gpiochip", -85: "unexpected error"}

    @contextmanager
    def told() -> Iterator[None]:
        try:
            yield
        except OSError as refused:
            raise error(texts[-79 if refused.errno == errno.EBUSY else -85]) from refused

    def gpiochip_open(gpiochip: int) -> int:
        path = kernel.folder / f"gpiochip{gpiochip}"
        try:
            kernel.about(path)
        except OSError as refused:
            raise error(texts[-78]) from refused
        handle = len(handles) + 1
        handles[handle] = path
        kernel.open_chips += 1
        return handle

    def gpiochip_close(handle: int) -> int:
        assert handles[handle]
        held = [gpio for gpio, through in mine.items() if through == handle]
        assert not held, f"the chip is closed while {held} are claimed"
        kernel.open_chips -= 1
        return 0

    def gpio_get_chip_info(handle: int) -> list[Any]:
        label, lines = kernel.about(handles[handle])
        return [0, lines, handles[handle].name, label]

    def gpio_claim_output(handle: int, gpio: int, level: int = 0, flags: int = 0) -> int:
        assert handles[handle]
        assert mine.get(gpio) != handle, "lgpio ignores the level of an output claimed already"
        assert flags == 0
        with told():
            kernel.request(gpio, level)
        mine[gpio] = handle
        outputs.add(gpio)
        return 0

    def gpio_claim_input(handle: int, gpio: int, flags: int = 0) -> int:
        assert handles[handle]
        assert mine.get(gpio) != handle, "lgpio ignores the pull of a line claimed already"
        with told():
            kernel.request_input(gpio, pulls[flags])
        mine[gpio] = handle
        return 0

    def gpio_write(handle: int, gpio: int, level: int) -> int:
        assert mine.get(gpio) == handle, "lgpio would claim the line of its own accord"
        assert gpio in outputs, "lgpio would make the input an output"
        with told():
            kernel.write(gpio, level)
        return 0

    def gpio_read(handle: int, gpio: int) -> int:
        assert mine.get(gpio) == handle, "lgpio would claim the line as an input"
        with told():
            return kernel.read(gpio)

    def gpio_free(handle: int, gpio: int) -> int:
        assert mine.pop(gpio) == handle
        outputs.discard(gpio)
        with told():
            kernel.free(gpio)
        return 0

    functions = (gpiochip_open, gpiochip_close, gpio_get_chip_info)
    claims = (gpio_claim_output, gpio_claim_input)
    for function in (*functions, *claims, gpio_write, gpio_read, gpio_free):
        setattr(module, function.__name__, function)
    module.__dict__.update({f"SET_PULL_{word.upper()}": flag for flag, word in pulls.items()})
    module.__dict__.update(error=error, GPIO_BUSY=-79, error_text=texts.__getitem__)
    return module


def gpiod_on(kernel: FakeKernel) -> ModuleType:
    """The part of gpiod 2 that the keeper uses."""
    module = ModuleType("gpiod")

    class Value(Enum):
        INACTIVE = 0
        ACTIVE = 1

    class Direction(Enum):
        INPUT = 2
        OUTPUT = 3

    class Bias(Enum):
        DISABLED = 3
        PULL_UP = 4
        PULL_DOWN = 5

    pulls = {Bias.DISABLED: "none", Bias.PULL_UP: "up", Bias.PULL_DOWN: "down"}

    class LineSettings(NamedTuple):
        direction: Direction
        output_value: Value | None = None
        bias: Bias | None = None

    class Chip:
        def __init__(self, path: str) -> None:
            self._label, self._lines = kernel.about(Path(path))
            kernel.open_chips += 1

        def __enter__(self) -> "Chip":
            return self

        def __exit__(self, *_: object) -> None:
            kernel.open_chips -= 1

        def get_info(self) -> SimpleNamespace:
            return SimpleNamespace(label=self._label, num_lines=self._lines)

    class LineRequest:
        def __init__(self, pin: int) -> None:
            self._pin = pin

        def set_value(self, line: int, value: Value) -> None:
            assert line == self._pin
            kernel.write(line, value.value)

        def get_value(self, line: int) -> Value:
            assert line == self._pin
            return Value(kernel.read(line))

        def release(self) -> None:
            kernel.free(self._pin)

    def request_lines(path: str, *, consumer: str, config: dict[int, LineSettings]) -> LineRequest:
        assert consumer == "greenkeeper"
        ((pin, settings),) = config.items()
        with Chip(path):
            if settings.direction is Direction.OUTPUT:
                assert settings.output_value is not None
                kernel.request(pin, settings.output_value.value)
            else:
                assert settings.bias is not None
                kernel.request_input(pin, pulls[settings.bias])
        return LineRequest(pin)

    line = SimpleNamespace(Value=Value, Direction=Direction, Bias=Bias)
    module.__dict__.update(
        Chip=Chip, LineSettings=LineSettings, request_lines=request_lines, line=line
    )
    return module


def install(monkeypatch: "pytest.MonkeyPatch", kernel: FakeKernel) -> None:
    """Both libraries on this kernel, for this process."""
    monkeypatch.setitem(sys.modules, "lgpio", lgpio_on(kernel))
    monkeypatch.setitem(sys.modules, "gpiod", gpiod_on(kernel))
    monkeypatch.setattr(chips, "DEVICE_FOLDER", kernel.folder)


def for_this_process() -> FakeKernel:
    """The kernel the environment names: what the modules in fake_lines/ stand on."""
    kernel = FakeKernel(Path(os.environ[FOLDER_VARIABLE]))
    chips.DEVICE_FOLDER = kernel.folder
    return kernel
