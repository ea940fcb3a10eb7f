"""`greenkeeper clear`: what it asks of the keeper, and what it says of the answer."""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from greenkeeper.commands import main
from greenkeeper.inbox import Inbox
from greenkeeper.model import Request
from greenkeeper.status import FILE_NAME, FORMAT


class Keeper:
    """A stand-in that keeps a status file and answers requests as it is told to."""

    def __init__(self, runtime: Path) -> None:
        self.runtime = runtime
        self.inbox = Inbox(runtime)
        self.asked: list[Request] = []
        self.grants = True
        self.status: dict[str, Any] = {
            "format": FORMAT,
            "poll_s": 0.4,
            "latches": ["over-ceiling-bench"],
            "outputs": {
                "heater": {"operations": 90_001},
                "fan": {"operations": 0},
            },
        }
        self.write()

    def write(self) -> None:
        part = self.runtime / "part"
        part.write_text(json.dumps(self.status), encoding="utf-8")
        part.replace(self.runtime / FILE_NAME)

    def answer(self) -> None:
        for request in self.inbox.take():
            self.asked.append(request)
            if self.grants and request.clear:
                self.status["latches"].remove(request.clear)
            if self.grants and request.new_relay:
                self.status["outputs"][request.new_relay]["operations"] = 0
            self.write()

    @contextmanager
    def alive(self) -> Iterator[None]:
        stop = threading.Event()

        def live() -> None:
            while not stop.wait(0.02):
                self.answer()

        thread = threading.Thread(target=live)
        thread.start()
        try:
            yield
        finally:
            stop.set()
            thread.join()


@pytest.fixture
def keeper(tmp_path: Path) -> Keeper:
    return Keeper(tmp_path)


def clear(keeper: Keeper, *words: str) -> int:
    return main(("clear", "--runtime", str(keeper.runtime), *words))


def test_without_a_name_it_lists_what_is_latched(
    keeper: Keeper, capsys: pytest.CaptureFixture[str]
) -> None:
    assert clear(keeper) == 0
    assert capsys.readouterr().out == "over-ceiling-bench\n"


def test_a_latch_is_asked_for_by_name(keeper: Keeper, capsys: pytest.CaptureFixture[str]) -> None:
    with keeper.alive():
        assert clear(keeper, "over-ceiling-bench") == 0
    assert keeper.asked == [Request(clear="over-ceiling-bench")]
    assert capsys.readouterr().out == "over-ceiling-bench is cleared\n"


def test_a_keeper_that_refuses_is_a_finding(
    keeper: Keeper, capsys: pytest.CaptureFixture[str]
) -> None:
    keeper.grants = False
    with keeper.alive():
        assert clear(keeper, "over-ceiling-bench") == 1
    assert "found its cause still there" in capsys.readouterr().out


def test_a_new_relay_is_counted_from_nothing(
    keeper: Keeper, capsys: pytest.CaptureFixture[str]
) -> None:
    with keeper.alive():
        assert clear(keeper, "--new-relay", "heater") == 0
    assert keeper.asked == [Request(new_relay="heater")]
    assert capsys.readouterr().out == (
        "heater is counted from nothing; its old relay had switched on 90001 times\n"
    )


def test_a_relay_that_never_switched_needs_no_asking(
    keeper: Keeper, capsys: pytest.CaptureFixture[str]
) -> None:
    assert clear(keeper, "--new-relay", "fan") == 0
    assert keeper.inbox.take() == ()
    assert capsys.readouterr().out == "fan is counted from nothing already\n"


def test_an_output_nobody_knows_is_refused(
    keeper: Keeper, capsys: pytest.CaptureFixture[str]
) -> None:
    assert clear(keeper, "--new-relay", "heatr") == 1
    assert "there is no output 'heatr' in use; known: heater, fan" in capsys.readouterr().err


def test_a_keeper_that_does_not_answer_is_a_finding(
    keeper: Keeper, capsys: pytest.CaptureFixture[str]
) -> None:
    assert clear(keeper, "--new-relay", "heater") == 1
    assert "still counts 90001" in capsys.readouterr().out


def test_a_latch_and_a_relay_at_once_is_wrong_usage(
    keeper: Keeper, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        clear(keeper, "over-ceiling-bench", "--new-relay", "heater")
    assert left.value.code == 2
    assert "not allowed with" in capsys.readouterr().err
