"""Contacts: what each is about is there, pins are its own, and a broken wire says the worse."""

import pytest

from greenkeeper.settings.checks import wiring
from tests.settings.examples import changed, remarks, said

SOUND = "mirror: {kind: gpio, tells: contactor-closed, of: heater, pin: 26, active: high}"


def house(*inputs: str) -> str:
    lines = "".join(f"  {each}\n" for each in inputs)
    return changed(("night:", f"inputs:\n{lines}night:"))


def test_a_sound_contact_of_every_sort_gives_no_word() -> None:
    text = house(
        SOUND,
        "door: {kind: gpio, tells: door-open, of: bench, pin: 25, active: high}",
        "any-door: {kind: gpio, tells: door-open, pin: 24, active: high}",
        "mains: {kind: gpio, tells: mains-present, pin: 12, active: low}",
        "amps: {kind: gpio, tells: heater-current, of: heater, pin: 13, active: low, pull: none}",
        "played: {kind: scripted, tells: mains-present, of: heater, file: mains.csv}",
    )
    assert said(text) == []
    assert remarks(text) == []


# --- what it is about -------------------------------------------------------------------


@pytest.mark.parametrize("tells", ["contactor-closed", "heater-current", "mains-present"])
def test_an_output_that_is_not_there(tells: str) -> None:
    text = house(f"odd: {{kind: gpio, tells: {tells}, of: heatr, pin: 26, active: high}}")
    (only,) = said(text)
    assert only.startswith("house.yaml:14:")
    assert only.endswith(
        "inputs.odd.of: found heatr; allowed a name under outputs (fan, heater)\n"
        "    Did you mean heater?"
    )


def test_a_zone_that_is_not_there() -> None:
    text = house("door: {kind: gpio, tells: door-open, of: bensh, pin: 26, active: high}")
    assert said(text) == [
        "house.yaml:14:44  inputs.door.of: found bensh;"
        " allowed a name under zones (bench)\n    Did you mean bench?"
    ]


def test_a_door_of_an_output_and_a_contactor_of_a_zone_are_refused() -> None:
    text = house(
        "door: {kind: gpio, tells: door-open, of: heater, pin: 26, active: high}",
        "mirror: {kind: gpio, tells: contactor-closed, of: bench, pin: 25, active: high}",
    )
    assert [each.partition("  ")[2] for each in said(text)] == [
        "inputs.door.of: found heater; allowed a name under zones (bench)",
        "inputs.mirror.of: found bench; allowed a name under outputs (fan, heater)",
    ]


@pytest.mark.parametrize("tells", ["contactor-closed", "heater-current", "mains-present"])
def test_an_output_that_does_not_heat(tells: str) -> None:
    text = house(f"odd: {{kind: gpio, tells: {tells}, of: fan, pin: 26, active: high}}")
    (only,) = said(text)
    assert only.endswith(
        "inputs.odd.of: found fan, which heats no zone; allowed an output that heats"
    )


@pytest.mark.parametrize("tells", ["contactor-closed", "heater-current"])
def test_what_is_held_against_a_heater_must_name_it(tells: str) -> None:
    assert said(house(f"odd: {{kind: gpio, tells: {tells}, pin: 26, active: high}}")) == [
        f"house.yaml:14:3  inputs.odd.of: found nothing, for {tells}; allowed an output that heats"
    ]


def test_what_it_tells_is_one_of_four() -> None:
    (only,) = said(house("odd: {kind: gpio, tells: door-shut, pin: 26, active: high}"))
    assert "inputs.odd.tells: found door-shut" in only
    assert "door-open, mains-present, contactor-closed or heater-current" in only


def test_a_slip_elsewhere_brings_no_second_fault_with_it() -> None:
    """A heater that cannot be read as such is no reason to say that it heats nothing."""
    text = house(SOUND).replace("setpoint_c: 5", "setpoint_c: warm")
    assert len(said(text)) == 1


# --- its pin -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "extra", "owner"),
    [
        ("mirror: {kind: gpio, tells: contactor-closed, of: heater, pin: 23, active: high}", "",
         "fan"),
        ("mirror: {kind: gpio, tells: contactor-closed, of: heater, pin: 16, active: high}",
         "enable: {pin: 16}\n", "enable"),
    ],
)  # fmt: skip
def test_a_contact_on_the_pin_of_something_that_is_driven(
    first: str, extra: str, owner: str
) -> None:
    (only,) = said(house(first).replace("night:", f"{extra}night:"))
    assert f", which {owner} has; allowed a pin of its own" in only
    assert "inputs.mirror.pin" in only


def test_two_contacts_on_one_pin() -> None:
    text = house(SOUND, "door: {kind: gpio, tells: door-open, pin: 26, active: high}")
    assert said(text) == [
        "house.yaml:15:45  inputs.door.pin: found 26, which mirror has; allowed a pin of its own"
    ]


@pytest.mark.parametrize("pin", range(28))
def test_a_pin_is_refused_with_its_reason_or_taken(pin: int) -> None:
    if pin in (17, 23):
        return  # the heater's and the fan's
    text = house(SOUND.replace("26", str(pin)))
    if pin in wiring.UNSAFE_PINS and pin not in (5, 6):
        assert said(text) == [
            f"house.yaml:14:66  inputs.mirror.pin: found {pin};"
            " allowed a quiet pin: 5, 6, 12, 13, 16, 17 or 22 to 27\n"
            f"    Pin {pin} {wiring.UNSAFE_PINS[pin]}. To use it all the same: unsafe_pin: true."
        ]
        assert said(text.replace("active:", "unsafe_pin: true, active:")) == []
    else:
        assert said(text) == []


def test_the_pin_of_the_probes_is_refused() -> None:
    (only,) = said(house(SOUND.replace("26", "4")))
    assert "Pin 4 carries the 1-Wire probes unless told otherwise" in only


@pytest.mark.parametrize("pull", ["down", "none"])
def test_a_pull_against_the_boards_own_resistor(pull: str) -> None:
    text = house(SOUND.replace("pin: 26", f"pin: 2, unsafe_pin: true, pull: {pull}"))
    assert [each.partition("  ")[2] for each in said(text)] == [
        f"inputs.mirror.pull: found {pull} on pin 2; allowed up\n"
        "    That pin has a resistor of 1.8 kiloohms to 3.3 V on every board."
    ]


def test_every_fault_of_the_contacts_is_told_at_once() -> None:
    text = house(
        "door: {kind: gpio, tells: door-open, of: bensh, pin: 14, active: high}",
        "mirror: {kind: gpio, tells: contactor-closed, pin: 23, active: high, pul: up}",
        "amps: {kind: gpio, tells: heater-current, of: heater, pin: 30, active: hihg}",
    )
    assert [each.partition("  ")[2].split(":")[0] for each in said(text)] == [
        "inputs.door.of",
        "inputs.door.pin",
        "inputs.mirror.of",
        "inputs.mirror.pin",
        "inputs.mirror.pul",
        "inputs.amps.pin",
        "inputs.amps.active",
    ]


# --- remarks -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tells", "active", "pull", "words"),
    [
        ("contactor-closed, of: heater", "low", "up", "the contactor is open"),
        ("contactor-closed, of: heater", "high", "down", "the contactor is open"),
        ("door-open", "low", "up", "the door is shut"),
        ("mains-present", "high", "up", "mains are there"),
        ("mains-present", "low", "down", "mains are there"),
    ],
)
def test_a_broken_wire_that_would_say_the_better_is_remarked(
    tells: str, active: str, pull: str, words: str
) -> None:
    text = house(f"it: {{kind: gpio, tells: {tells}, pin: 26, active: {active}, pull: {pull}}}")
    assert remarks(text) == [
        f"inputs.it.active: {active} with pull: {pull}: a broken wire would say that {words}"
        " | Safer the other way about: hardware-notes/wiring.md, section 10."
    ]


def test_a_settling_time_of_a_door_is_remarked() -> None:
    text = house("it: {kind: gpio, tells: door-open, pin: 26, active: high, settle_s: 9}")
    assert remarks(text) == ["inputs.it.settle_s: 9 counts for nothing with a door"]


def test_a_pull_on_another_chip_is_remarked() -> None:
    text = house(SOUND).replace("night:", "gpio: {chip: /dev/gpiochip7}\nnight:")
    assert remarks(text) == [
        "inputs.mirror.pull: up, but /dev/gpiochip7 may have no resistors of its own"
        " | The kernel does not tell. Fit one, of 10 kiloohms, and write pull: none."
    ]


def test_pretended_contacts_are_remarked() -> None:
    text = house(SOUND).replace("night:", "gpio: {backend: mock}\nnight:")
    assert remarks(text) == [
        "gpio.backend: mock: no relay is really switched",
        "gpio.backend: mock: no contact is really read",
    ]
