"""Thermostat: heat, cool, deadband and ceiling of one zone fit each other."""

import pytest

from tests.settings.examples import changed, faults, remarks, said

FROM_PLANTS = ("      setpoint_c: 5", "      setpoint: from-plants")


def test_heat_needs_a_setpoint() -> None:
    assert said(changed(("      setpoint_c: 5\n", ""))) == [
        "house.yaml:17:5  zones.bench.heat: found nothing;"
        " needed setpoint_c, or setpoint: from-plants"
    ]


def test_heat_takes_one_setpoint_only() -> None:
    text = changed(("      setpoint_c: 5", "      setpoint_c: 5\n      setpoint: from-plants"))
    assert said(text) == [
        "house.yaml:20:17  zones.bench.heat.setpoint: found setpoint beside setpoint_c;"
        " allowed one of them"
    ]


def test_from_plants_needs_a_plant_with_a_minimum() -> None:
    text = changed(FROM_PLANTS, ("min_c: 4", "max_c: 30"))
    assert said(text) == [
        "house.yaml:19:17  zones.bench.heat.setpoint: found from-plants, and no plant;"
        " allowed it with a plant in bench that has min_c or rating"
    ]


def test_a_rating_is_minimum_enough_for_from_plants() -> None:
    assert said(changed(FROM_PLANTS, ("min_c: 4", "rating: H2"))) == []


def test_from_plants_has_no_night_of_its_own() -> None:
    old, new = FROM_PLANTS
    assert said(changed((old, f"{new}\n      night_setpoint_c: 3"))) == [
        "house.yaml:20:25  zones.bench.heat.night_setpoint_c:"
        " found 3 °C beside setpoint: from-plants;"
        " allowed a night setpoint beside setpoint_c only\n"
        "    Plants stand no less by night: from-plants holds day and night."
    ]


def test_cool_on_must_lie_a_deadband_above_heat_off() -> None:
    assert said(changed(("setpoint_c: 26", "setpoint_c: 8.4"))) == [
        "house.yaml:22:19  zones.bench.cool.setpoint_c: found 8.4 °C; allowed 8.5 °C or more\n"
        "    Heat goes off at 5.5 °C, and deadband_k (3 K) must lie between."
    ]


@pytest.mark.parametrize(("cool_c", "fine"), [("8.49", False), ("8.5", True), ("8.51", True)])
def test_the_deadband_is_met_exactly_or_not(cool_c: str, fine: bool) -> None:
    text = changed(("setpoint_c: 26", f"setpoint_c: {cool_c}"))
    assert (said(text) == []) is fine


def test_a_deadband_of_decimals_is_not_lost_to_rounding() -> None:
    """5.1 + 0.2 + 0.9 is 6.2 on paper, and 6.199999999999999 or so in binary."""
    text = changed(
        ("      setpoint_c: 5", "      setpoint_c: 5.1\n      hysteresis_k: 0.2"),
        ("setpoint_c: 26", "setpoint_c: 6.2\n      hysteresis_k: 0.9"),
        ("    ceiling_c: 40", "    ceiling_c: 40\n    deadband_k: 0.9"),
    )
    assert said(text) == []


def test_the_night_is_judged_by_its_own_setpoints() -> None:
    text = changed(
        ("      setpoint_c: 5", "      setpoint_c: 5\n      night_setpoint_c: 10"),
        ("setpoint_c: 26", "setpoint_c: 26\n      night_setpoint_c: 12"),
    )
    assert said(text) == [
        "house.yaml:24:25  zones.bench.cool.night_setpoint_c:"
        " found 12 °C; allowed 13.5 °C or more\n"
        "    Heat goes off at 10.5 °C by night, and deadband_k (3 K) must lie between."
    ]


def test_a_night_may_be_cooler_all_over() -> None:
    text = changed(
        ("      setpoint_c: 5", "      setpoint_c: 15\n      night_setpoint_c: 8"),
        ("setpoint_c: 26", "setpoint_c: 26\n      night_setpoint_c: 12"),
    )
    assert said(text) == []


def test_cooling_may_not_go_on_below_heat_off() -> None:
    text = changed(("setpoint_c: 26", "setpoint_c: 10\n      hysteresis_k: 5"))
    assert said(text) == [
        "house.yaml:23:21  zones.bench.cool.hysteresis_k: found 5; allowed at most 4.5 (kelvin)\n"
        "    Heat goes off at 5.5 °C, cooling only at 5 °C: one would undo the other."
    ]


def test_cool_off_may_meet_heat_off() -> None:
    assert said(changed(("setpoint_c: 26", "setpoint_c: 10\n      hysteresis_k: 4.5"))) == []


def test_from_plants_takes_part_in_the_deadband() -> None:
    text = changed(FROM_PLANTS, ("min_c: 4", "min_c: 20"), ("setpoint_c: 26", "setpoint_c: 23"))
    assert said(text) == [
        "house.yaml:22:19  zones.bench.cool.setpoint_c: found 23 °C; allowed 24 °C or more\n"
        "    Heat goes off at 21 °C, and deadband_k (3 K) must lie between."
    ]


def test_heat_off_lies_below_the_ceiling() -> None:
    text = changed(
        ("      setpoint_c: 5", "      setpoint_c: 20"),
        ("ceiling_c: 40", "ceiling_c: 20.5"),
        ("    cool:\n      output: fan\n      setpoint_c: 26\n", ""),
    )
    assert said(text) == [
        "house.yaml:19:19  zones.bench.heat.setpoint_c: found heat-off at 20.5 °C;"
        " allowed below the ceiling_c of 20.5 °C"
    ]


def test_plants_may_ask_for_more_than_the_ceiling_allows() -> None:
    text = changed(
        FROM_PLANTS,
        ("min_c: 4", "min_c: 25"),
        ("ceiling_c: 40", "ceiling_c: 26"),
        ("    cool:\n      output: fan\n      setpoint_c: 26\n", ""),
    )
    assert said(text) == [
        "house.yaml:19:17  zones.bench.heat.setpoint: found heat-off at 26 °C;"
        " allowed below the ceiling_c of 26 °C"
    ]


def test_cool_on_lies_below_the_ceiling() -> None:
    assert said(changed(("ceiling_c: 40", "ceiling_c: 26"))) == [
        "house.yaml:22:19  zones.bench.cool.setpoint_c: found cool-on at 26 °C;"
        " allowed below the ceiling_c of 26 °C"
    ]


def test_a_probe_must_be_believed_beyond_the_ceiling() -> None:
    assert said(changed(("stale_s: 45", "highest_c: 40"))) == [
        "house.yaml:23:16  zones.bench.ceiling_c: found 40 °C;"
        " allowed below 40 °C, the highest_c of right\n"
        "    Above its highest_c a probe is not believed: it could not lock heat out."
    ]


def test_so_must_a_probe_in_no_zone_but_not_the_outdoor_one() -> None:
    low = ("rom: 28-000000000003", "rom: 28-000000000003, highest_c: 35")
    assert said(changed(low)) == []
    (fault,) = faults(changed(low, ("  outdoor_probe: outdoors\n", "")))
    assert fault.allowed == "below 35 °C, the highest_c of outdoors"


def test_a_margin_that_counts_for_nothing_is_remarked() -> None:
    text = changed(("      setpoint_c: 5", "      setpoint_c: 5\n      margin_k: 1"))
    assert remarks(text) == ["zones.bench.heat.margin_k: counts only with setpoint: from-plants"]


def test_a_night_by_utc_is_remarked() -> None:
    text = changed(
        ("  timezone: Europe/Brussels\n", ""),
        ("      setpoint_c: 5", "      setpoint_c: 5\n      night_setpoint_c: 6"),
    )
    assert remarks(text) == [
        "site: no timezone, so night goes by UTC"
        " | Night setpoints follow civil time: name your zone, such as Europe/Brussels."
    ]
