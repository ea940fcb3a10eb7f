"""The house: figures that make a house together, surfaces that exist, days of the year."""

import pytest

from tests.settings.examples import SOUND, remarks, said

LINE = SOUND.count("\n") + 1  # where house: stands


def _with(text: str) -> str:
    return SOUND + "house:\n" + "".join(f"  {line}\n" for line in text.splitlines())


FAULTS = {
    "a ridge below the eaves": (
        "eaves_m: 2\nridge_m: 1.9",
        "house.ridge_m: found 1.9 m; allowed above the eaves at 2 m",
    ),
    "a tunnel that sinks into the ground": (
        "shape: tunnel\nwidth_m: 2\neaves_m: 2\nridge_m: 1",
        "house.ridge_m: found 1 m; allowed above the eaves at 2 m",
    ),
    "a span that springs from the ground": (
        "eaves_m: 0",
        "house.eaves_m: found 0 m; allowed at least 0.05 m\n"
        "    Only a tunnel may spring from the ground.",
    ),
    "a negative area": (
        "surfaces: {window: {part_of: front, area_m2: -1}}",
        "house.surfaces.window.area_m2: found -1; allowed 0.01 to 1000 (square metres)",
    ),
    "a window without a size": (
        "surfaces: {window: {part_of: front}}",
        "house.surfaces.window: found without area_m2, and this span has front, back, left-end,"
        " right-end, front-roof, back-roof; allowed an area_m2",
    ),
    "a surface misspelt": (
        "surfaces: {front-rof: {cover: film}}",
        "house.surfaces.front-rof: found without area_m2, and this span has front, back, left-end,"
        " right-end, front-roof, back-roof; allowed an area_m2\n    Did you mean front-roof?",
    ),
    "a tunnel's front where it has none": (
        "shape: tunnel\neaves_m: 0\nsurfaces: {front: {cover: film}}",
        "house.surfaces.front: found without area_m2, and this tunnel has left-end, right-end,"
        " front-arch, back-arch; allowed an area_m2\n    Did you mean front-arch?",
    ),
    "a front that is a part": (
        "surfaces: {front: {part_of: back, area_m2: 1}}",
        "house.surfaces.front: found front as a part;"
        " allowed another name: every span has a front of its own",
    ),
    "a part of nothing": (
        "shape: tunnel\neaves_m: 0\nsurfaces: {door: {part_of: front, area_m2: 1}}",
        "house.surfaces.door.part_of: found front;"
        " allowed a surface that is itself whole (left-end, right-end, front-arch, back-arch)\n"
        "    Did you mean front-arch?",
    ),
    "a door larger than its wall": (
        "surfaces: {door: {part_of: front, area_m2: 3}}",
        "house.surfaces.door.area_m2: found nothing left of front without its parts (door);"
        " allowed less than its 2.88 m2 altogether",
    ),
    "two ways to say what it lets through": (
        "surfaces: {front: {cover: film, u_w_m2k: 3}}",
        "house.surfaces.front.u_w_m2k: found u_w_m2k beside cover; allowed one of them",
    ),
    "a layer of nothing": (
        "surfaces: {front: {layers: [{thickness_mm: 3}]}}",
        "house.surfaces.front.layers[1]: found a layer of nothing;"
        " allowed material, conductivity_w_mk or r_m2k_w",
    ),
    "a layer without a thickness": (
        "surfaces: {front: {layers: [{material: brick}]}}",
        "house.surfaces.front.layers[1]: found a layer without thickness_mm;"
        " allowed thickness_mm, or r_m2k_w instead",
    ),
    "a layer said twice": (
        "surfaces: {front: {layers: [{thickness_mm: 3, r_m2k_w: 1}]}}",
        "house.surfaces.front.layers[1].r_m2k_w: found r_m2k_w beside thickness_mm;"
        " allowed one of them",
    ),
    "a gap as wide as a room": (
        "surfaces: {front: {layers: [{material: air-gap, thickness_mm: 400}]}}",
        "house.surfaces.front.layers[1].thickness_mm: found 400 mm of still air;"
        " allowed at most 300 mm",
    ),
    "listed, and nothing listed": (
        "shape: listed",
        "house.shape: found listed, without surfaces; allowed house.surfaces beside it",
    ),
    "an improvement on nothing": (
        "improvements: {lining: {on: [frnt], lining: bubble-film}}",
        "house.improvements.lining.on[1]: found frnt; allowed a surface of the house"
        " (front, back, left-end, right-end, front-roof, back-roof)\n    Did you mean front?",
    ),
    "an improvement of nothing": (
        "improvements: {paint: {price: 4}}",
        "house.improvements.paint: found an improvement that changes nothing; allowed one of"
        " lining, r_m2k_w, cover, u_w_m2k, air_changes_per_h, edge or water_l",
    ),
    "two linings in one": (
        "improvements: {both: {lining: bubble-film, r_m2k_w: 1}}",
        "house.improvements.both.r_m2k_w: found r_m2k_w beside lining; allowed one of them",
    ),
    "the 29th of February": (
        "improvements: {lining: {lining: bubble-film, from: 10-01, to: 02-29}}",
        "house.improvements.lining.to: found 02-29; allowed a day of every year\n"
        "    Write 02-28 or 03-01.",
    ),
    "a day there is not": (
        "improvements: {lining: {lining: bubble-film, from: 09-31, to: 04-01}}",
        "house.improvements.lining.from: found 09-31; allowed a day there is: 09 has 30",
    ),
    "a day the other way round": (
        "improvements: {lining: {lining: bubble-film, from: 15-10, to: 04-01}}",
        "house.improvements.lining.from: found 15-10;"
        " allowed month and day from 01-01 to 12-31, such as 10-15",
    ),
    "a beginning without an end": (
        "improvements: {lining: {lining: bubble-film, from: 10-01}}",
        "house.improvements.lining.from: found from without to; allowed both, or neither",
    ),
    "a coefficient of the United States": (
        "u_w_m2k: 0.02",
        "house.u_w_m2k: found 0.02; allowed 0.05 to 10 (watts per square metre and kelvin)",
    ),
    "a cover nobody makes": (
        "cover: twin-wall-12",
        "house.cover: found twin-wall-12; allowed horticultural-glass, glass-4, double-glass,"
        " film, double-film, twin-wall-4, twin-wall-6, twin-wall-8, twin-wall-10,"
        " triple-wall-16, multi-wall-25, boards-20, brick-100 or brick-215\n"
        "    Did you mean twin-wall-10?",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_what_makes_no_house_is_told(name: str) -> None:
    keys, told = FAULTS[name]
    (fault,) = said(_with(keys))
    place, _, words = fault.partition("  ")
    assert words == told
    assert int(place.split(":")[1]) > LINE


SOUND_HOUSES = {
    "a tunnel from the ground": "shape: tunnel\neaves_m: 0\nridge_m: 1.2\nwidth_m: 2.4",
    "a list": "shape: listed\nsurfaces: {roof: {area_m2: 3, slope_deg: 20, cover: film}}",
    "a lean-to at a heated house": "shape: lean-to\nsurfaces: {wall: {outdoor_share: 0}}",
    "boards over the new year": "improvements: {a: {edge: deep, from: 10-01, to: 04-01}}",
    "water alone": "improvements: {barrels: {water_l: 200}}",
}


@pytest.mark.parametrize("name", SOUND_HOUSES)
def test_a_house_that_makes_sense_is_taken(name: str) -> None:
    assert said(_with(SOUND_HOUSES[name])) == []


def test_a_faulty_key_does_not_make_a_second_fault_out_of_what_leans_on_it() -> None:
    text = _with("shape: tunel\nsurfaces: {front-arch: {cover: film}}")
    assert [fault.partition("  ")[2].partition(":")[0] for fault in said(text)] == ["house.shape"]


def test_a_price_without_a_tariff_is_remarked() -> None:
    text = _with("improvements: {a: {lining: bubble-film, price: 30}}")
    assert remarks(text) == [
        "house.improvements.a.price: without tariff nobody can say when it pays for itself"
    ]


def test_a_loss_without_a_shape_is_remarked() -> None:
    assert remarks(_with("loss_w_per_k: 60")) == [
        "house.loss_w_per_k: a loss without a shape"
        " | Describe the house as well (shape, cover, …) to see where its warmth goes."
    ]


def test_a_large_house_with_a_small_ones_mass_is_remarked() -> None:
    assert remarks(_with("length_m: 4\nwidth_m: 3")) == [
        "house: mass_kj_per_k left at 1600, for a floor 2.8 times the invented house's"
        " | Season and model take it to store that little or much: write what yours holds."
    ]
    assert remarks(_with("length_m: 4\nwidth_m: 3\nmass_kj_per_k: 4400")) == []
    assert remarks(_with("length_m: 2.4\nwidth_m: 1.8")) == []


def test_a_front_that_turns_its_back_on_the_southern_sun_is_remarked() -> None:
    def remarked(keys: str) -> list[str]:
        text = _with(f"length_m: 2.4\nwidth_m: 1.8{keys}")
        text = text.replace("Europe/Brussels", "Australia/Melbourne")
        return remarks(text.replace("  name: orchard\n", "  name: orchard\n  latitude: -37\n"))

    assert remarked("\nfaces_deg: 0") == []
    assert remarked("") == [
        "house: faces_deg left at 180, away from the sun in the south"
        " | Write where the front looks to; 0 is north."
    ]


MEANS = "[3, 4, 7, 10, 14, 17, 18, 18, 15, 11, 7, 4]"


def _at(latitude: float, means: str) -> list[str]:
    site = f"site:\n  name: orchard\n  latitude: {latitude}\n  monthly_mean_c: {means}\n"
    zone = "Australia/Melbourne" if latitude < -15.0 else "Europe/Brussels"
    text = SOUND.replace("Europe/Brussels", zone)
    return said(text.replace("site:\n  name: orchard\n", site))


def test_a_summer_in_the_wrong_half_of_the_year_is_told() -> None:
    assert _at(50.8, MEANS) == []
    (fault,) = _at(-37.0, MEANS)
    assert "the warmest months from June to August, at latitude -37" in fault
    assert "positive in the north, negative in the south" in fault


def test_near_the_equator_no_summer_is_expected() -> None:
    assert _at(-8.0, MEANS) == []


@pytest.mark.parametrize("means", ["[1, 2, 3]", "[]", MEANS.replace("4]", "x]")])
def test_fewer_than_twelve_means_or_what_is_no_number_is_refused(means: str) -> None:
    (fault,) = _at(50.8, means)
    assert "monthly_mean_c" in fault
    assert "-50 to 45 (°C)" in fault


def test_a_mean_in_fahrenheit_may_say_so_and_one_that_forgot_is_refused() -> None:
    assert _at(50.8, MEANS.replace("18, 18", "64 °F, 64 °F")) == []
    (fault,) = _at(50.8, MEANS.replace("18, 18", "64, 18"))
    assert "found 64; allowed -50 to 45 (°C)" in fault
