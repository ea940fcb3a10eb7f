"""`greenkeeper lastnight`: the command as a grower types it."""

import json
from datetime import datetime
from pathlib import Path

import pytest
import yaml
from freezegun import freeze_time

from greenkeeper import commands, last_night
from greenkeeper.reports import night
from tests.reports.nights import BRUSSELS, EVENING, HOUSE, minutes_of, written

MORNING = datetime(2031, 1, 15, 8, 0, tzinfo=BRUSSELS)
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture
def house(tmp_path: Path) -> list[str]:
    """The options that name an invented house whose bench was at 5.5 °C until 07:59."""
    span = night.night(EVENING, BRUSSELS)._replace(to_utc_s=MORNING.timestamp())
    written(tmp_path / "journal.db", minutes_of(span, lambda h: 5.5, on_s=lambda h: 6.0))
    settings = tmp_path / "house.yaml"
    plain = HOUSE.model_dump(mode="json", exclude_unset=True)
    settings.write_text(yaml.safe_dump(plain), encoding="utf-8")
    return ["--settings", str(settings), "--file", str(tmp_path / "journal.db")]


def lastnight(house: list[str], *more: str) -> int:
    with freeze_time(MORNING):
        return commands.main(["lastnight", *house, *more])


def test_in_the_morning_it_tells_of_the_night_so_far(
    house: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert lastnight(house) == 0
    told = capsys.readouterr().out
    assert told.startswith("fern-corner, the night of Tuesday 14 January 2031\n")
    assert "bench: every plant stayed 1.5 K or more above its minimum." in told
    assert "record                complete" in told


def test_json_says_the_same_with_times_in_utc(
    house: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert lastnight(house, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["evening"] == "2031-01-14"
    assert told["span"] == {"from_utc": "2031-01-14T11:00:00Z", "to_utc": "2031-01-15T07:00:00Z"}
    assert told["zones"][0]["low"]["temp_c"] == 5.5
    assert told["ran"][0]["kwh"] == pytest.approx(20 * 60 * 6.0 * 1500 / 3.6e6)


def test_kept_it_is_on_the_broker_at_the_keepers_next_look(
    house: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path))
    assert lastnight(house, "--keep") == 0
    kept = last_night.newest(tmp_path / last_night.FILE_NAME).at(0.0)
    assert kept is not None
    assert kept.evening == "2031-01-14"
    assert kept.summary == "bench: every plant stayed 1.5 K or more above its minimum."
    assert kept.lows_c == {"bench": 5.5}
    assert kept.heated_s == 20 * 60 * 6.0
    assert kept.kwh == pytest.approx(20 * 60 * 6.0 * 1500 / 3.6e6)


def test_a_plant_below_its_minimum_is_a_finding(
    house: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cold = tmp_path / "cold.db"
    written(cold, minutes_of(night.night(EVENING, BRUSSELS), lambda h: 3.0))
    assert lastnight([*house[:2], "--file", str(cold)]) == 1
    assert "fell 1.0 K below" in capsys.readouterr().out


def test_the_table_of_nights_and_the_winters_are_told(
    house: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert lastnight(house, "--nights", "3") == 0
    *_, before, last = told = capsys.readouterr().out.splitlines()
    assert len(told) == 5
    assert before.endswith("no record")
    assert last.endswith("not over yet"), "no hour that is to come is missing"
    assert lastnight(house, "--winter") == 0
    assert "2030/31 so far" in capsys.readouterr().out
    assert lastnight(house, "--nights", "2", "--json") == 0
    assert [each["evening"] for each in json.loads(capsys.readouterr().out)] == [
        "2031-01-13",
        "2031-01-14",
    ]


@pytest.mark.parametrize(("name", "starts"), [("night.png", PNG), ("night.svg", b"<?xml")])
def test_the_picture_appears_whole(
    house: list[str], tmp_path: Path, name: str, starts: bytes
) -> None:
    assert lastnight(house, "--picture", str(tmp_path / name)) == 0
    assert (tmp_path / name).read_bytes().startswith(starts)
    assert not list(tmp_path.glob(".night*"))


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--picture", "night.jpeg"], "ends in .png or .svg"),
        (["--picture", "/nowhere/at/all/night.png"], "no such folder"),
        (["--file", "/nowhere/journal.db"], "there is no journal"),
    ],
)
def test_what_cannot_be_done_is_said(
    house: list[str], options: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert lastnight(house, *options) == 1
    assert says in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--evening", "14.1.2031"], "write it as 2031-01-14"),
        (["--evening", "2031-01-15"], "has not begun"),
        (["--nights", "0"], "a number from 1 to 400"),
        (["--nights", "ten"], "a number from 1 to 400"),
        (["--winter", "--picture", "w.png"], "draws one night"),
    ],
)
def test_wrong_usage_says_what_is_allowed(
    house: list[str], options: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        lastnight(house, *options)
    assert stopped.value.code == 2
    assert says in capsys.readouterr().err


def test_any_span_can_be_asked_for(house: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    span = ["--from", "2031-01-15T02:00", "--to", "2031-01-15T04:00"]
    lastnight(house, *span)
    told = capsys.readouterr().out
    assert told.startswith("fern-corner, Wed 15 Jan 02:00 to Wed 15 Jan 04:00")
    assert "of 2:00 h" in told.replace("\n" + " " * 24, " ")
    assert "without heat" not in told
    lastnight(house, *span, "--json")
    assert json.loads(capsys.readouterr().out)["span"]["from_utc"] == "2031-01-15T01:00:00Z"


@pytest.mark.parametrize(
    "words",
    [
        ["--from", "2031-01-15T04:00", "--to", "2031-01-15T02:00"],
        ["--from", "2041-01-15T04:00"],
        ["--to", "2031-01-15T04:00"],
        ["--from", "yesterday"],
    ],
)
def test_a_span_that_is_none_is_refused(house: list[str], words: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        lastnight(house, *words)
    assert ended.value.code == 2
