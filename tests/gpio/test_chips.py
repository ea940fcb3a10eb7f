"""Finding the chip with the header's lines, and what is said when it cannot be had."""

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from greenkeeper.gpio import LineError, chips
from greenkeeper.gpio.chips import Chip


@pytest.fixture
def devices(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(chips, "DEVICE_FOLDER", tmp_path)
    return tmp_path


def _machine(devices: Path, **labels: str | int) -> Callable[[Path], Chip]:
    """A look at a machine with these chips; a number in place of a label is an errno."""
    for name in labels:
        (devices / name).touch()

    def look(path: Path) -> Chip:
        label = labels.get(path.name, errno.ENOENT)
        if isinstance(label, int):
            raise OSError(label, os.strerror(label))
        return Chip(path, label, 54)

    return look


@pytest.mark.parametrize("label", ["pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835"])
@pytest.mark.parametrize("name", ["gpiochip0", "gpiochip4"])
def test_the_header_is_found_by_its_label_whatever_its_number(
    devices: Path, label: str, name: str
) -> None:
    others = {"gpiochip1": "raspberrypi-exp-gpio", "gpiochip10": "gpio-brcmstb@107d508500"}
    look = _machine(devices, **others, **{name: label})
    assert chips.find("auto", look) == Chip(devices / name, label, 54)


def test_a_chip_named_in_the_settings_is_taken_whatever_its_label(devices: Path) -> None:
    look = _machine(devices, gpiochip7="expander", gpiochip0="pinctrl-bcm2711")
    wanted = str(devices / "gpiochip7")
    assert chips.find(wanted, look).label == "expander"


def test_a_forbidden_neighbour_does_not_hide_the_header(devices: Path) -> None:
    look = _machine(devices, gpiochip0=errno.EACCES, gpiochip1="pinctrl-rp1")
    assert chips.find("auto", look).path == devices / "gpiochip1"


def test_a_machine_without_gpio_is_told_so_with_a_way_on(devices: Path) -> None:
    with pytest.raises(LineError, match=r"shows no GPIO chip .*backend: mock"):
        chips.find("auto", _machine(devices))


def test_a_machine_with_other_chips_only_names_them(devices: Path) -> None:
    look = _machine(devices, gpiochip0="sunxi", gpiochip1=errno.EACCES)
    with pytest.raises(LineError) as caught:
        chips.find("auto", look)
    assert "gpiochip0 is 'sunxi'" in str(caught.value)
    assert "gpiochip1 may not be opened by this user" in str(caught.value)


def test_where_every_chip_is_forbidden_that_is_what_is_said(devices: Path) -> None:
    look = _machine(devices, gpiochip0=errno.EACCES, gpiochip1=errno.EACCES)
    with pytest.raises(LineError) as caught:
        chips.find("auto", look)
    assert str(caught.value).count("may not be opened by this user") == 2
    assert "Raspberry Pi's header" not in str(caught.value)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOENT, "does not exist"),
        (errno.EACCES, "group 'gpio'"),
        (errno.EPERM, "group 'gpio'"),
        (errno.ENODEV, "is not a GPIO chip"),
        (errno.ENOTTY, "is not a GPIO chip"),
        (errno.EMFILE, "cannot be opened: Too many open files"),
    ],
)
def test_a_chip_that_cannot_be_had_says_why(devices: Path, number: int, words: str) -> None:
    look = _machine(devices, gpiochip3=number)
    wanted = str(devices / "gpiochip3")
    with pytest.raises(LineError) as caught:
        chips.find(wanted, look)
    assert wanted in str(caught.value)
    assert words in str(caught.value)


def test_a_busy_line_says_who_may_hold_it() -> None:
    error = chips.line_trouble(17, OSError(errno.EBUSY, os.strerror(errno.EBUSY)))
    assert "GPIO17 is busy" in str(error)
    assert "another keeper" in str(error)


def test_any_other_refusal_of_a_line_is_passed_on() -> None:
    error = chips.line_trouble(17, OSError(errno.EIO, "bad GPIO write"))
    assert str(error) == "GPIO17 cannot be used: bad GPIO write"
