"""The remembered relays: written whole, read back, and refused when damaged."""

import json
import os
from pathlib import Path
from typing import Any

import pytest

from greenkeeper.outputs import OutputError, relays_file
from greenkeeper.outputs.relays_file import Relay, recall, relays_of, remember
from greenkeeper.pins import Board, Level
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.switches import Enable, GpioOutput, Vent


def _settings(**gpio: str) -> Settings:
    return Settings.model_validate(
        {
            "site": {"name": "lean-to"},
            "probes": {"bench": {"kind": "onewire", "rom": "28-0316a2795a01"}},
            "zones": {"bench": {"probes": ["bench"]}},
            "outputs": {
                "heater": {"kind": "gpio", "pin": 17, "on_level": "low"},
                "fan": {"kind": "gpio", "pin": 23},
                "show-fan": {"kind": "modelled", "drives": "fan"},
            },
            "gpio": gpio,
        }
    )


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / relays_file.FILE_NAME


def test_what_was_remembered_is_recalled(file: Path) -> None:
    remember(file, _settings(backend="gpiod", chip="/dev/gpiochip4"))
    assert recall(file) == (
        Board("gpiod", "/dev/gpiochip4"),
        (Relay("heater", 17, Level.LOW), Relay("fan", 23, Level.HIGH)),
    )
    assert recall(file) == relays_of(_settings(backend="gpiod", chip="/dev/gpiochip4"))


def test_the_enable_line_is_among_them_and_off_when_it_is_low() -> None:
    settings = _settings().model_copy(update={"enable": Enable(pin=16)})
    assert relays_of(settings).relays[-1] == Relay("enable", 16, Level.HIGH)


def test_isolators_and_the_relays_of_vents_are_relays_like_any_other() -> None:
    pins = {"isolator": 13, "up": 24, "down": 25}
    outputs = {name: GpioOutput(kind="gpio", pin=pin) for name, pin in pins.items()}
    outputs["isolator"] = outputs["isolator"].model_copy(update={"role": "isolator"})
    settings = _settings().model_copy(
        update={"outputs": outputs, "vents": {"roof": Vent(open="up", close="down")}}
    )
    assert {relay.name: relay.pin for relay in relays_of(settings).relays} == pins


def test_off_is_the_other_level() -> None:
    assert Relay("heater", 17, Level.LOW).off_level is Level.HIGH
    assert Relay("fan", 23, Level.HIGH).off_level is Level.LOW


def test_nothing_remembered_is_nothing(file: Path) -> None:
    assert recall(file) is None


def test_the_same_relays_are_not_written_again(file: Path) -> None:
    remember(file, _settings())
    before = file.stat()
    remember(file, _settings())
    assert (file.stat().st_ino, file.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    remember(file, _settings(backend="mock"))
    assert file.stat().st_ino != before.st_ino
    assert os.listdir(file.parent) == [file.name]


def test_a_missing_folder_is_the_callers_to_handle(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        remember(tmp_path / "nowhere" / "relays.json", _settings())


def test_a_file_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be read"):
        recall(tmp_path)


def _whole(**changed: object) -> dict[str, object]:
    relay = {"name": "heater", "pin": 17, "on_level": "low"}
    return {"version": 1, "backend": "auto", "chip": "auto", "relays": [relay], **changed}


def test_the_format_of_the_file_is_as_stated(file: Path) -> None:
    file.write_text(json.dumps(_whole()), encoding="utf-8")
    assert recall(file) == (Board(), (Relay("heater", 17, Level.LOW),))


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b'{"version": 1',
        b"\xff\xfe\x00",
        b"[]",
        b"null",
        json.dumps(_whole(version=2)).encode(),
        json.dumps(_whole(backend="pigeon")).encode(),
        json.dumps(_whole(chip=4)).encode(),
        json.dumps(_whole(chip="gpiochip0")).encode(),
        json.dumps(_whole(relays=None)).encode(),
        json.dumps(_whole(relays=[17])).encode(),
        json.dumps(_whole(relays=[{"name": "heater", "pin": 17}])).encode(),
        *(
            json.dumps(_whole(relays=[{"name": "h", "pin": pin, "on_level": "low"}])).encode()
            for pin in (-1, 28, True, "17", 17.0)
        ),
        json.dumps(_whole(relays=[{"name": "h", "pin": 17, "on_level": "up"}])).encode(),
    ],
)
def test_a_damaged_file_is_refused_with_its_name(file: Path, content: bytes) -> None:
    file.write_bytes(content)
    with pytest.raises(OutputError) as caught:
        recall(file)
    assert str(file) in str(caught.value)


def test_whatever_is_cut_off_is_noticed(file: Path) -> None:
    remember(file, _settings())
    whole: Any = file.read_bytes()
    for length in range(len(whole) - 1):  # the last character is only a line's end
        file.write_bytes(whole[:length])
        with pytest.raises(OutputError):
            recall(file)
