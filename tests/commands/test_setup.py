"""`greenkeeper setup` as it is used: on a terminal, over bus files in the kernel's format and
relay lines that outlive their owner; and with a file of answers."""

import json
import os
import pty
import select
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Self

import pytest

from greenkeeper.commands import setup
from greenkeeper.errors import GreenkeeperError
from greenkeeper.settings.load import load
from greenkeeper.status import FORMAT
from tests.setup.test_answers import EXAMPLE
from tests.support.fakekernel import FakeKernel
from tests.support.w1tree import W1Tree
from tests.support.waiting import eventually

BENCH, OUTSIDE = "28-0316a2795a01", "28-0316d2c3e4f5"
HEATER = 17
PATIENCE_S = 40.0


class House:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.bus = W1Tree(folder / "w1")
        for rom in (BENCH, OUTSIDE):
            self.bus.add(rom, 12.0)
        self.lines = FakeKernel.boot(folder / "dev")
        self.out = folder / "house.yaml"
        self.runtime = folder / "run"
        self.runtime.mkdir()

    def words(self, *more: str) -> list[str]:
        return [
            *(sys.executable, "-m", "greenkeeper", "setup", "--folder", str(self.bus.folder)),
            *("--runtime", str(self.runtime), "--out", str(self.out), *more),
        ]

    def terminal(self, *more: str) -> "Terminal":
        return Terminal(self.words(*more), self.lines.environment())

    def run(self, *more: str) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            self.words(*more),
            env=self.lines.environment(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
        )

    def steps(self) -> list[int | str | None]:
        """Every level the heater's line was driven to, in order."""
        return [what for how, what in self.lines.changes(HEATER) if how in ("output", "write")]

    def at_rest(self) -> bool:
        """As after power-on: nobody drives the line any more."""
        inputs = [change for change in self.lines.changes(HEATER) if change[0] == "input"]
        return bool(inputs) and self.steps()[-1] == 0


class Terminal:
    """The program on a terminal of its own, and a person at it."""

    def __init__(self, words: list[str], environment: dict[str, str]) -> None:
        self.process, self._hand = _on_a_terminal(words, environment)
        self.shown = ""

    def until(self, words: str) -> Self:
        """Wait until the screen shows this, after what was last waited for."""
        end_s = time.monotonic() + PATIENCE_S
        while words not in self.shown:
            assert time.monotonic() < end_s, f"never shown: {words!r}\n{self.shown}"
            if select.select([self._hand], [], [], 0.2)[0]:
                try:
                    self.shown += os.read(self._hand, 4096).decode(errors="replace")
                except OSError:  # nobody has opened the other end yet
                    time.sleep(0.02)
        self.shown = self.shown.partition(words)[2]
        return self

    def type(self, line: str) -> None:
        os.write(self._hand, f"{line}\n".encode())

    def press(self, key: bytes) -> None:
        os.write(self._hand, key)

    def answer(self, *pairs: tuple[str, str]) -> Self:
        for question, line in pairs:
            self.until(question).type(line)
        return self

    def hang_up(self) -> None:
        os.close(self._hand)
        self._hand = -1

    def end(self) -> int:
        end_s = time.monotonic() + PATIENCE_S
        while self.process.poll() is None and time.monotonic() < end_s:
            if self._hand >= 0 and select.select([self._hand], [], [], 0.05)[0]:
                try:
                    self.shown += os.read(self._hand, 4096).decode(errors="replace")
                except OSError:  # the other end is gone
                    break
        return self.process.wait(PATIENCE_S)

    def close(self) -> None:
        if self._hand >= 0:
            os.close(self._hand)
        self.process.kill()
        self.process.wait(PATIENCE_S)


def _on_a_terminal(
    words: list[str], environment: dict[str, str]
) -> "tuple[subprocess.Popen[bytes], int]":
    """The program as the leader of a session whose terminal we hold the other end of."""
    hand, screen = pty.openpty()
    # A session leader that opens a terminal gets it as its own, and is told when it is gone.
    opening = (
        "import os, signal, sys\n"
        # Whoever runs the tests in the background ignores these, and that is inherited.
        "[signal.signal(n, signal.SIG_DFL) for n in (signal.SIGINT, signal.SIGHUP)]\n"
        "os.setsid()\n"
        f"fd = os.open({os.ttyname(screen)!r}, os.O_RDWR)\n"
        "[os.dup2(fd, n) for n in (0, 1, 2)]\n"
        "os.execv(sys.argv[1], sys.argv[1:])"
    )
    process = subprocess.Popen([sys.executable, "-c", opening, *words], env=environment)
    os.close(screen)
    return process, hand


@pytest.fixture
def house(tmp_path: Path) -> House:
    return House(tmp_path)


@pytest.fixture
def terminal(house: House) -> Iterator[Terminal]:
    made = house.terminal("--seconds", "1")
    yield made
    made.close()


def to_the_relays(terminal: Terminal, house: House) -> None:
    terminal.answer(
        ("Write 'read'", "read"),
        ("short name", "lean-to"),
        ("Time zone", "Europe/Brussels"),
        ("Degrees north", ""),
        ("warm hand", ""),
    )
    time.sleep(1.0)  # at rest for a look, as it is before a hand closes around it
    house.bus.set_temp(OUTSIDE, 14.0)
    terminal.answer((f"A name for {OUTSIDE}", "outdoors"), ("warm hand", BENCH))
    terminal.answer((f"A name for {BENCH}", "bench"), ("outdoors?", ""))
    terminal.answer(("A name for a relay", "heater"), ("GPIO of heater", str(HEATER)))
    terminal.answer(("switches it on?", "high"))


def test_a_grower_gets_from_nothing_to_settings_that_check_passes(
    terminal: Terminal, house: House
) -> None:
    to_the_relays(terminal, house)
    terminal.answer(("Close GPIO17", "yes"), ("light on:", "on"), ("watts", "1500"))
    terminal.answer(("name for a relay", ""), ("name for the zone", ""))
    terminal.answer(("A plant", "lemon"), ("Minimum of lemon", "5"), ("A plant", ""))
    terminal.answer(("plant height", ""), ("its heater", ""), ("cools it", ""))
    terminal.answer(("Another zone", ""), ("kilowatt-hour", "0.32"), ("currency", ""))
    assert terminal.end() == 0, terminal.shown
    found = load(house.out)
    assert found.site.outdoor_probe == "outdoors"
    assert found.zones["bench"].heat is not None
    assert found.zones["bench"].heat.output == "heater"
    # Off, on, off again, and then let go.
    assert house.steps() == [0, 1, 0]
    assert house.at_rest()


def test_answers_that_do_not_go_together_are_kept_and_the_way_on_is_told(
    terminal: Terminal, house: House
) -> None:
    to_the_relays(terminal, house)
    terminal.answer(("Close GPIO17", "no"), ("watts", "1500"))
    terminal.answer(("name for a relay", "fan"), ("GPIO of fan", "23"), ("switches it on?", ""))
    terminal.answer(("Close GPIO23", "no"), ("watts", ""), ("name for a relay", ""))
    terminal.answer(("name for the zone", ""), ("A plant", ""), ("plant height", ""))
    terminal.answer(("its heater", "heater"), ("Heat at or below", "20"))
    terminal.answer(("cools it", "fan"), ("Cool at or above", "10"))
    terminal.answer(("Another zone", ""), ("kilowatt-hour", ""))
    assert terminal.end() == 1
    kept = house.folder / "house.draft.yaml"
    assert "setpoint_c: 20" in kept.read_text(encoding="utf-8")
    assert not house.out.exists()
    terminal.until("do not go together yet")
    terminal.until("zones.bench.cool").until(f"mv {kept} {house.out}")


def _interrupted(folder: Path, how: str) -> House:
    """A house whose relay is closed by a trial that ends like this; when it is at rest again."""
    folder.mkdir()
    house = House(folder)
    terminal = house.terminal("--seconds", "10")
    try:
        to_the_relays(terminal, house)
        terminal.answer(("Close GPIO17", "yes"))
        terminal.until("GPIO17 on")
        assert house.steps() == [0, 1]
        began_s = time.monotonic()
        if how == "Ctrl-C":
            terminal.press(b"\x03")
        elif how == "terminal lost":
            terminal.hang_up()
        elif how == "killed":
            terminal.process.kill()
        elif how == "terminated":
            terminal.process.terminate()
        else:
            (child,) = _children(terminal.process.pid)
            os.kill(child, signal.SIGKILL)
        eventually(house.at_rest, lambda: f"{how}: {house.lines.changes(HEATER)}", PATIENCE_S)
        assert time.monotonic() - began_s < 8.0, "it went off by its own time, not for this"
    finally:
        terminal.close()
    return house


def test_a_relay_goes_off_however_the_trial_ends(tmp_path: Path) -> None:
    ways = ["Ctrl-C", "terminal lost", "killed", "terminated", "trial killed"]
    with ThreadPoolExecutor(len(ways)) as pool:  # they wait most of the time
        houses = list(pool.map(lambda how: _interrupted(tmp_path / how, how), ways))
    assert not any(house.out.exists() for house in houses)


def test_a_lost_terminal_loses_no_answer_and_the_next_start_goes_on(
    terminal: Terminal, house: House
) -> None:
    kept = house.folder / "house.answers.yaml"
    to_the_relays(terminal, house)
    terminal.answer(("Close GPIO17", "no"), ("watts", "1500"))
    terminal.until("name for a relay").hang_up()
    assert terminal.end() == -signal.SIGHUP
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert not house.out.exists()
    again = house.terminal("--seconds", "1")
    try:
        again.answer(("Write 'read'", "read"))
        again.until("house: lean-to").until("probes: outdoors, bench").until("relays: heater")
        again.answer(("Go on from there?", ""))
        again.until("heater is GPIO17").answer(("name for a relay", ""))
        again.answer(("name for the zone", ""), ("A plant", "lemon"), ("Minimum of", "5"))
        again.answer(("A plant", ""), ("plant height", ""), ("its heater", ""), ("cools it", ""))
        again.until("Another zone").press(b"\x03")
        assert again.end() == 130
        again.until(f"the answers so far are in {kept}")
    finally:
        again.close()
    last = house.terminal()
    try:
        last.answer(("Write 'read'", "read"), ("Go on from there?", "yes"))
        last.answer(("name for a relay", ""), ("Another zone", ""), ("kilowatt-hour", ""))
        assert last.end() == 0, last.shown
    finally:
        last.close()
    found = load(house.out)
    assert found.site.outdoor_probe == "outdoors"
    assert found.plants[0].name == "lemon"
    assert found.zones["bench"].heat is not None
    assert house.steps() == [], "going on closes no relay"
    assert not kept.exists()


def test_answers_kept_that_make_no_sense_are_named_and_stay(house: House) -> None:
    kept = house.folder / "house.answers.yaml"
    kept.write_text("probes: {bench: 7}\n", encoding="utf-8")
    again = house.terminal()
    assert again.end() == 1
    again.until("probes.bench").until(f"rm {kept}")
    again.close()
    assert kept.exists()


def _children(pid: int) -> list[int]:
    found = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii")
    return [int(word) for word in found.split()]


def test_a_relay_of_a_running_keeper_is_left_alone(terminal: Terminal, house: House) -> None:
    status = {"format": FORMAT, "pid": terminal.process.pid}  # a process of ours that lives
    (house.runtime / "status.json").write_text(json.dumps(status), encoding="utf-8")
    to_the_relays(terminal, house)
    terminal.until("a keeper is running")
    assert house.lines.changes(HEATER) == []


def test_a_line_somebody_else_holds_is_told_and_not_driven(
    terminal: Terminal, house: House
) -> None:
    house.lines.hold(HEATER, os.getpid())
    to_the_relays(terminal, house)
    terminal.answer(("Close GPIO17", "yes"))
    terminal.until("GPIO17")
    terminal.until("Close GPIO17")  # asked again, nothing having happened
    assert house.lines.changes(HEATER) == []


# --- without a terminal ------------------------------------------------------------------


@pytest.fixture
def answers(tmp_path: Path) -> Path:
    file = tmp_path / "answers.yaml"
    file.write_text(EXAMPLE, encoding="utf-8")
    return file


def test_without_a_terminal_and_without_answers_it_says_how(house: House) -> None:
    done = house.run()
    assert done.returncode == 1
    assert "--answers" in done.stderr
    assert not house.out.exists()


def test_a_file_of_answers_becomes_settings_and_touches_no_relay(
    house: House, answers: Path
) -> None:
    done = house.run("--answers", str(answers))
    assert done.returncode == 0, done.stderr
    assert load(house.out).zones["bench"].heat is not None
    assert house.lines.changes(HEATER) == []


def test_settings_that_are_there_are_never_written_over(house: House, answers: Path) -> None:
    house.out.write_text("mine\n", encoding="utf-8")
    for number in (1, 2):
        done = house.run("--answers", str(answers))
        assert done.returncode == 0, done.stderr
        assert f"house.new-{number}.yaml" in done.stdout
    assert house.out.read_text(encoding="utf-8") == "mine\n"


def test_a_probe_that_does_not_hang_there_is_told(house: House, answers: Path) -> None:
    house.bus.vanish(OUTSIDE)
    assert (
        "Not on the bus of this machine now: outdoors"
        in house.run("--answers", str(answers)).stdout
    )


def test_answers_that_make_no_house_write_nothing_and_say_why(house: House, answers: Path) -> None:
    text = answers.read_text(encoding="utf-8")
    answers.write_text(text.replace("heater: heater", "heater: stove"), encoding="utf-8")
    done = house.run("--answers", str(answers))
    assert done.returncode == 1
    assert "stove" in done.stderr
    assert not house.out.exists()


def test_where_nothing_may_be_written_the_text_is_not_lost(tmp_path: Path) -> None:
    with pytest.raises(GreenkeeperError, match=r"(?s)no-such-folder.*the whole text"):
        setup.write_beside(tmp_path / "no-such-folder" / "house.yaml", "the whole text")


def test_a_folder_that_is_not_there_is_told_before_anything_is_asked(
    house: House, answers: Path
) -> None:
    house.out = house.folder / "no-such-folder" / "house.yaml"
    done = house.run("--answers", str(answers))
    assert done.returncode == 1
    assert "there is no folder" in done.stderr


@pytest.mark.parametrize("seconds", ["0", "11", "nan", "long"])
def test_no_relay_may_be_closed_for_long(house: House, seconds: str) -> None:
    done = house.run("--seconds", seconds)
    assert done.returncode == 2
    assert "1 to 10 seconds" in done.stderr
