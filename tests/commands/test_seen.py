"""`greenkeeper seen`: what it asks of the keeper, and what it says of the answer."""

import json
import threading
from pathlib import Path
from typing import Any

import pytest

from greenkeeper.commands import main
from greenkeeper.inbox import Inbox
from greenkeeper.status import FILE_NAME, FORMAT


def alarm(name: str, *, seen: bool = False) -> dict[str, Any]:
    return {"name": name, "seen": seen, "text": "as the test says"}


class Keeper:
    """A stand-in with a status file. obeys: it takes people's word."""

    def __init__(self, runtime: Path, *alarms: dict[str, Any], obeys: bool = True) -> None:
        self.runtime = runtime
        self._inbox = Inbox(runtime)
        self._alarms, self._obeys = list(alarms), obeys
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._live)
        self._write()

    def __enter__(self) -> "Keeper":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def _live(self) -> None:
        while not self._stop.wait(0.02):
            for request in self._inbox.take():
                for each in self._alarms:
                    each["seen"] |= self._obeys and request.seen in (each["name"], "all")
                self._write()

    def _write(self) -> None:
        part = self.runtime / "part"
        part.write_text(json.dumps({"format": FORMAT, "poll_s": 0.4, "alarms": self._alarms}))
        part.replace(self.runtime / FILE_NAME)


def seen(runtime: Path, *words: str) -> int:
    return main(("seen", "--runtime", str(runtime), *words))


def test_one_alarm_is_noted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Keeper(tmp_path, alarm("below-minimum-bench"), alarm("zone-blind-shelf")):
        assert seen(tmp_path, "below-minimum-bench") == 0
        assert capsys.readouterr().out == "noted: below-minimum-bench\n"
        assert seen(tmp_path) == 0
        first, second = capsys.readouterr().out.splitlines()
        assert first.startswith("seen  below-minimum-bench: ")
        assert second.startswith("      zone-blind-shelf: ")


def test_all_are_noted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Keeper(tmp_path, alarm("below-minimum-bench"), alarm("zone-blind-shelf")):
        assert seen(tmp_path, "all") == 0
    assert capsys.readouterr().out == "noted: below-minimum-bench, zone-blind-shelf\n"


@pytest.mark.parametrize("name", ["nonsense", "../../etc/passwd", ""])
def test_an_alarm_that_does_not_stand_is_refused_with_those_that_do(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with Keeper(tmp_path, alarm("below-minimum-bench")):
        assert seen(tmp_path, name) == 1
    assert "standing now: below-minimum-bench" in capsys.readouterr().err


def test_where_nothing_stands_it_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Keeper(tmp_path):
        assert seen(tmp_path) == 0
        assert capsys.readouterr().out == "no alarm stands\n"
        assert seen(tmp_path, "all") == 1
        assert "no alarm stands" in capsys.readouterr().err


def test_a_keeper_that_tells_nobody_is_a_finding(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Keeper(tmp_path, alarm("below-minimum-bench"), obeys=False):
        assert seen(tmp_path, "all") == 1
    assert "greenkeeper alarms" in capsys.readouterr().out


def test_no_keeper_at_all_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert seen(tmp_path, "all") == 1
    assert "no keeper is running" in capsys.readouterr().err
