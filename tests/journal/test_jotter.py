"""The small file beside the journal: what it holds, and what is left of it after a power cut."""

from pathlib import Path

import pytest

from greenkeeper.journal import jotter
from greenkeeper.journal.jotter import LINE_BYTES, LINES, Jotted, Jotter, Owner
from greenkeeper.journal.rows import Switching

OWNER = Owner(3, "boot-1", "1.2.3", 1_800_000_000.25, 1000.125)


def row(number: int, reason: str = "bench-left 4.9 °C is at or below 5.0 °C") -> Switching:
    at_s = 1_800_000_000.0 + 60.0 * number
    return Switching(at_s, 1000.0 + 60.0 * number, "heater", 1500.0, number % 2 == 0, reason)


def test_what_was_jotted_down_is_there_with_its_run(file: Path) -> None:
    made = Jotter(file)
    assert made.add(OWNER, [row(0)])
    assert made.add(OWNER, [row(1, "a file's name: \udce4"), row(2)._replace(power_w=None)])
    assert jotter.read(file) == Jotted(
        OWNER, (row(0), row(1, "a file's name: \udce4"), row(2)._replace(power_w=None))
    )


def test_nothing_to_jot_down_touches_nothing(file: Path) -> None:
    assert Jotter(file).add(OWNER, [])
    assert not jotter.file_of(file).exists()


def test_another_round_forgets_the_one_before_though_its_lines_are_still_there(file: Path) -> None:
    made = Jotter(file)
    assert made.add(OWNER, [row(number) for number in range(9)])
    made.forget()
    assert made.add(OWNER, [row(20)])
    assert b"1800000480.0" in jotter.file_of(file).read_bytes()
    assert jotter.read(file) == Jotted(OWNER, (row(20),))


def test_another_run_makes_the_file_anew(file: Path) -> None:
    assert Jotter(file).add(OWNER, [row(number) for number in range(9)])
    later = OWNER._replace(run=4)
    assert Jotter(file).add(later, [row(20)])
    assert jotter.read(file) == Jotted(later, (row(20),))


def test_the_file_is_as_long_at_its_first_line_as_at_its_last(file: Path) -> None:
    """Nothing but the line's page is to be written."""
    made = Jotter(file)
    for number in range(LINES - 1):
        assert made.add(OWNER, [row(number)])
        assert jotter.file_of(file).stat().st_size == LINES * LINE_BYTES
    assert not made.add(OWNER, [row(99)])  # there is no room: into the journal with it
    made.forget()
    assert made.add(OWNER, [row(99)])


def test_a_reason_too_long_for_a_line_is_not_cut(file: Path) -> None:
    made = Jotter(file)
    assert not made.add(OWNER, [row(0, "x" * LINE_BYTES)])
    assert jotter.read(file) is None


@pytest.mark.parametrize("torn_at", [LINE_BYTES * 3 + 5, LINE_BYTES * 3 + 60, LINE_BYTES * 4 - 800])
def test_half_a_line_counts_as_none(file: Path, torn_at: int) -> None:
    made = Jotter(file)
    assert made.add(OWNER, [row(0), row(1), row(2)])
    data = bytearray(jotter.file_of(file).read_bytes())
    data[torn_at : LINE_BYTES * 4] = bytes(LINE_BYTES * 4 - torn_at)
    jotter.file_of(file).write_bytes(data)
    assert jotter.read(file) == Jotted(OWNER, (row(0), row(1)))


@pytest.mark.parametrize(
    "content", [b"", b"\0" * 4096, b"\xff" * 3000, b"not at all\n", b"00000000 {}\n"]
)
def test_a_file_that_makes_no_sense_counts_as_none(file: Path, content: bytes) -> None:
    jotter.file_of(file).write_bytes(content)
    assert jotter.read(file) is None


def test_where_nothing_can_be_written_it_says_so_and_raises_nothing(file: Path) -> None:
    made = Jotter(file.parent / "gone" / "journal.db")
    assert not made.add(OWNER, [row(0)])
    made.remove()
    file.parent.joinpath("gone").mkdir()
    assert made.add(OWNER, [row(0)])
    made.remove()
    assert jotter.read(file.parent / "gone" / "journal.db") is None
