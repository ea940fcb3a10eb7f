"""Two heaters of one zone are two, of that zone alone, and fed by a circuit that bears them."""

import pytest

from greenkeeper.settings import derived, load
from tests.settings.examples import changed, remarks, said

_OUTPUT = "  heater: {kind: gpio, pin: 17}\n"
_POWERED = (
    "  heater: {kind: gpio, pin: 17, power_w: 1500}\n"
    "  second: {kind: gpio, pin: 27, power_w: 1000}\n"
)
_JOINS = ("      output: heater\n", "      output: heater\n      second_output: second\n")


def _text(*changes: tuple[str, str], circuit_w: float | None = None) -> str:
    site = "" if circuit_w is None else f"  circuit_w: {circuit_w:g}\n"
    text = changed((_OUTPUT, _POWERED), _JOINS, ("site:\n", f"site:\n{site}"))
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} is not there exactly once"
        text = text.replace(old, new)
    return text


@pytest.mark.parametrize("circuit_w", [None, 2500.0])
def test_two_heaters_on_a_circuit_that_bears_them_are_worth_no_remark(
    circuit_w: float | None,
) -> None:
    assert said(_text(circuit_w=circuit_w)) == []
    assert remarks(_text(circuit_w=circuit_w)) == []
    loaded = load.parse(_text(circuit_w=circuit_w), "house.yaml")
    assert derived.heaters(loaded) == ("heater", "second")
    heat = loaded.zones["bench"].heat
    assert heat is not None
    assert derived.heat_power_w(loaded, heat) == 2500.0


def test_a_circuit_that_does_not_bear_both_is_remarked_on() -> None:
    (remark,) = remarks(_text(circuit_w=2400.0))
    assert "zones.bench.heat.second_output: heater and second together are more" in remark
    assert "they are never on at once" in remark
    loaded = load.parse(_text(circuit_w=2400.0), "house.yaml")
    heat = loaded.zones["bench"].heat
    assert heat is not None
    assert derived.heat_power_w(loaded, heat) == 1500.0


def test_the_same_heater_twice_is_refused() -> None:
    (fault,) = said(_text(("second_output: second", "second_output: heater")))
    assert "zones.bench.heat.second_output: found heater again; allowed another heater" in fault


def test_a_second_heater_must_exist_and_be_no_fan() -> None:
    (unknown,) = said(_text(("second_output: second", "second_output: secund")))
    assert "secund" in unknown
    assert "second" in unknown
    (fan,) = said(_text(("second_output: second", "second_output: fan")))
    assert "zones.bench.cool.output: found fan, which zones.bench heats with" in fan


@pytest.mark.parametrize("shared", ["heater", "second"])
def test_neither_may_heat_another_zone(shared: str) -> None:
    shelf = f"  shelf:\n    probes: [right]\n    heat: {{output: {shared}, setpoint_c: 6}}\nplants:"
    (fault,) = said(_text(("plants:", shelf)))
    assert f"found {shared}, which zones.shelf heats with too" in fault
    assert "two heaters that heat this zone alone" in fault


def test_a_circuit_must_bear_one_heater_of_each_zone() -> None:
    (fault,) = said(_text(circuit_w=1400.0))
    assert "site.circuit_w: found 1400; allowed at least 1500 (watts)" in fault


def test_beside_a_circuit_every_heater_states_its_power() -> None:
    (fault,) = said(_text((", pin: 27, power_w: 1000", ", pin: 27"), circuit_w=2500.0))
    assert "outputs.second: found no power_w" in fault


def test_turns_without_a_second_heater_are_remarked_on() -> None:
    text = changed(("      output: heater\n", "      output: heater\n      take_turns: false\n"))
    assert remarks(text) == ["zones.bench.heat.take_turns: counts only beside second_output"]
