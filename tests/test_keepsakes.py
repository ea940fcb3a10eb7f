"""Latches outlive a restart, and a damaged file neither hides nor invents one."""

import json

import pytest

from greenkeeper.keepsakes import Keepsakes, Kept
from greenkeeper.model import Ask, Latch, Override

LATCH = Latch("over-ceiling", "bench", "ridge 41.0 °C went over 40.0 °C", 1.8e9)


def test_a_latch_outlives_a_restart(tmp_path):
    file = tmp_path / "keepsakes.json"
    Keepsakes(file).save({LATCH.name: LATCH})
    assert Keepsakes(file).load() == Kept({"over-ceiling-bench": LATCH})


def test_a_cleared_latch_does_not_come_back(tmp_path):
    file = tmp_path / "keepsakes.json"
    keepsakes = Keepsakes(file)
    keepsakes.save({LATCH.name: LATCH})
    keepsakes.save({})
    assert Keepsakes(file).load() == Kept({})


def test_an_order_outlives_a_restart_and_its_end_is_kept_by_civil_time(tmp_path):
    file = tmp_path / "keepsakes.json"
    warm = Override("bench", Ask.SETPOINT, 8.0, until_s=5000.0, until_utc_s=1.8e9)
    off = Override("attic", Ask.OFF, None, until_s=6000.0, until_utc_s=1.9e9)
    Keepsakes(file).save({LATCH.name: LATCH}, [warm, off])
    kept = Keepsakes(file).load()
    assert kept.latches == {LATCH.name: LATCH}
    assert kept.overrides == (warm._replace(until_s=0.0), off._replace(until_s=0.0))


def test_a_file_of_an_older_program_holds_no_orders(tmp_path):
    file = tmp_path / "keepsakes.json"
    file.write_text(json.dumps({"format": 1, "latches": [LATCH._asdict()]}))
    assert Keepsakes(file).load() == Kept({LATCH.name: LATCH})


def test_an_order_is_not_written_again_while_it_stands(tmp_path):
    file = tmp_path / "keepsakes.json"
    keepsakes = Keepsakes(file)
    keepsakes.save({}, [Override("bench", Ask.OFF, None, 5000.0, 1.8e9)])
    before = file.stat().st_ino
    keepsakes.save({}, [Override("bench", Ask.OFF, None, 7000.0, 1.8e9)])
    assert file.stat().st_ino == before


def test_nothing_is_written_while_nothing_changes(tmp_path):
    file = tmp_path / "keepsakes.json"
    keepsakes = Keepsakes(file)
    keepsakes.load()
    keepsakes.save({})
    assert not file.exists()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "null",
        '{"format": 2, "latches": []}',
        '{"format": 1}',
        '{"format": 1, "latches": [], "overrides": 7}',
        '{"format": 1, "latches": [], "overrides": [{"zone": "bench", "ask": "off"}]}',
        '{"format": 1, "latches": [], "overrides": [{"zone": "bench", "ask": "dance", '
        '"setpoint_c": null, "until_utc_s": 1.0}]}',
        json.dumps({"format": 1, "latches": [LATCH._replace(code="no-such")._asdict()]}),
        '{"format": 1, "latches": [{"code": "over-ceiling"}]}',
        "\x00\x00\x00",
        pytest.param("[" * 100_000, id="nested"),  # deeper than Python goes
    ],
)
def test_a_file_that_makes_no_sense_is_set_aside_and_told(tmp_path, text):
    file = tmp_path / "keepsakes.json"
    file.write_text(text)
    keepsakes = Keepsakes(file)
    assert keepsakes.load() == Kept({})
    (condition,) = keepsakes.conditions()
    assert condition.code == "keepsakes-failing"
    assert "set aside" in condition.text
    assert (tmp_path / "keepsakes.damaged").read_text() == text


def test_a_file_that_cannot_be_written_is_told_until_it_can(tmp_path):
    folder = tmp_path / "state"
    keepsakes = Keepsakes(folder / "keepsakes.json")
    keepsakes.save({LATCH.name: LATCH})
    assert "No such file or directory" in keepsakes.conditions()[0].text
    folder.mkdir()
    keepsakes.save({LATCH.name: LATCH})
    assert keepsakes.conditions() == ()
    assert json.loads((folder / "keepsakes.json").read_text())["latches"]
