"""From settings to drivers: all of them, or none of them left claimed."""

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.gpio import chips
from greenkeeper.outputs import OutputError
from greenkeeper.outputs.build import build_drivers, build_enable
from greenkeeper.outputs.recorder import RecorderDriver
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.switches import Enable
from tests.support.fakekernel import FakeKernel, install


@pytest.fixture
def kernel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> FakeKernel:
    kernel = FakeKernel.boot(tmp_path / "dev")
    install(monkeypatch, kernel)
    return kernel


def _settings(backend: str = "lgpio", **outputs: dict[str, Any]) -> Settings:
    return Settings.model_validate(
        {
            "site": {"name": "lean-to"},
            "probes": {"bench": {"kind": "onewire", "rom": "28-0316a2795a01"}},
            "zones": {"bench": {"probes": ["bench"]}},
            "outputs": outputs,
            "gpio": {"backend": backend},
        }
    )


HEATER = {"kind": "gpio", "pin": 17, "on_level": "low"}
FAN = {"kind": "gpio", "pin": 23}
MODELLED = {"kind": "modelled", "drives": "fan"}


@pytest.mark.parametrize("backend", ["lgpio", "gpiod"])
def test_the_enable_line_is_claimed_low(kernel: FakeKernel, tmp_path: Path, backend: str) -> None:
    settings = _settings(backend).model_copy(update={"enable": Enable(pin=16)})
    line = build_enable(settings, tmp_path, HandClock(utc_s=1.8e9))
    assert line is not None
    assert kernel.changes(16) == [("output", 0)]
    line.close()
    assert kernel.level(16) == 0
    assert kernel.changes(16)[-1] == ("free", None)
    assert kernel.open_chips == 0


def test_without_one_there_is_no_enable_line(tmp_path: Path) -> None:
    assert build_enable(_settings(), tmp_path, HandClock(utc_s=1.8e9)) is None


def test_an_enable_line_that_cannot_be_had_says_so(kernel: FakeKernel, tmp_path: Path) -> None:
    settings = _settings().model_copy(update={"enable": Enable(pin=16)})
    kernel.hold(16, os.getppid())
    with pytest.raises(OutputError, match="enable: GPIO16 is busy"):
        build_enable(settings, tmp_path, HandClock(utc_s=1.8e9))


@pytest.mark.parametrize("backend", ["lgpio", "gpiod"])
def test_every_relay_is_claimed_at_its_off_level(
    kernel: FakeKernel, tmp_path: Path, backend: str
) -> None:
    drivers = build_drivers(_settings(backend, heater=HEATER, fan=FAN), tmp_path, {})
    assert list(drivers) == ["heater", "fan"]
    assert [driver.name for driver in drivers.values()] == ["heater", "fan"]
    assert kernel.changes(17) == [("output", 1)]
    assert kernel.changes(23) == [("output", 0)]


def test_the_last_driver_to_close_lets_go_of_the_chip(kernel: FakeKernel, tmp_path: Path) -> None:
    drivers = build_drivers(_settings(heater=HEATER, fan=FAN), tmp_path, {})
    drivers["heater"].close()
    assert kernel.open_chips == 1
    drivers["fan"].switch(on=True)
    drivers["fan"].close()
    assert kernel.open_chips == 0


def test_after_all_are_closed_they_can_be_built_again(kernel: FakeKernel, tmp_path: Path) -> None:
    settings = _settings(heater=HEATER)
    build_drivers(settings, tmp_path, {})["heater"].close()
    heater = build_drivers(settings, tmp_path, {})["heater"]
    heater.switch(on=True)
    assert kernel.changes(17)[-3:] == [("free", None), ("output", 1), ("write", 0)]


@pytest.mark.usefixtures("kernel")
def test_modelled_outputs_are_taken_as_they_are_brought(tmp_path: Path) -> None:
    fan = RecorderDriver("fan", HandClock(utc_s=1.8e9))
    drivers = build_drivers(_settings(fan=MODELLED, heater=HEATER), tmp_path, {"fan": fan})
    assert drivers["fan"] is fan
    assert list(drivers) == ["fan", "heater"]


def test_without_relays_no_library_and_no_chip_is_needed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(chips, "DEVICE_FOLDER", tmp_path)
    fan = RecorderDriver("fan", HandClock(utc_s=1.8e9))
    assert build_drivers(_settings(fan=MODELLED), tmp_path / "nowhere", {"fan": fan})
    assert build_drivers(_settings(), tmp_path / "nowhere", {}) == {}


def test_when_one_is_refused_those_before_it_are_driven_off_and_let_go(
    kernel: FakeKernel, tmp_path: Path
) -> None:
    kernel.hold(23, owner=os.getppid())
    with pytest.raises(OutputError, match="output fan: GPIO23 is busy"):
        build_drivers(_settings(heater=HEATER, fan=FAN), tmp_path, {})
    assert kernel.changes(17) == [("output", 1), ("write", 1), ("free", None)]
    assert kernel.changes(23) == []
    assert kernel.open_chips == 0


def test_a_missing_modelled_house_lets_go_of_the_relays_too(
    kernel: FakeKernel, tmp_path: Path
) -> None:
    with pytest.raises(OutputError, match="output fan is modelled"):
        build_drivers(_settings(heater=HEATER, fan=MODELLED), tmp_path, {})
    assert kernel.changes(17)[-2:] == [("write", 1), ("free", None)]


def test_any_other_end_lets_go_of_the_relays_too(
    kernel: FakeKernel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(_name: str, _modelled: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("greenkeeper.outputs.build._brought", interrupted)
    with pytest.raises(KeyboardInterrupt):
        build_drivers(_settings(heater=HEATER, fan=MODELLED), tmp_path, {})
    assert kernel.changes(17)[-2:] == [("write", 1), ("free", None)]


def test_what_fails_while_letting_go_is_told_beside_the_first_fault(
    kernel: FakeKernel, tmp_path: Path
) -> None:
    kernel.hold(23, owner=os.getppid())
    kernel.failing = {"free": errno.EIO}
    with pytest.raises(OutputError) as caught:
        build_drivers(_settings(heater=HEATER, fan=FAN), tmp_path, {})
    assert "output fan: GPIO23 is busy" in str(caught.value)
    assert "output heater: GPIO17 cannot be used" in str(caught.value)


def test_no_way_to_the_lines_names_the_outputs_concerned(
    tmp_path: Path, kernel: FakeKernel
) -> None:
    (kernel.folder / "gpiochip0").unlink()
    with pytest.raises(OutputError, match=r"^output heater, fan: this machine shows no GPIO chip"):
        build_drivers(_settings(heater=HEATER, fan=FAN), tmp_path, {})
