"""The commissioning sheet beside the real keeper: what was answered is in its journal."""

import signal
import sys
import threading
from pathlib import Path

from greenkeeper.commands import setup_record
from tests.commands.test_setup import Terminal
from tests.endtoend.shed import Shed


def test_a_result_reaches_the_journal_before_the_keeper_is_killed(tmp_path: Path) -> None:
    with Shed(tmp_path) as shed:
        shed.start()
        shed.until(shed.status, "no first tick")
        record = setup_record.to_keeper(shed.runtime)
        assert record("blips", "failed: the fan's lamp") is None
        assert record("blips", "passed") is None
        assert record("labels", "passed: seen: both / on the lid") is None

        def kept() -> bool:
            return setup_record.earlier(shed.file) == {
                "blips": "passed",
                "labels": "passed: seen: both / on the lid",
            }

        shed.until(kept, "not in the journal")
        assert shed.process is not None
        shed.process.kill()
        shed.exit_code()
        assert kept()


def test_a_keeper_that_is_slow_for_a_moment_still_takes_a_result(tmp_path: Path) -> None:
    """On a busy machine a tick may take longer than the two and a half of poll_s: 1."""
    with Shed(tmp_path) as shed:
        shed.start()
        shed.until(shed.status, "no first tick")
        shed.send(signal.SIGSTOP)
        wakes = threading.Timer(3.5, shed.send, (signal.SIGCONT,))
        wakes.start()
        assert setup_record.to_keeper(shed.runtime)("blips", "passed") is None
        wakes.join()


def test_without_a_keeper_it_says_so_and_records_nothing(tmp_path: Path) -> None:
    with Shed(tmp_path) as shed:
        shed.runtime.mkdir()
        trouble = setup_record.to_keeper(shed.runtime)("blips", "passed")
        assert trouble is not None
        assert "no keeper is running" in trouble
        assert setup_record.earlier(shed.file) == {}


def test_a_person_can_leave_the_sheet_and_take_it_up_again(tmp_path: Path) -> None:
    with Shed(tmp_path) as shed:
        shed.start()
        shed.until(shed.status, "no first tick")
        command = [*(sys.executable, "-m", "greenkeeper", "setup", "--commission")]
        command += ["--settings", str(shed.file)]
        first = Terminal(command, shed.lines.environment())
        first.until("Mains voltage kills")
        first.answer(("later]", "passed"), ("remark", "measured"), ("later]", "failed"))
        first.answer(("remark", "no label"))
        first.until("put right").press(b"\x03")
        assert first.end() == 130
        first.close()
        shed.until(lambda: len(setup_record.earlier(shed.file)) == 2, "not in the journal")
        again = Terminal(command, shed.lines.environment())
        again.until("mains-work: passed: measured").until("Before: failed: no label")
        again.close()
