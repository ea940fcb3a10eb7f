"""What follows from several keys together."""

import pytest

from greenkeeper.settings import derived, load
from greenkeeper.settings.schema import Settings
from tests.settings.examples import FILE, changed


def _house(*changes: tuple[str, str]) -> Settings:
    return load.parse(changed(*changes), FILE)


def test_a_stated_setpoint_holds_day_and_night() -> None:
    house = _house()
    assert [derived.heat_setpoint_c(house, "bench", night) for night in (False, True)] == [5, 5]
    assert [derived.cool_setpoint_c(house, "bench", night) for night in (False, True)] == [26, 26]


def test_a_night_setpoint_holds_by_night_only() -> None:
    house = _house(
        ("      setpoint_c: 5", "      setpoint_c: 5\n      night_setpoint_c: 8"),
        ("setpoint_c: 26", "setpoint_c: 26\n      night_setpoint_c: 24"),
    )
    assert [derived.heat_setpoint_c(house, "bench", night) for night in (False, True)] == [5, 8]
    assert [derived.cool_setpoint_c(house, "bench", night) for night in (False, True)] == [26, 24]


def test_hysteresis_opens_upwards_for_heat_and_downwards_for_cool() -> None:
    house = _house()
    assert derived.heat_off_c(house, "bench", night=False) == 5.5
    assert derived.cool_off_c(house, "bench", night=False) == 24.5


def test_from_plants_is_the_tenderest_plant_and_the_margin() -> None:
    house = _house(
        ("      setpoint_c: 5", "      setpoint: from-plants\n      margin_k: 1.5"),
        ("plants:", "plants:\n  - {name: orchid, zone: bench, rating: H1b}"),
    )
    assert derived.plants_minimum_c(house, "bench") == 10.0
    assert derived.heat_setpoint_c(house, "bench", night=True) == 11.5
    assert derived.heat_off_c(house, "bench", night=True) == 12.0


def test_the_zone_goes_by_the_plant_that_suffers_first() -> None:
    house = _house(
        ("plants:", "plants:\n  - {name: orchid, zone: bench, max_c: 30}"),
        ("min_c: 4", "min_c: 4, max_c: 35"),
    )
    assert derived.plants_maximum_c(house, "bench") == 30.0


def test_plants_of_another_zone_do_not_count() -> None:
    house = _house(
        ("plants:", "  ridge: {probes: [right]}\nplants:"), ("zone: bench,", "zone: ridge,")
    )
    assert derived.plants_minimum_c(house, "bench") is None
    assert derived.plants_minimum_c(house, "ridge") == 4.0
    assert [plant.name for plant in derived.plants_of(house, "ridge")] == ["plumbago"]


def test_a_zone_without_heat_and_cool_has_no_points() -> None:
    house = _house(("plants:", "  ridge: {probes: [right]}\nplants:"))
    for point in (
        derived.heat_setpoint_c,
        derived.heat_off_c,
        derived.cool_setpoint_c,
        derived.cool_off_c,
    ):
        assert point(house, "ridge", False) is None
    assert derived.plants_maximum_c(house, "ridge") is None


def test_a_zone_nobody_defined_is_an_error_of_the_caller() -> None:
    with pytest.raises(KeyError):
        derived.heat_setpoint_c(_house(), "nowhere", night=False)


def test_the_ceiling_watches_the_zone_and_what_hangs_in_none() -> None:
    house = _house(("  outdoors: {", "  ridge: {kind: modelled, place: ridge}\n  outdoors: {"))
    assert derived.ceiling_probes(house, "bench") == ("left", "right", "ridge")
