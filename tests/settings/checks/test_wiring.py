"""Wiring: pins and probe ids, and how hard a relay is worked."""

import pytest

from greenkeeper.settings.checks import wiring
from tests.settings.examples import changed, remarks, said


def test_two_outputs_on_one_pin() -> None:
    assert said(changed(("pin: 23", "pin: 17"))) == [
        "house.yaml:12:26  outputs.fan.pin: found 17, which heater has; allowed a pin of its own"
    ]


def test_two_names_for_one_probe() -> None:
    assert said(changed(("28-000000000002", "28-000000000001"))) == [
        "house.yaml:8:31  probes.right.rom: found 28-000000000001, which left has;"
        " allowed each probe once"
    ]


UNSAFE = {
    0: "belongs to the memory of add-on boards, and moves at boot",
    1: "belongs to the memory of add-on boards, and moves at boot",
    2: "is an I2C line, pulled up hard on the board",
    3: "is an I2C line, pulled up hard; a low there wakes a halted board",
    4: "carries the 1-Wire probes unless told otherwise",
    5: "is pulled up at reset: a relay may be on before the keeper runs",
    6: "is pulled up at reset: a relay may be on before the keeper runs",
    7: "selects an SPI device: high at rest, and pulled up at reset",
    8: "selects an SPI device: high at rest, and pulled up at reset",
    9: "is a line of the SPI bus",
    10: "is a line of the SPI bus",
    11: "is a line of the SPI bus",
    14: "is the serial console, and goes high during boot",
    15: "is the serial console",
    18: "is taken by audio boards and the second SPI bus",
    19: "is taken by audio boards and the second SPI bus",
    20: "is taken by audio boards and the second SPI bus",
    21: "is taken by audio boards and the second SPI bus",
}


@pytest.mark.parametrize("pin", range(28))
def test_a_pin_is_refused_with_its_reason_or_taken(pin: int) -> None:
    other = "  fan: {kind: gpio, pin: 26}" if pin != 26 else "  fan: {kind: gpio, pin: 23}"
    text = changed(("  fan: {kind: gpio, pin: 23}", other), ("pin: 17", f"pin: {pin}"))
    if pin in UNSAFE:
        assert said(text) == [
            f"house.yaml:11:29  outputs.heater.pin: found {pin};"
            " allowed a quiet pin: 12, 13, 16, 17 or 22 to 27\n"
            f"    Pin {pin} {UNSAFE[pin]}. To use it all the same: unsafe_pin: true."
        ]
    else:
        assert said(text) == []


@pytest.mark.parametrize("pin", UNSAFE)
def test_the_owner_may_insist_on_a_pin(pin: int) -> None:
    assert said(changed(("pin: 17", f"pin: {pin}, unsafe_pin: true"))) == []


def test_the_pins_called_quiet_are_those_not_refused() -> None:
    """Raspberry Pi 40-pin header: BCM 0 to 27."""
    quiet = {12, 13, 16, 17, *range(22, 28)}
    assert quiet == set(range(28)) - set(wiring.UNSAFE_PINS)
    assert wiring.QUIET_PINS == "12, 13, 16, 17 or 22 to 27"


@pytest.mark.parametrize("key", ["min_on_s", "min_off_s"])
def test_a_heater_relay_that_may_chatter_is_remarked(key: str) -> None:
    assert remarks(changed(("pin: 17", f"pin: 17, {key}: 5"))) == [
        f"outputs.heater.{key}: 5 s is short for a heater"
        " | A relay lasts about 100 000 operations at full load; 60 spares it."
    ]


def test_a_fan_that_may_switch_at_will_is_no_remark() -> None:
    assert remarks(changed(("pin: 23", "pin: 23, min_on_s: 0, min_off_s: 0"))) == []


def test_a_time_below_the_poll_is_remarked() -> None:
    assert remarks(changed(("pin: 23", "pin: 23, min_on_s: 5"))) == [
        "outputs.fan.min_on_s: 5 s is shorter than poll_s"
        " | Nothing switches faster than once in 10 s anyway."
    ]


def test_pretended_pins_are_remarked() -> None:
    assert remarks(changed(("night:", "gpio: {backend: mock}\nnight:"))) == [
        "gpio.backend: mock: no relay is really switched"
    ]


def test_a_modelled_heater_under_real_probes_is_remarked() -> None:
    modelled = "heater: {kind: modelled, drives: heater, power_w: 900}"
    text = changed(("heater: {kind: gpio, pin: 17}", modelled))
    assert remarks(text) == [
        "zones.bench.heat.output: a modelled output, though the zone has real probes"
        " | Nothing is switched."
    ]
