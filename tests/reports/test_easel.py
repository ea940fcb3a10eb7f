"""A terminal that stands still holds up nobody, and shows the newest when it moves again."""

import os
import pty
import subprocess
import sys
import termios
from collections.abc import Iterator

import pytest

from greenkeeper.reports.easel import Easel

BIG = "leaf " * 20_000  # more than a terminal's buffer takes


@pytest.fixture
def terminal() -> Iterator[tuple[int, int]]:
    """(the screen's end, the program's end)"""
    screen, program = pty.openpty()
    yield screen, program
    os.close(program)
    os.close(screen)


def read_until(screen: int, wanted: bytes) -> bytes:
    seen = b""
    while wanted not in seen:
        seen += os.read(screen, 65536)
    return seen


def test_pictures_are_painted_whole(terminal: tuple[int, int]) -> None:
    screen, program = terminal
    easel = Easel(program)
    easel.put("bench 4.8 °C.")
    assert read_until(screen, b"C.").decode() == "bench 4.8 °C."
    easel.finish(20.0)


@pytest.mark.parametrize("stopped_by_key", [True, False])
def test_a_terminal_that_stands_still_is_not_waited_for(
    terminal: tuple[int, int], stopped_by_key: bool
) -> None:
    screen, program = terminal
    if stopped_by_key:
        termios.tcflow(program, termios.TCOOFF)  # what Ctrl-S does
    easel = Easel(program)
    for number in range(50):
        easel.put(f"{BIG}{number}.")  # would never come back if it waited
    easel.finish(0.01)
    if stopped_by_key:
        termios.tcflow(program, termios.TCOON)
    seen = read_until(screen, b"49.")
    assert seen.count(b".") < 50  # what came between was dropped


def test_a_terminal_that_is_gone_is_told_once_at_the_next_picture() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    easel = Easel(writing)
    easel.put("nobody sees this")
    easel.finish(20.0)
    with pytest.raises(BrokenPipeError):
        easel.put("nor this")
    easel.finish(20.0)
    os.close(writing)


def test_a_stuck_terminal_does_not_keep_the_program_from_ending(
    terminal: tuple[int, int],
) -> None:
    _, program = terminal
    code = f"from greenkeeper.reports.easel import Easel; Easel(1).put({BIG!r})"
    ended = subprocess.run(
        [sys.executable, "-c", code], stdout=program, stderr=subprocess.PIPE, timeout=60, check=True
    )
    assert ended.stderr == b""
