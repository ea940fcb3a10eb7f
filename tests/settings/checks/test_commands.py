"""What may be ordered over the broker: zones that exist, and temperatures that can be."""

import pytest

from tests.settings.examples import changed, remarks, said


def _with_commands(keys: str, broker: str = "username: keeper") -> str:
    return changed(
        ("night:", f"broker: {{host: hub.local, {broker}, commands: {{{keys}}}}}\nnight:")
    )


def test_zones_that_exist_are_fine() -> None:
    text = _with_commands("setpoints: [bench], switches: [bench]")
    assert said(text) == []
    assert remarks(text) == []


@pytest.mark.parametrize("key", ["setpoints", "switches"])
def test_a_zone_nobody_defined_is_named_with_the_nearest(key: str) -> None:
    (found,) = said(_with_commands(f"{key}: [bensh]"))
    assert f"broker.commands.{key}[1]: found bensh; allowed a name under zones" in found
    assert "bench" in found.splitlines()[1]


def test_limits_that_leave_no_setpoint_are_told() -> None:
    (found,) = said(_with_commands("setpoints: [bench], lowest_c: 9, highest_c: 8"))
    assert "bench: no setpoint is left" in found
    assert "9 °C to 8 °C leaves 9 °C as the least" in found


def test_commands_that_allow_nothing_are_remarked() -> None:
    (remark,) = remarks(_with_commands(""))
    assert "it names no zone" in remark


def test_orders_on_a_broker_that_lets_everybody_in_are_remarked() -> None:
    (remark,) = remarks(_with_commands("switches: [bench]", "port: 1883"))
    assert "signs in as nobody" in remark
