"""A relay on a line: its levels from start to end, and what is said when they are wrong."""

import errno
import gc
import os
import subprocess
import sys
from pathlib import Path

import pytest
from gpiozero.pins.mock import MockFactory

from greenkeeper.gpio.chips import Chip
from greenkeeper.gpio.gpiozero_lines import GpiozeroBackend
from greenkeeper.gpio.lines import Lines
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.outputs import OutputError
from greenkeeper.outputs.gpio import GpioOutputDriver
from greenkeeper.pins import Board, Level
from greenkeeper.settings.switches import GpioOutput
from tests.support.fakekernel import FakeKernel, install

ACTIVE_HIGH = GpioOutput(kind="gpio", pin=17, on_level=Level.HIGH)
ACTIVE_LOW = GpioOutput(kind="gpio", pin=17, on_level=Level.LOW)


@pytest.fixture
def kernel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> FakeKernel:
    kernel = FakeKernel.boot(tmp_path / "dev")
    install(monkeypatch, kernel)
    return kernel


@pytest.fixture(params=["lgpio", "gpiod"])
def lines(
    request: pytest.FixtureRequest,
    kernel: FakeKernel,  # it has to be there
    tmp_path: Path,
) -> Lines:
    return open_lines(Board(backend=request.param), tmp_path)


def test_an_active_low_relay_never_sees_low_before_it_is_switched_on(
    lines: Lines, kernel: FakeKernel
) -> None:
    driver = GpioOutputDriver("heater", ACTIVE_LOW, lines)
    assert kernel.changes(17) == [("output", 1)]
    driver.switch(on=True)
    assert kernel.changes(17) == [("output", 1), ("write", 0)]


@pytest.mark.parametrize(("output", "on"), [(ACTIVE_HIGH, 1), (ACTIVE_LOW, 0)])
def test_a_relay_from_start_to_end(
    lines: Lines, kernel: FakeKernel, output: GpioOutput, on: int
) -> None:
    driver = GpioOutputDriver("heater", output, lines)
    driver.switch(on=True)
    driver.switch(on=False)
    driver.switch(on=True)
    driver.close()
    off = 1 - on
    assert kernel.changes(17) == [
        ("output", off),
        ("write", on),
        ("write", off),
        ("write", on),
        ("write", off),  # driven off before it is let go
        ("free", None),
    ]


def test_closing_twice_does_nothing_more(lines: Lines, kernel: FakeKernel) -> None:
    driver = GpioOutputDriver("heater", ACTIVE_HIGH, lines)
    driver.close()
    driver.close()
    assert kernel.changes(17) == [("output", 0), ("write", 0), ("free", None)]


def test_a_forgotten_relay_goes_off(lines: Lines, kernel: FakeKernel) -> None:
    driver = GpioOutputDriver("heater", ACTIVE_LOW, lines)
    driver.switch(on=True)
    del driver
    gc.collect()
    assert kernel.changes(17)[-2:] == [("write", 1), ("free", None)]


# It never closes its driver, and ends as argv[2] says.
_CARELESS = """
import sys
from pathlib import Path
from greenkeeper.outputs.gpio import GpioOutputDriver
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.pins import Board
from greenkeeper.settings.switches import GpioOutput

lines = open_lines(Board(backend=sys.argv[1]), Path.cwd())
heater = GpioOutputDriver("heater", GpioOutput(kind="gpio", pin=17), lines)
heater.switch(on=True)
exec(sys.argv[2])
"""


@pytest.mark.parametrize("backend", ["lgpio", "gpiod"])
@pytest.mark.parametrize("end", ["pass", "sys.exit(3)", "1 / 0", "raise KeyboardInterrupt"])
def test_a_program_that_ends_without_closing_leaves_its_relay_off(
    tmp_path: Path, backend: str, end: str
) -> None:
    kernel = FakeKernel.boot(tmp_path / "dev")
    arguments = [sys.executable, "-c", _CARELESS, backend, end]
    subprocess.run(
        arguments,
        cwd=tmp_path,
        env=kernel.environment(),
        timeout=60,
        check=False,
        stderr=subprocess.DEVNULL,
    )
    assert kernel.changes(17) == [("output", 0), ("write", 1), ("write", 0), ("free", None)]


def test_a_closed_relay_cannot_be_switched(lines: Lines, kernel: FakeKernel) -> None:
    driver = GpioOutputDriver("heater", ACTIVE_HIGH, lines)
    driver.close()
    with pytest.raises(OutputError, match="output heater: GPIO17 is not claimed"):
        driver.switch(on=True)
    assert kernel.level(17) == 0


def test_a_pin_that_does_not_follow_is_an_error(lines: Lines, kernel: FakeKernel) -> None:
    driver = GpioOutputDriver("heater", ACTIVE_HIGH, lines)
    kernel.force(17, 0)
    with pytest.raises(OutputError, match="output heater: GPIO17 was driven high but reads low"):
        driver.switch(on=True)


@pytest.mark.parametrize("operation", ["write", "read"])
def test_a_line_that_fails_is_named_with_its_output(
    lines: Lines, kernel: FakeKernel, operation: str
) -> None:
    driver = GpioOutputDriver("heater", ACTIVE_HIGH, lines)
    kernel.failing = {operation: errno.EIO}
    with pytest.raises(OutputError, match="output heater: GPIO17 cannot be used"):
        driver.switch(on=True)
    kernel.failing = {}
    driver.close()


def test_a_relay_that_does_not_go_off_is_let_go_all_the_same_and_reported(
    lines: Lines, kernel: FakeKernel
) -> None:
    driver = GpioOutputDriver("heater", ACTIVE_HIGH, lines)
    driver.switch(on=True)
    kernel.force(17, 1)
    with pytest.raises(OutputError, match="driven low but reads high"):
        driver.close()
    assert kernel.changes(17)[-2:] == [("write", 0), ("free", None)]
    assert kernel.open_chips == 0


def test_a_relay_whose_line_cannot_be_let_go_is_named(lines: Lines, kernel: FakeKernel) -> None:
    driver = GpioOutputDriver("heater", ACTIVE_HIGH, lines)
    kernel.failing = {"free": errno.EIO}
    with pytest.raises(OutputError, match="output heater: GPIO17"):
        driver.close()
    assert kernel.level(17) == 0


def test_a_busy_line_is_refused_by_the_outputs_name(lines: Lines, kernel: FakeKernel) -> None:
    kernel.hold(17, owner=os.getppid())
    with pytest.raises(OutputError, match="output heater: GPIO17 is busy"):
        GpioOutputDriver("heater", ACTIVE_HIGH, lines)


@pytest.mark.parametrize(("output", "on"), [(ACTIVE_HIGH, True), (ACTIVE_LOW, False)])
def test_the_ordinary_path_on_gpiozeros_own_pins(output: GpioOutput, on: bool) -> None:
    factory = MockFactory(revision="902120")
    pin = factory.pin(17)
    lines = Lines(GpiozeroBackend(factory, Chip(Path("mock"), "mock", 28)))
    driver = GpioOutputDriver("heater", output, lines)
    assert (pin.function, pin.state) == ("output", not on)
    pin.clear_states()
    driver.switch(on=True)
    driver.switch(on=False)
    driver.switch(on=True)
    driver.close()
    # A list of its own: the mock's assert_states lets a missing last state pass.
    assert [state for _, state in pin.states] == [not on, on, not on, on, not on]
    assert pin.function == "input"
