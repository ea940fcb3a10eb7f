"""Claiming, driving and letting go of lines: the same story through every library."""

import errno
import gc
import os
from pathlib import Path

import pytest

from greenkeeper.gpio import LineError
from greenkeeper.gpio.lines import Lines
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.pins import Board, Pull
from tests.support.fakekernel import FakeKernel, install


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


@pytest.mark.parametrize("level", [True, False])
def test_a_claimed_line_has_its_level_from_the_first_moment(
    lines: Lines, kernel: FakeKernel, level: bool
) -> None:
    lines.claim(17, level)
    assert kernel.changes(17) == [("output", level)]
    assert lines.read(17) is level


def test_a_line_left_high_by_a_dead_program_is_taken_over_without_a_dip(
    lines: Lines, kernel: FakeKernel
) -> None:
    kernel.request(17, 1)
    kernel.hold(17, owner=_dead_process())
    lines.claim(17, True)
    assert kernel.changes(17) == [("output", 1), ("output", 1)]


def test_driving_writes_once_and_reads_the_pin_itself(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim(17, False)
    lines.drive(17, True)
    kernel.force(17, 0)
    assert lines.read(17) is False
    assert kernel.changes(17) == [("output", 0), ("write", 1)]


def test_letting_go_leaves_the_line_as_it_stands(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim(17, True)
    lines.release(17)
    assert kernel.changes(17) == [("output", 1), ("free", None)]
    assert kernel.level(17) == 1


def test_letting_go_twice_does_nothing_more(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim(17, True)
    lines.release(17)
    lines.release(17)
    lines.close()
    assert kernel.changes(17) == [("output", 1), ("free", None)]


def test_a_line_let_go_can_be_claimed_again(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim(17, True)
    lines.release(17)
    lines.claim(17, False)
    assert kernel.changes(17) == [("output", 1), ("free", None), ("output", 0)]


def test_the_chip_is_let_go_with_its_last_line(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim(17, False)
    lines.claim(23, False)
    lines.release(17)
    lines.drive(23, True)
    lines.release(23)
    assert kernel.open_chips == 0


def test_a_line_another_program_holds_is_refused_and_the_chip_let_go(
    lines: Lines, kernel: FakeKernel
) -> None:
    kernel.hold(17, owner=os.getppid())
    with pytest.raises(LineError, match="GPIO17 is busy"):
        lines.claim(17, False)
    assert kernel.changes(17) == []
    assert kernel.open_chips == 0


def test_a_refused_line_can_be_claimed_once_it_is_free(lines: Lines, kernel: FakeKernel) -> None:
    kernel.hold(17, owner=os.getppid())
    with pytest.raises(LineError) as refused:
        lines.claim(17, True)
    kernel.hold(17, owner=_dead_process())
    lines.claim(17, True)  # while the first error, and all it refers to, is still at hand
    assert refused.value.__cause__ is not None
    assert kernel.changes(17) == [("output", 1)]


@pytest.mark.parametrize("pin", [-1, 28, 54, 99])
def test_a_pin_the_header_lacks_is_refused(lines: Lines, pin: int) -> None:
    with pytest.raises(LineError, match=rf"GPIO{pin} is out of range.* GPIO0 to GPIO27"):
        lines.claim(pin, False)


def test_a_small_chip_has_only_its_own_lines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kernel = FakeKernel.boot(tmp_path / "dev", {"gpiochip0": ("pinctrl-bcm2711", 8)})
    install(monkeypatch, kernel)
    with pytest.raises(LineError, match="GPIO0 to GPIO7"):
        open_lines(Board(backend="gpiod"), tmp_path).claim(8, False)


def test_a_pin_is_claimed_once_only(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim(17, False)
    with pytest.raises(LineError, match="GPIO17 is claimed already"):
        lines.claim(17, True)
    assert kernel.changes(17) == [("output", 0)]


def test_a_line_never_claimed_is_neither_driven_nor_read(lines: Lines, kernel: FakeKernel) -> None:
    with pytest.raises(LineError, match="GPIO17 is not claimed"):
        lines.drive(17, True)
    with pytest.raises(LineError, match="GPIO17 is not claimed"):
        lines.read(17)
    assert kernel.changes(17) == []


def test_what_the_kernel_refuses_on_a_held_line_names_the_pin(
    lines: Lines, kernel: FakeKernel
) -> None:
    lines.claim(17, False)
    kernel.failing = {"write": errno.EIO, "read": errno.EIO}
    with pytest.raises(LineError, match="GPIO17 cannot be used"):
        lines.drive(17, True)
    with pytest.raises(LineError, match="GPIO17 cannot be used"):
        lines.read(17)


def test_closing_lets_go_of_every_line_though_each_one_fails(
    lines: Lines, kernel: FakeKernel
) -> None:
    lines.claim(17, False)
    lines.claim(23, False)
    kernel.failing = {"free": errno.EIO}
    with pytest.raises(LineError) as caught:
        lines.close()
    assert "GPIO17" in str(caught.value)
    assert "GPIO23" in str(caught.value)
    assert kernel.open_chips == 0
    lines.close()


def test_a_line_stays_claimed_while_its_lines_live(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim(17, False)
    lines.drive(17, True)
    gc.collect()  # gpiozero lets go of a device nobody refers to
    assert kernel.changes(17) == [("output", 0), ("write", 1)]
    assert lines.read(17) is True


# --- inputs ---------------------------------------------------------------------------


@pytest.mark.parametrize(("pull", "level"), [("up", True), ("down", False), ("none", False)])
def test_an_input_is_claimed_with_its_pull_in_one_request(
    lines: Lines, kernel: FakeKernel, pull: Pull, level: bool
) -> None:
    lines.claim_input(26, pull)
    assert kernel.changes(26) == [("input", pull)]
    assert lines.read(26) is level


@pytest.mark.parametrize("pull", ["up", "down", "none"])
def test_an_input_reads_the_level_whatever_its_pull(
    lines: Lines, kernel: FakeKernel, pull: Pull
) -> None:
    lines.claim_input(26, pull)
    kernel.force(26, 0)
    assert lines.read(26) is False
    kernel.force(26, 1)
    assert lines.read(26) is True


def test_an_input_is_never_driven(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim_input(26, "up")
    with pytest.raises(LineError, match="GPIO26 is an input"):
        lines.drive(26, True)
    assert kernel.changes(26) == [("input", "up")]


def test_an_input_let_go_can_be_claimed_again_with_another_pull(
    lines: Lines, kernel: FakeKernel
) -> None:
    lines.claim_input(26, "up")
    lines.release(26)
    lines.claim_input(26, "down")
    assert kernel.changes(26) == [("input", "up"), ("free", None), ("input", "down")]
    lines.close()
    assert kernel.open_chips == 0


@pytest.mark.parametrize("first", ["input", "output"])
@pytest.mark.parametrize("second", ["input", "output"])
def test_a_line_has_one_job(lines: Lines, kernel: FakeKernel, first: str, second: str) -> None:
    claim = {
        "input": lambda: lines.claim_input(26, "up"),
        "output": lambda: lines.claim(26, False),
    }
    claim[first]()
    with pytest.raises(LineError, match="GPIO26 is claimed already"):
        claim[second]()
    assert [what for what, _ in kernel.changes(26)] == [first]


def test_a_line_of_the_same_program_is_busy_for_another_set_of_lines(
    lines: Lines, kernel: FakeKernel, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    backend = request.node.callspec.params["lines"]
    lines.claim(17, False)
    others = open_lines(Board(backend=backend), tmp_path)
    with pytest.raises(LineError, match="GPIO17 is busy"):
        others.claim_input(17, "up")
    others.claim_input(26, "up")
    others.close()
    lines.drive(17, True)
    assert kernel.changes(17) == [("output", 0), ("write", 1)]


def test_an_input_another_program_holds_is_refused_and_claimed_once_it_is_free(
    lines: Lines, kernel: FakeKernel
) -> None:
    kernel.hold(26, owner=os.getppid())
    with pytest.raises(LineError, match="GPIO26 is busy"):
        lines.claim_input(26, "up")
    assert kernel.open_chips == 0
    kernel.hold(26, owner=_dead_process())
    lines.claim_input(26, "up")
    assert kernel.changes(26) == [("input", "up")]


def test_an_input_the_kernel_cannot_read_names_its_pin(lines: Lines, kernel: FakeKernel) -> None:
    lines.claim_input(26, "up")
    kernel.failing = {"read": errno.EIO}
    with pytest.raises(LineError, match="GPIO26 cannot be used"):
        lines.read(26)


def test_a_pretended_input_reads_its_pull(tmp_path: Path) -> None:
    lines = open_lines(Board(backend="mock"), tmp_path)
    lines.claim_input(26, "up")
    lines.claim_input(27, "down")
    assert (lines.read(26), lines.read(27)) == (True, False)
    with pytest.raises(LineError, match=r"GPIO2 .*fixed pull"):  # resistors on every board
        lines.claim_input(2, "down")
    lines.close()


def _dead_process() -> int:
    process = os.posix_spawn("/bin/true", ["true"], {})
    os.waitpid(process, 0)
    return process
