"""The command line as a whole: help, mistakes, exit codes, closed pipes."""

import re
import subprocess
import sys

import pytest

from greenkeeper import commands
from greenkeeper.commands import COMMANDS, build_parser, main


def outcome(*words: str) -> int:
    try:
        return main(words)
    except SystemExit as left:
        return int(left.code or 0)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example_that_fits(name, capsys):
    assert outcome(name, "--help") == 0
    shown = capsys.readouterr().out
    assert f"greenkeeper {name}" in shown
    assert "example" in shown
    assert max(map(len, shown.splitlines())) <= 80


def test_the_first_page_names_every_command(capsys):
    assert outcome("--help") == 0
    shown = capsys.readouterr().out
    assert all(re.search(rf"\n    {name}\s", shown) for name in COMMANDS)


@pytest.mark.parametrize(
    ("typed", "meant"), [("chekc", "check"), ("Now", "now"), ("jurnal", "journal")]
)
def test_a_mistyped_command_is_answered_with_the_nearest(typed, meant, capsys, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["greenkeeper", typed])
    assert outcome(typed) == 2
    assert f"Did you mean '{meant}'?" in capsys.readouterr().err


def test_settings_without_their_option_are_answered_with_how_to_name_them(capsys, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["greenkeeper", "season", "my.yaml"])
    assert outcome("season", "my.yaml") == 2
    assert "write: greenkeeper season --settings my.yaml" in capsys.readouterr().err
    monkeypatch.setattr(sys, "argv", ["greenkeeper", "check", "my.yaml", "other.yaml"])
    assert outcome("check", "my.yaml", "other.yaml") == 2  # it has no such option
    assert "--settings" not in capsys.readouterr().err


def test_no_command_at_all_is_wrong_usage(capsys):
    assert outcome() == 2
    assert "COMMAND" in capsys.readouterr().err


def test_options_are_never_guessed_from_their_beginnings(capsys):
    assert outcome("now", "--wat") == 2
    assert "--wat" in capsys.readouterr().err


def test_a_named_command_imports_no_other(monkeypatch):
    """`safe` must work whatever is broken beside it."""
    asked = []
    real = commands.importlib.import_module
    monkeypatch.setattr(
        commands.importlib, "import_module", lambda name: asked.append(name) or real(name)
    )
    build_parser(("safe",))
    assert asked == ["greenkeeper.commands.safe"]


def test_what_a_person_can_mend_ends_with_one_line_and_code_1(tmp_path, capsys):
    assert outcome("now", "--runtime", str(tmp_path)) == 1
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.startswith("greenkeeper now: no keeper is running")


def test_a_reader_that_has_seen_enough_is_no_error():
    """As in `greenkeeper check ... | head -1`, with the pipe closed before anything is written."""
    with subprocess.Popen(
        [sys.executable, "-m", "greenkeeper", "check", "--schema"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        process.stdout.close()
        assert process.stderr is not None
        complaint = process.stderr.read()
    assert complaint == ""
    assert process.returncode == 0
