"""Damp: what hygrometers and airing need beside them."""

import pytest

from tests.settings.examples import changed, remarks, said

HYGROMETER = (
    "outputs:",
    "hygrometers: {damp: {kind: kernel, chip: bme280, beside: left}}\noutputs:",
)
AIR = "    ceiling_c: 40\n    hygrometer: damp\n    air: {output: fan}"


def aired(*more: tuple[str, str], air: str = AIR) -> str:
    return changed(HYGROMETER, ("    ceiling_c: 40", air), *more)


def test_a_zone_may_be_aired_by_the_fan_that_cools_it() -> None:
    assert said(aired()) == []


def test_without_an_outdoor_hygrometer_it_is_remarked() -> None:
    assert [each for each in remarks(aired()) if "air" in each] == [
        "zones.bench.air: outdoor air is taken to carry all the water it can"
        " | With site.outdoor_hygrometer it is aired more often."
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            aired(air="    ceiling_c: 40\n    air: {output: fan}"),
            "zones.bench.air: found no hygrometer in the zone; allowed it beside hygrometer:",
        ),
        (
            changed(
                ("outputs:", "hygrometers: {damp: {kind: kernel, chip: bme280}}\noutputs:"),
                ("    ceiling_c: 40", AIR),
            ),
            "zones.bench.air: found damp, which hangs beside no probe;"
            " allowed a hygrometer with beside:",
        ),
        (
            aired(("  outdoor_probe: outdoors\n", "")),
            "zones.bench.air: found no outdoor probe; allowed it with site.outdoor_probe",
        ),
        (
            aired(air=AIR.replace("output: fan", "output: fam")),
            "zones.bench.air.output: found fam; allowed a name under outputs (fan, heater)",
        ),
        (
            aired(air=AIR.replace("output: fan", "output: heater")),
            "zones.bench.air.output: found heater, which zones.bench heats with;"
            " allowed an output that only cools",
        ),
        (
            aired(air=AIR.replace("output: fan", "output: fan, for_s: 60"),)
            .replace("pin: 23", "pin: 23, min_on_s: 300"),
            "zones.bench.air.for_s: found 60;"
            " allowed at least 300 (seconds), the min_on_s of fan",
        ),
    ],
)  # fmt: skip
def test_airing_that_could_never_work_is_refused(text: str, told: str) -> None:
    assert any(told in each for each in said(text)), said(text)


def test_airing_in_the_cold_is_remarked() -> None:
    text = aired(air=AIR.replace("output: fan", "output: fan, outdoor_least_c: 0"))
    assert any("0 °C is below what the plants stand, 4 °C" in each for each in remarks(text)), (
        remarks(text)
    )


def test_nothing_says_how_cold_the_zone_may_get() -> None:
    text = aired(
        ("    heat:\n      output: heater\n      setpoint_c: 5\n", ""),
        ("min_c: 4", "max_c: 30"),
    )
    assert any("nothing says how cold the zone may get" in each for each in said(text))
