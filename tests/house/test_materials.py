"""The built-in table: complete, and within what published sources span."""

import re
from pathlib import Path
from typing import get_args

import pytest

from greenkeeper.house import heatloss, layers, materials
from greenkeeper.settings import house as settings


def test_every_name_of_the_settings_has_figures_and_the_other_way_round() -> None:
    assert set(get_args(settings.Cover)) == materials.COVERS.keys()
    assert set(get_args(settings.Lining)) == materials.LININGS.keys()
    assert set(get_args(settings.Tightness)) == materials.AIR_CHANGES.keys()
    assert set(get_args(settings.Edge)) == materials.EDGES.keys()
    names = set(get_args(settings.LayerMaterial))
    assert names == {*layers.CONDUCTIVITY_W_MK, "air-gap"}


def test_every_figure_has_a_source() -> None:
    tables = (materials.COVERS, materials.LININGS, materials.AIR_CHANGES, materials.EDGES)
    assert all(figures.source for table in tables for figures in table.values())


# Cover, and the span of coefficients published for its like, W/(m2 K).
# ext: Extension Foundation, farm energy course, unit 2.6 (S. Sanford): single 5.7 to 6.8,
# double 3.4 to 4.0. Hands: glazing comparison, 2001. Makers: tables of three polycarbonate
# makers, by EN ISO 6946, "K value" and ASTM C976. overview: a trade overview of covers.
SPANS = {
    "horticultural-glass": (5.5, 6.8),  # Hands, ext
    "glass-4": (5.7, 6.8),  # ext
    "double-glass": (2.8, 4.0),  # overview, ext
    "film": (5.7, 6.8),  # ext
    "double-film": (3.3, 4.0),  # overview, ext
    "twin-wall-4": (3.77, 4.1),
    "twin-wall-6": (3.33, 3.6),
    "twin-wall-8": (3.04, 3.4),
    "twin-wall-10": (2.83, 3.2),
    "triple-wall-16": (2.1, 2.4),
    "multi-wall-25": (1.35, 1.6),
}


@pytest.mark.parametrize("cover", SPANS)
def test_a_cover_lies_within_what_is_published(cover: str) -> None:
    low, high = SPANS[cover]
    assert low <= materials.COVERS[cover].u_w_m2k <= high


def test_what_lets_no_light_through_has_no_span_above() -> None:
    dark = {name for name, figures in materials.COVERS.items() if figures.transmittance == 0.0}
    assert materials.COVERS.keys() - SPANS.keys() == dark


def test_bubble_film_on_horticultural_glass_saves_what_hands_says() -> None:
    lined = 1.0 / (1.0 / 5.5 + materials.LININGS["bubble-film"].r_m2k_w)
    assert lined == pytest.approx(4.2)
    assert 1.0 - lined / 5.5 == pytest.approx(0.24, abs=0.005)


def test_a_screen_over_glass_saves_within_what_growers_report() -> None:
    # ext: night curtains save 20 to 75 % by material; growers report 30 to 50 % off bills.
    screened = 1.0 / (1.0 / 6.4 + materials.LININGS["thermal-screen"].r_m2k_w)
    assert 0.2 <= 1.0 - screened / 6.4 <= 0.75


def test_the_edge_is_the_codes_figure_in_our_units() -> None:
    # Washington Administrative Code 51-11C-61061, table A106.1: 0.73 and 0.54 Btu/(h ft F).
    assert materials.EDGES["bare"].w_mk == pytest.approx(1.26, abs=0.005)
    assert materials.EDGES["shallow"].w_mk == pytest.approx(0.93, abs=0.005)


# Cover, and the span of the sun's share published for its like. overview: a trade overview of
# covers; makers: polycarbonate tables by ASTM; Hands: glazing comparison, 2001.
LIGHT = {
    "horticultural-glass": (0.85, 0.95),  # overview 85 to 90 %, Hands 95 %
    "glass-4": (0.85, 0.95),
    "double-glass": (0.70, 0.75),  # overview
    "film": (0.80, 0.90),  # overview, new
    "double-film": (0.60, 0.80),  # overview
    "twin-wall-4": (0.82, 0.82),  # makers
    "twin-wall-6": (0.80, 0.80),
    "twin-wall-8": (0.80, 0.80),
    "twin-wall-10": (0.80, 0.82),  # makers, Hands
    "triple-wall-16": (0.73, 0.78),  # makers, Hands
    "multi-wall-25": (0.68, 0.68),  # Hands
}


@pytest.mark.parametrize("cover", LIGHT)
def test_a_cover_lets_as_much_light_through_as_is_published(cover: str) -> None:
    low, high = LIGHT[cover]
    assert low <= materials.COVERS[cover].transmittance <= high


def test_a_drum_of_water_holds_and_hands_on_what_is_published() -> None:
    # N. Pine, forum post on an 8 x 16 ft greenhouse: a 55 gallon drum, 450 Btu/F (he rounds
    # 459) and 40 Btu/(h F). 1 Btu is 1055 J, 1 Btu/(h F) 0.5275 W/K.
    kj_k = heatloss.water_kwh_k(208.2) * 3600.0
    assert kj_k / 1.899 == pytest.approx(459.0, abs=0.5)
    assert heatloss.water_kwh_k(208.2) * 10.0 == pytest.approx(2.42, abs=0.005)
    assert pytest.approx(40.0) == heatloss.WATER_W_K_L * 208.0 / 0.5275


# --- the page that explains them --------------------------------------------------------------

PAGE = (Path(__file__).parents[2] / "hardware-notes" / "house.md").read_text("utf-8")


def _figures(name: str) -> list[float]:
    """The figures in the row of the page that names it; rows of several share them in order."""
    family, dash, last = name.rpartition("-")
    rows = [row for row in PAGE.splitlines() if row.startswith("| `")]
    (row,) = (
        row for row in rows
        if f"`{name}`" in row.split("|")[1]
        or (f"`{family}-" in row.split("|")[1] and f"`{dash}{last}`" in row.split("|")[1])
    )  # fmt: skip
    return [float(number) for cell in row.split("|")[2:4] for number in re.findall(r"[\d.]+", cell)]


@pytest.mark.parametrize("cover", materials.COVERS)
def test_the_page_tells_a_covers_figures_as_they_are(cover: str) -> None:
    figures = materials.COVERS[cover]
    told = _figures(cover)
    assert any(abs(number - figures.u_w_m2k) < 0.0051 for number in told)
    assert any(abs(number - figures.transmittance) < 0.0051 for number in told)


@pytest.mark.parametrize("lining", materials.LININGS)
def test_the_page_tells_a_linings_figures_as_they_are(lining: str) -> None:
    figures = materials.LININGS[lining]
    r_m2k_w, light_share = _figures(lining)
    assert r_m2k_w == pytest.approx(figures.r_m2k_w, abs=0.00051)
    assert light_share == pytest.approx(figures.light_share)


def test_the_page_tells_the_edges_figures_as_they_are() -> None:
    for edge in materials.EDGES.values():
        assert f"{edge.w_mk:.2f}" in PAGE.partition("## 2. Edge and gaps")[2]
