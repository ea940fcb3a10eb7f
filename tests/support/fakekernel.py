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

Change = tuple[str, int | None]
"""("output", level), ("write", level) or ("free", None)."""


class Line(NamedTuple):
    level: int
    owner: int | None
    changes: list[Change]


class FakeKernel:
    """folder stands for /dev: a file for each chip, and one with the state of the lines."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._file = folder / "lines.json"
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
        (self.folder / f"forced{pin}").write_text(str(level), encoding="utf-8")

    def about(self, path: Path) -> tuple[str, int]:
        self._check("open")
        if not path.exists():
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
        label, lines = json.loads(path.read_text(encoding="utf-8"))
        return label, lines

    def request(self, pin: int, level: int) -> None:
        self._check("request")
        line = self._load(pin)
        if line.owner is not None and _alive(line.owner):
            raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
        self._save(pin, Line(level, os.getpid(), [*line.changes, ("output", level)]))

    def write(self, pin: int, level: int) -> None:
        self._check("write")
        line = self._owned(pin)
        self._save(pin, line._replace(level=level, changes=[*line.changes, ("write", level)]))

    def read(self, pin: int) -> int:
        self._check("read")
        forced = self.folder / f"forced{pin}"
        return (
            int(forced.read_text(encoding="utf-8")) if forced.exists() else self._owned(pin).level
        )

    def free(self, pin: int) -> None:
        self._check("free")
        line = self._owned(pin)
        self._save(pin, line._replace(owner=None, changes=[*line.changes, ("free", None)]))

    def _check(self, operation: str) -> None:
        if operation in self.failing:
            number = self.failing[operation]
            raise OSError(number, os.strerror(number))

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
    mine: set[int] = set()

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
        assert not mine, f"the chip is closed while {mine} are claimed"
        kernel.open_chips -= 1
        return 0

    def gpio_get_chip_info(handle: int) -> list[Any]:
        label, lines = kernel.about(handles[handle])
        return [0, lines, handles[handle].name, label]

    def gpio_claim_output(handle: int, gpio: int, level: int = 0, flags: int = 0) -> int:
        assert handles[handle]
        assert gpio not in mine, "lgpio ignores the level of a line that is an output already"
        assert flags == 0
        with told():
            kernel.request(gpio, level)
        mine.add(gpio)
        return 0

    def gpio_write(_handle: int, gpio: int, level: int) -> int:
        assert gpio in mine, "lgpio would claim the line of its own accord"
        with told():
            kernel.write(gpio, level)
        return 0

    def gpio_read(_handle: int, gpio: int) -> int:
        assert gpio in mine, "lgpio would claim the line as an input"
        with told():
            return kernel.read(gpio)

    def gpio_free(_handle: int, gpio: int) -> int:
        assert gpio in mine
        mine.remove(gpio)
        with told():
            kernel.free(gpio)
        return 0

    functions = (gpiochip_open, gpiochip_close, gpio_get_chip_info, gpio_claim_output)
    for function in (*functions, gpio_write, gpio_read, gpio_free):
        setattr(module, function.__name__, function)
    module.__dict__.update(error=error, GPIO_BUSY=-79, error_text=texts.__getitem__)
    return module


def gpiod_on(kernel: FakeKernel) -> ModuleType:
    """The part of gpiod 2 that the keeper uses."""
    module = ModuleType("gpiod")

    class Value(Enum):
        INACTIVE = 0
        ACTIVE = 1

    class Direction(Enum):
        OUTPUT = 3

    class LineSettings(NamedTuple):
        direction: Direction
        output_value: Value

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
        assert settings.direction is Direction.OUTPUT
        with Chip(path):
            kernel.request(pin, settings.output_value.value)
        return LineRequest(pin)

    line = SimpleNamespace(Value=Value, Direction=Direction)
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
