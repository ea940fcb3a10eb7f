"""Relays' switchings outlive a restart, are written rarely, and never stop the loop."""

import json

import pytest

from greenkeeper.model import OutputMemory
from greenkeeper.wear import AT_LEAST_EVERY_S, STEP, Wear


def counted(**operations):
    return {name: OutputMemory(False, 0.0, None, "", count) for name, count in operations.items()}


@pytest.fixture
def file(tmp_path):
    return tmp_path / "wear.json"


def written(file):
    return json.loads(file.read_text())["operations"]


def test_what_was_written_is_there_after_a_restart(file):
    wear = Wear(file)
    assert dict(wear.load()) == {}
    wear.save(counted(heater=3, fan=7), 0.0, last=True)
    assert dict(Wear(file).load()) == {"heater": 3, "fan": 7}


@pytest.mark.parametrize(("count", "is_written"), [(STEP - 1, False), (STEP, True)])
def test_it_is_written_once_a_count_has_grown_enough(file, count, is_written):
    wear = Wear(file)
    wear.load()
    wear.save(counted(heater=count), 10.0)
    assert file.exists() is is_written


@pytest.mark.parametrize(
    ("after_s", "is_written"), [(AT_LEAST_EVERY_S - 1.0, False), (AT_LEAST_EVERY_S, True)]
)
def test_a_single_switching_is_written_after_an_hour(file, after_s, is_written):
    wear = Wear(file)
    wear.load()
    wear.save(counted(heater=0), 100.0)
    wear.save(counted(heater=1), 100.0 + after_s)
    assert file.exists() is is_written


def test_a_relay_at_rest_is_never_written(file):
    wear = Wear(file)
    wear.save(counted(heater=STEP), 0.0)
    before = file.stat().st_ino
    for hour in range(1, 100):
        wear.save(counted(heater=STEP), hour * 3600.0)
    wear.save(counted(heater=STEP), 400_000.0, last=True)
    assert file.stat().st_ino == before


def test_a_renewed_relay_is_written_at_once(file):
    wear = Wear(file)
    wear.save(counted(heater=STEP), 0.0)
    wear.save(counted(heater=0), 10.0)
    assert written(file) == {"heater": 0}


def test_an_output_the_settings_have_no_longer_keeps_its_count(file):
    Wear(file).save(counted(heater=70, mat=90), 0.0, last=True)
    wear = Wear(file)
    wear.load()
    wear.save(counted(heater=71), 0.0, last=True)
    assert dict(Wear(file).load()) == {"heater": 71, "mat": 90}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"format": 2, "operations": {}}',
        '{"format": 1, "operations": []}',
        '{"format": 1, "operations": {"heater": -1}}',
        '{"format": 1, "operations": {"heater": 1.5}}',
        '{"format": 1, "operations": {"heater": true}}',
        "\xff",
        pytest.param("[" * 100_000, id="nested"),  # deeper than Python goes
    ],
)
def test_a_file_that_makes_no_sense_is_set_aside_and_told(file, text):
    file.write_text(text, encoding="latin-1")
    wear = Wear(file)
    assert dict(wear.load()) == {}
    (condition,) = wear.conditions()
    assert condition.code == "keepsakes-failing"
    assert "set aside" in condition.text
    assert file.with_suffix(".damaged").read_text(encoding="latin-1") == text
    wear.save(counted(heater=STEP), 0.0)
    assert wear.conditions() == ()
    assert written(file) == {"heater": STEP}


def test_a_folder_that_cannot_be_written_is_told_and_tried_again(tmp_path):
    wear = Wear(tmp_path / "gone" / "wear.json")
    wear.load()
    wear.save(counted(heater=STEP), 0.0)
    (condition,) = wear.conditions()
    assert "cannot be written" in condition.text
    (tmp_path / "gone").mkdir()
    wear.save(counted(heater=STEP), 10.0)
    assert wear.conditions() == ()
