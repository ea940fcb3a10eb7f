"""Plants: what the zone keeps is what they can stand."""

from tests.settings.examples import changed, remarks, said


def test_a_plant_below_its_minimum_by_the_owners_own_setpoint() -> None:
    assert said(changed(("min_c: 4", "min_c: 7"))) == [
        "house.yaml:25:42  plants[plumbago].min_c: found 7 °C;"
        " allowed at most 5 °C, where bench starts to heat\n"
        "    Raise zones.bench.heat.setpoint_c to 7 °C, or write setpoint: from-plants."
    ]


def test_a_rating_counts_like_a_minimum() -> None:
    assert said(changed(("min_c: 4", "rating: H1b"))) == [
        "house.yaml:25:43  plants[plumbago].rating: found 10 °C;"
        " allowed at most 5 °C, where bench starts to heat\n"
        "    Raise zones.bench.heat.setpoint_c to 10 °C, or write setpoint: from-plants."
    ]


def test_the_colder_part_of_the_day_decides() -> None:
    text = changed(("      setpoint_c: 5", "      setpoint_c: 8\n      night_setpoint_c: 3"))
    assert said(text) == [
        "house.yaml:26:42  plants[plumbago].min_c: found 4 °C;"
        " allowed at most 3 °C, where bench starts to heat by night\n"
        "    Raise zones.bench.heat.night_setpoint_c to 4 °C, or write setpoint: from-plants."
    ]


def test_a_minimum_at_the_setpoint_is_met() -> None:
    assert said(changed(("min_c: 4", "min_c: 5"))) == []


def test_a_plant_that_the_heater_itself_would_cook() -> None:
    text = changed(
        ("      setpoint_c: 5", "      setpoint: from-plants"),
        ("plants:", "plants:\n  - {name: orchid, zone: bench, min_c: 18}"),
        ("min_c: 4", "min_c: 4, max_c: 15"),
    )
    assert said(text) == [
        "house.yaml:26:52  plants[plumbago].max_c: found 15 °C;"
        " allowed at least 19 °C, where heat in bench goes off\n"
        "    Plants this far apart need zones of their own."
    ]


def test_a_minimum_and_a_rating() -> None:
    assert said(changed(("min_c: 4", "min_c: 4, rating: H2"))) == [
        "house.yaml:25:53  plants[plumbago].rating: found rating beside min_c; allowed one of them"
    ]


def test_a_maximum_below_the_minimum() -> None:
    text = changed(("min_c: 4", "min_c: 4, max_c: 4"))
    assert said(text)[0] == (
        "house.yaml:25:52  plants[plumbago].max_c: found 4 °C; allowed above its minimum of 4 °C"
    )


def test_a_plant_without_a_name_is_counted_from_one() -> None:
    text = changed(("{name: plumbago, zone: bench, min_c: 4}", "{zone: bench, min_c: 4}"))
    assert said(text) == [
        "house.yaml:25:5  plants[1].name: found nothing; needed text of 1 to 80 characters"
    ]


def test_a_plant_that_asks_for_nothing_is_remarked() -> None:
    assert remarks(changed((", min_c: 4", ""))) == [
        "plants[plumbago]: no limit: nothing is watched for it"
    ]


def test_a_plant_that_nothing_heats_or_cools_is_remarked() -> None:
    text = changed(
        ("plants:", "  ridge: {probes: [right]}\nplants:"),
        ("zone: bench, min_c: 4", "zone: ridge, min_c: 4, max_c: 30"),
    )
    assert remarks(text) == [
        "zones.ridge: neither heat nor cool: it is only watched",
        "plants[plumbago].min_c: nothing heats ridge: you are only warned",
        "plants[plumbago].max_c: nothing cools ridge: you are only warned",
    ]


def test_a_plant_cooled_too_late_is_remarked() -> None:
    assert remarks(changed(("min_c: 4", "max_c: 24"))) == [
        "plants[plumbago].max_c: 24 °C, but bench starts to cool at 26 °C"
    ]


def test_a_plant_cooled_in_time_is_not() -> None:
    assert remarks(changed(("min_c: 4", "max_c: 26"))) == []
