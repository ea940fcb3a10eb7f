"""The printed table fits a terminal and tells what does not hold."""

import sys
from itertools import chain

import pytest

from tests.faults import __main__ as program
from tests.faults import catalogue, table
from tests.faults.fault import Fault, Heat, Outcome

ROWS = list(chain.from_iterable(catalogue.GROUPS.values()))
FEWEST = 70


def test_there_are_as_many_faults_as_were_promised() -> None:
    assert len(ROWS) >= FEWEST


def test_every_line_fits_80_columns() -> None:
    outcome = Outcome("heat 60-200, 660-720, 780-910 s", ("probe-out-of-range", "settings-refused"))
    for row in ROWS:
        for line in table.lines(table.Played(row.name, row.broken, outcome)):
            assert len(line) <= table.WIDTH, line
    for line in (*table.LEGEND.splitlines(), *table.head("settings", 100)):
        assert len(line) <= table.WIDTH, line


def test_a_fault_that_does_not_hold_is_broken_with_its_reason_and_exit_code_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = Fault("nothing-broken", "nothing at all", lambda house: None, Heat.GOES_ON)
    unsound = sound._replace(name="not-as-said", heat=Heat.NEVER)
    monkeypatch.setattr(catalogue, "GROUPS", {"trial": (sound, unsound)})
    monkeypatch.setattr(sys, "argv", ["faults"])
    assert program.main() == 1
    said = capsys.readouterr().out
    assert "1 held, 1 broken" in said
    assert "broken: not-as-said" in said
    assert "AssertionError: heat: " in said


def test_a_name_that_nothing_has_is_said_with_the_names_there_are(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["faults", "no-such"])
    assert program.main() == 2
    assert ", ".join(catalogue.GROUPS) in capsys.readouterr().err
