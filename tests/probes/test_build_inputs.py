"""Every input of the settings ends up in exactly one group."""

from pathlib import Path
from typing import Any

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.gpio import chips
from greenkeeper.model import ContactReading
from greenkeeper.probes.build_inputs import build_contacts
from greenkeeper.probes.collector import ContactCollector
from greenkeeper.settings.schema import Settings
from tests.support.fakekernel import FakeKernel, install
from tests.support.ticks import make_settings


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=0.0)


def house(**inputs: dict[str, Any]) -> Settings:
    return make_settings(inputs=inputs)


def wired(pin: int) -> dict[str, Any]:
    return {"kind": "gpio", "tells": "door-open", "pin": pin, "active": "high"}


def scripted(file: Path, text: str) -> dict[str, Any]:
    file.write_text(text, encoding="utf-8")
    return {"kind": "scripted", "tells": "mains-present", "file": str(file)}


def test_a_house_without_contacts_has_no_group(tmp_path: Path, clock: HandClock) -> None:
    assert build_contacts(house(), tmp_path, clock) == []


def test_every_kind_is_read_by_its_driver(
    tmp_path: Path, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    kernel = FakeKernel.boot(tmp_path / "dev")
    install(monkeypatch, kernel)
    kernel.force(26, 0)
    settings = house(
        door=wired(26),
        porch=wired(12),
        mains=scripted(tmp_path / "mains.csv", "seconds,active\n0,1\n"),
    )
    collector = ContactCollector(build_contacts(settings, tmp_path, clock), clock, 30.0)
    try:
        assert {name: each.active for name, each in collector.collect().items()} == {
            "mains": True,
            "door": False,
            "porch": True,  # its wire is broken, and the pull-up says so
        }
    finally:
        collector.close()
    assert kernel.changes(26) == [("input", "up"), ("free", None)]


def test_a_machine_without_a_chip_leaves_wired_contacts_unknown_and_no_others(
    tmp_path: Path, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(chips, "DEVICE_FOLDER", tmp_path / "nowhere")
    settings = make_settings(
        gpio={"backend": "gpiod"},
        inputs={
            "door": wired(26),
            "mains": scripted(tmp_path / "mains.csv", "seconds,active\n0,0\n"),
        },
    )
    played, unreachable = build_contacts(settings, tmp_path, clock)
    assert played.read() == {"mains": ContactReading(1000.0, False)}
    door = unreachable.read()["door"]
    assert door.active is None
    assert "shows no GPIO chip" in door.detail


def test_a_script_that_cannot_be_followed_is_refused_before_any_line_is_claimed(
    tmp_path: Path, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    kernel = FakeKernel.boot(tmp_path / "dev")
    install(monkeypatch, kernel)
    bad = scripted(tmp_path / "mains.csv", "seconds,active\n0,yes\n")
    with pytest.raises(GreenkeeperError, match=r"mains.csv, line 2, column active: 'yes' is"):
        build_contacts(house(door=wired(26), mains=bad), tmp_path, clock)
    assert kernel.changes(26) == []


def test_a_driver_that_breaks_its_word_leaves_its_contacts_unknown(clock: HandClock) -> None:
    class Broken:
        names = ("door", "porch")
        blocking = False

        def read(self) -> dict[str, ContactReading]:
            raise RuntimeError("a slip")

        def close(self) -> None:
            """It holds nothing."""

    class Odd(Broken):
        names = ("mains",)

        def read(self) -> dict[str, Any]:
            return {"mains": True, "nobody": ContactReading(0.0, True)}

    readings = ContactCollector([Broken(), Odd()], clock, 1.0).collect()
    failed = ContactReading(1000.0, None, "the driver failed: RuntimeError: a slip")
    assert readings == {
        "door": failed,
        "porch": failed,
        "mains": ContactReading(1000.0, None, "the driver gave no reading"),
    }
