"""What is read and switched over the broker: refused where it could not be trusted."""

import pytest

from tests.settings.examples import changed, remarks, said

BROKER = ("journal: {", "broker: {host: hub}\njournal: {")
PROBE = (
    "  outdoors: {kind: onewire, rom: 28-000000000003}",
    "  outdoors: {kind: broker, topic: garden/out, stale_s: 900}",
)
MAT = (
    "  heater: {kind: gpio, pin: 17}",
    "  heater: {kind: broker, topic: mat/set, order_on: '1 {hold_s}', order_off: '0',"
    " answers: mat/state, says_on: '1', says_off: '0'}",
)
LIMIT = ("      setpoint_c: 5\n", "      setpoint_c: 5\n      independent_limit: true\n")


def remote(*more: tuple[str, str]) -> str:
    text = changed(BROKER, PROBE, MAT, LIMIT)
    for old, new in more:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def test_a_probe_and_a_switch_on_the_broker_are_fine_with_what_belongs_to_them() -> None:
    assert said(remote()) == []
    assert not [each for each in remarks(remote()) if "heater" in each]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            ("broker: {host: hub}\n", ""),
            "probes.outdoors.topic: found garden/out; allowed it beside broker:",
        ),
        (
            ("topic: garden/out", "topic: homie/5/orchard/zone-bench/coldest"),
            "which this keeper writes; allowed another's topic",
        ),
        (("topic: garden/out", "topic: garden/+"), "allowed a topic without wildcards"),
        (("topic: garden/out", "topic: garden/out, field: t"), "allowed a JSON pointer"),
        (
            (", stale_s: 900", ""),
            "probes.outdoors.stale_s: found 45 (the default); allowed twice the time from one",
        ),
        (
            ("      independent_limit: true\n", ""),
            "zones.bench.heat.output: found heater, which is switched over the broker;"
            " allowed it beside independent_limit: true",
        ),
        (("says_off: '0'", "says_off: '1'"), "found 1; allowed another than says_on"),
        (("order_off: '0'", "order_off: '1 {hold_s}'"), "allowed another than order_on"),
        (("says_on: '1'", "says_on: '1', hold_s: 20"), "allowed 30 or more (seconds): three polls"),
        (
            ("says_on: '1'", "says_on: '1', confirm_s: 90"),
            "confirm_s: found 90; allowed at most 60 (seconds), its hold_s",
        ),
    ],
)
def test_what_could_not_be_trusted_is_refused(change: tuple[str, str], told: str) -> None:
    assert any(told in each for each in said(remote(change))), said(remote(change))


def test_a_switch_without_a_timer_in_its_orders_is_remarked() -> None:
    (told,) = [each for each in remarks(remote(("'1 {hold_s}'", "'1'"))) if "order_on" in each]
    assert "is 60 s set in the switch?" in told


def test_an_isolator_and_a_vent_s_relays_hang_on_wires() -> None:
    text = remote(("says_off: '0'}", "says_off: '0', role: isolator}"))
    assert any(
        "isolator, switched over the broker; allowed a contact" in each for each in said(text)
    )
    text = remote(
        ("night: {", "vents: {roof: {open: heater, close: fan}}\nnight: {"),
    )
    assert any("vents.roof.open" in each and "a relay on a wire" in each for each in said(text))


def test_a_zone_that_hangs_on_the_broker_alone_is_remarked() -> None:
    on_air = "{kind: broker, topic: a, stale_s: 60}"
    text = remote(
        ("left: {kind: onewire, rom: 28-000000000001}", f"left: {on_air}"),
        ("right: {kind: onewire, rom: 28-000000000002, stale_s: 45}", f"right: {on_air}"),
    )
    assert any("blind while the broker is away" in each for each in remarks(text))
