"""`greenkeeper journal`: the record looked at, checked and taken elsewhere."""

import csv
import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from greenkeeper import commands
from greenkeeper.commands import journal as command
from greenkeeper.commands import journal_output, shared
from greenkeeper.journal.export import SHEETS
from greenkeeper.journal.rows import Minute, OutputMinute, ProbeMinute
from greenkeeper.journal.store import Keeping, Run, Store
from tests.journal import ticks
from tests.journal.ticks import at

HOUR = int(ticks.UTC_S)
MINUTES = 150


def write(file: Path, *, runs: int = 1) -> None:
    """So many runs, each after the first following one that was killed, of 150 minutes in all."""
    for number in range(runs):
        start = at(60.0 * number * MINUTES / runs)
        store = Store.open(file, Run("b", "1.2.3", start), Keeping("fern-corner", "UTC", 60, 60))
        minutes = _minutes(number * MINUTES // runs, (number + 1) * MINUTES // runs)
        store.write(minutes, [], minutes[-1].utc_s)
        store.close()


def _minutes(start: int, end: int) -> list[Minute]:
    made: list[Minute] = []
    for number in range(start, end):
        utc_s = HOUR + 60 * number
        temp_c = -1.5 if number == 77 else 5.0
        made += [
            ProbeMinute(utc_s, "bench", "", 6, temp_c, temp_c, temp_c, 0),
            ProbeMinute(utc_s, "a-probe-with-quite-a-long-name", "", 0, None, None, None, 6),
            OutputMinute(utc_s, "heater", 1500.0, 24.0, 0),
            OutputMinute(utc_s, "lamp", None, 0.0, 0),
        ]
    return made


@pytest.fixture
def file(tmp_path: Path) -> Path:
    made = tmp_path / "journal.db"
    write(made)
    return made


def journal(*arguments: str | Path) -> int:
    return commands.main(["journal", *map(str, arguments)])


# --- summary -------------------------------------------------------------------------


def test_the_summary_tells_lows_and_energy_within_eighty_columns(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert journal("summary", "--file", file) == 0
    text = capsys.readouterr().out
    assert "2027-01-15 08:00 to 2027-01-15 10:30 UTC, 0.1 days\n" in text
    assert "1 start of the keeper, 0 events\n" in text
    bench = next(line for line in text.splitlines() if line.startswith("bench"))
    assert bench.split() == [
        *("bench", "−1.5", "°C", "2027-01-15", "09:17"),
        *("5.0", "°C", "2027-01-15", "08:00"),
    ]
    assert "no measurement" in text
    heater = next(line for line in text.splitlines() if line.startswith("heater"))
    assert heater.split() == ["heater", "1.0", "h", "0", "1.5", "kWh"]
    assert "power not set" in text
    assert all(len(line) <= 80 for line in text.splitlines()[1:])


def test_the_summary_of_a_span_is_of_that_span_only(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ("--from", "2027-01-15T08:00Z", "--to", "2027-01-15T10:00:00+01:00", "--json")
    assert journal("summary", "--file", file, *options) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["probes"]["bench"]["lowest_c"] == 5.0  # the cold minute is at 09:17
    assert facts["outputs"]["heater"]["on_s"] == 60 * 24.0
    assert facts["outputs"]["lamp"]["energy_kwh"] is None
    assert facts["to_utc"] == "2027-01-15T09:00:00Z"


def test_the_summary_of_an_empty_journal_is_empty(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = tmp_path / "new.db"
    Store.open(made, Run("b", "1", at(0)), Keeping("fern-corner", "UTC", 60, 60)).close()
    assert journal("summary", "--file", made) == 0
    assert capsys.readouterr().out == f"fern-corner  {made}\nnothing is recorded\n"
    assert journal("summary", "--file", made, "--json") == 0
    assert json.loads(capsys.readouterr().out)["from_utc"] is None


# --- check ---------------------------------------------------------------------------


def test_a_whole_journal_passes_the_check(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert journal("check", "--file", file) == 0
    assert capsys.readouterr().out == f"{file} is whole, and nothing is missing from it\n"


def test_a_finding_is_told_and_makes_the_exit_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = tmp_path / "journal.db"
    write(made, runs=3)
    assert journal("check", "--file", made) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].endswith(": 2 findings")
    assert all(len(line) <= 80 for line in lines[1:])
    assert journal("check", "--file", made, "--json") == 1
    assert len(json.loads(capsys.readouterr().out)["findings"]) == 2


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (None, "there is no journal"),
        (b"", "is an empty file"),
        (b"site: {}\n" * 100, "is damaged or no journal at all"),
    ],
)
def test_what_is_no_journal_is_told_in_one_line(
    tmp_path: Path, content: bytes | None, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    made = tmp_path / "other.db"
    if content is not None:
        made.write_bytes(content)
    for action in ("summary", "check", "export"):
        assert journal(action, "--file", made) == 1
        out, err = capsys.readouterr()
        assert out == ""
        assert told in err
        assert str(made) in err
        assert err.count("\n") == 1


# --- export --------------------------------------------------------------------------


def test_the_export_goes_to_standard_output(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert journal("export", "--file", file, "--table", "output-hours") == 0
    out, err = capsys.readouterr()
    rows = list(csv.DictReader(out.splitlines()))
    # The running hour is not summed, and the lamp was never on.
    assert [(row["output"], row["on_s"]) for row in rows] == [
        ("heater", "1440.0"),
        ("lamp", "0.0"),
    ] * 2
    assert err == ""


def test_the_export_to_a_file_is_there_whole_and_alone(file: Path) -> None:
    out = file.with_name("minutes.jsonl")
    assert journal("export", "--file", file, "--json", "--out", out) == 0
    assert len(out.read_text().splitlines()) == 2 * MINUTES
    assert sorted(each.name for each in file.parent.iterdir() if "db" not in each.name) == [
        "minutes.jsonl"
    ]


def test_an_export_that_fails_leaves_the_older_one_as_it_was(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with file.open("r+b") as handle:
        handle.seek(file.stat().st_size // 2)
        handle.write(b"\xa5" * (file.stat().st_size // 2))
    out = file.with_name("minutes.csv")
    out.write_text("the older one")
    assert journal("export", "--file", file, "--out", out) == 1
    assert "is damaged" in capsys.readouterr().err
    assert out.read_text() == "the older one"
    assert not list(file.parent.glob(".*"))


def test_an_export_to_a_place_that_is_not_there_is_told(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = file.parent / "stick" / "minutes.csv"
    assert journal("export", "--file", file, "--out", out) == 1
    assert f"{out} cannot be written" in capsys.readouterr().err


def test_a_reader_that_has_seen_enough_is_no_error(file: Path) -> None:
    command_line = [sys.executable, "-c", _MAIN, "journal", "export", "--file", str(file)]
    with subprocess.Popen(command_line, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 0


_MAIN = "import sys; from greenkeeper.commands import main; sys.exit(main(sys.argv[1:]))"


# --- options -------------------------------------------------------------------------


def test_the_tables_offered_are_the_tables_there_are() -> None:
    assert set(command.TABLES) == set(SHEETS)


@pytest.mark.parametrize(
    "options",
    [
        ["export", "--from", "yesterday"],
        ["export", "--table", "moons"],
        ["check", "--from", "2027-01-15"],
        [],
        ["summary", "--from", "2027-01-16", "--to", "2027-01-15"],
    ],
)
def test_wrong_usage_has_exit_code_two(
    file: Path, options: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as end:
        journal(*options, *(["--file", str(file)] if options else []))
    assert end.value.code == 2
    assert "usage:" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "utc_s"),
    [
        ("2027-01-15", HOUR - 8 * 3600),
        ("2027-01-15T08:00Z", HOUR),
        ("2027-01-15T08:00", HOUR),
        ("2027-01-15T09:00:00+01:00", HOUR),
    ],
)
def test_times_are_utc_unless_they_say_otherwise(text: str, utc_s: int) -> None:
    assert command.utc_time(text) == utc_s


_SETTINGS = """
site: {name: fern-corner}
probes: {bench: {kind: modelled, place: bench}}
outputs: {heater: {kind: modelled, drives: heater, power_w: 900}}
zones: {bench: {probes: [bench], heat: {output: heater, setpoint_c: 5}}}
"""


@pytest.mark.parametrize("key", ["journal: {file: %s/journal.db}", "folders: {state: %s}"])
def test_without_a_file_the_settings_say_where_it_is(
    file: Path, key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    told = file.with_name("settings.yaml")
    told.write_text(_SETTINGS + key % file.parent)
    assert journal("check", "--settings", told) == 0
    assert str(file) in capsys.readouterr().out


def test_without_settings_it_is_in_the_state_folder(
    file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(shared, "DEFAULT_SETTINGS", file.with_name("no settings.yaml"))
    monkeypatch.setenv("STATE_DIRECTORY", str(file.parent))
    assert journal("check") == 0
    assert str(file) in capsys.readouterr().out


# --- the sign of life ----------------------------------------------------------------


def test_long_work_shows_a_bar_on_a_terminal_and_wipes_it(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal_output, "_QUIET_S", 0.0)
    monkeypatch.setattr(journal_output, "_EVERY_S", 0.0)
    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "w") as terminal:
        monkeypatch.setattr(sys, "stderr", terminal)
        assert journal("export", "--file", file, "--out", file.with_name("out.csv")) == 0
        assert journal("check", "--file", file) == 0
        terminal.write("end")
        terminal.flush()
        shown = ""
        while not shown.endswith("end"):  # a terminal may hand it over in pieces
            shown += os.read(ours, 65536).decode()
    os.close(ours)
    assert "exporting  [==============================] 100%" in shown
    assert shown.endswith("\r\x1b[Kend")


def test_short_work_shows_nothing(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "w") as terminal:
        monkeypatch.setattr(sys, "stderr", terminal)
        monkeypatch.setattr(journal_output, "_QUIET_S", 3600.0)
        assert journal("export", "--file", file, "--out", file.with_name("out.csv")) == 0
        terminal.write("end")
        terminal.flush()
        assert os.read(ours, 65536) == b"end"
    os.close(ours)
