"""The shield: what others raise ends there, and is told for as long as it lasts."""

import io
import json

import pytest
import structlog

from greenkeeper import logs
from greenkeeper.model import Condition
from greenkeeper.shield import Shield


class Part:
    def __init__(self):
        self.broken = False

    def work(self, number, *, twice=False):
        if self.broken:
            raise OSError("no more file handles")
        return number * (2 if twice else 1)

    def rest(self):
        return "rested"


@pytest.fixture(autouse=True)
def log():
    stream = io.StringIO()
    logs.set_up(stream)
    yield stream
    structlog.reset_defaults()


def lines(stream):
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def test_what_works_is_handed_through(log):
    shield = Shield()
    assert shield.call("part", Part().work, 3, twice=True) == 6
    assert shield.conditions() == ()
    assert log.getvalue() == ""


def test_what_fails_gives_nothing_and_is_told_until_that_very_call_works_again(log):
    shield, part = Shield(), Part()
    part.broken = True
    assert shield.call("part", part.work, 3) is None
    assert shield.call("part", part.rest) == "rested"  # does not make the other call well
    text = "part work: OSError('no more file handles')"
    assert shield.conditions() == (Condition("part-failed", "part", text),)
    part.broken = False
    shield.call("part", part.work, 3)
    assert shield.conditions() == ()


def test_the_log_has_the_trace_once_and_not_every_tick(log):
    shield, part = Shield(), Part()
    part.broken = True
    for _ in range(5):
        shield.call("part", part.work, 3)
    (line,) = lines(log)
    assert line["event"] == "part-failed"
    assert "in work" in line["exception"]


def test_a_log_that_fails_as_well_changes_nothing():
    class Broken:
        def isatty(self):
            return False

        def write(self, text):
            raise RuntimeError("not even this")

    logs.set_up(Broken())
    shield, part = Shield(), Part()
    part.broken = True
    assert shield.call("part", part.work, 3) is None
    assert [each.code for each in shield.conditions()] == ["part-failed"]


def test_an_order_to_leave_is_no_failure():
    def leave():
        raise SystemExit(1)

    with pytest.raises(SystemExit):
        Shield().call("part", leave)
