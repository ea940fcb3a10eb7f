"""Log lines: JSON with levels for the journal, readable on a terminal, never in the way."""

import fcntl
import io
import json
import os

import pytest
import structlog

from greenkeeper import logs
from greenkeeper.model import Event, Phase

ALARM = Event("zone-blind", Phase.RAISED, "bench", "none can be trusted", 10.0, 1.8e9)
NOTICE = Event("keeper-started", Phase.NOTED, "shed", "version 0.1.0", 10.0, 1.8e9)


@pytest.fixture(autouse=True)
def _put_back():
    yield
    structlog.reset_defaults()


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_elsewhere_a_line_is_json_with_its_time(monkeypatch):
    monkeypatch.delenv("JOURNAL_STREAM", raising=False)
    out = io.StringIO()
    logs.set_up(out)
    logs.tell(ALARM)
    line = json.loads(out.getvalue())
    assert line["event"] == "zone-blind"
    assert (line["phase"], line["subject"]) == ("raised", "bench")
    assert line["timestamp"].endswith("Z")


@pytest.mark.parametrize(
    ("event", "prefix"),
    [(ALARM, "<2>"), (NOTICE, "<6>"), (ALARM._replace(phase=Phase.CLEARED), "<6>")],
)
def test_for_the_journal_every_line_begins_with_its_priority_and_has_no_time(
    monkeypatch, event, prefix
):
    monkeypatch.setenv("JOURNAL_STREAM", "8:1")
    out = io.StringIO()
    logs.set_up(out)
    logs.tell(event)
    assert out.getvalue().startswith(prefix)
    assert "timestamp" not in json.loads(out.getvalue().removeprefix(prefix))


def test_a_traceback_stays_one_line_in_the_journal(monkeypatch):
    monkeypatch.setenv("JOURNAL_STREAM", "8:1")
    out = io.StringIO()
    logs.set_up(out)
    try:
        raise RuntimeError("a bug")
    except RuntimeError:
        structlog.get_logger().critical("keeper-failed", exc_info=True)
    (line,) = out.getvalue().splitlines()
    assert "RuntimeError: a bug" in json.loads(line.removeprefix("<2>"))["exception"]


def test_on_a_terminal_a_line_is_for_reading(monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    out = Terminal()
    logs.set_up(out)
    logs.tell(ALARM)
    assert "zone-blind" in out.getvalue()
    assert "\x1b" not in out.getvalue()


def test_quiet_leaves_notices_out(monkeypatch):
    monkeypatch.delenv("JOURNAL_STREAM", raising=False)
    out = io.StringIO()
    logs.set_up(out, quiet=True)
    logs.tell(NOTICE)
    assert out.getvalue() == ""
    logs.tell(ALARM)
    assert "zone-blind" in out.getvalue()


def test_a_stream_that_has_gone_stops_nobody():
    out = io.StringIO()
    logs.set_up(out)
    out.close()
    logs.tell(ALARM)


def test_a_reader_that_stands_still_costs_lines_and_their_number_is_told_later(monkeypatch):
    monkeypatch.delenv("JOURNAL_STREAM", raising=False)
    read_end, write_end = os.pipe()
    room = fcntl.fcntl(write_end, fcntl.F_SETPIPE_SZ, 4096)
    with open(write_end, "w", encoding="utf-8") as out, open(read_end, "rb", buffering=0) as reader:
        os.write(write_end, b"." * room)
        logs.set_up(out)
        for _ in range(3):
            logs.tell(ALARM)
        assert reader.read(room) == b"." * room
        logs.tell(NOTICE)
        lost, told = (json.loads(line) for line in reader.read(room).splitlines())
    assert (lost["event"], lost["lines"]) == ("log-lost", 3)
    assert told["event"] == "keeper-started"
