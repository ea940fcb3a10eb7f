"""ISO 6946: what a wall lets through, from its layers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.house import layers, materials
from greenkeeper.settings.house import Layer
from tests.support import tables


def _u(*wall: Layer, slope_deg: float = 90.0) -> float:
    return layers.u_w_m2k(layers.steps(wall, slope_deg))


def _r(r_m2k_w: float) -> Layer:
    return Layer(r_m2k_w=r_m2k_w)


@pytest.mark.parametrize("row", tables.rows("twin_wall_catalogue"), ids=lambda row: row["sheet"])
def test_a_makers_sheet_comes_out_as_the_maker_says(row: dict[str, str]) -> None:
    catalogue = float(row["u_w_m2k"])
    assert _u(_r(float(row["r_m2k_w"]))) == pytest.approx(catalogue, abs=0.08)
    assert materials.COVERS[row["sheet"]].u_w_m2k == catalogue


def test_glass_by_en_673() -> None:
    # EN 673, from memory: 25 and 7.7 W/(m2 K) at the surfaces, 1.0 W/(m K) of glass; a maker's
    # table of silicate glass, 4 mm, says 5.8.
    assert materials.COVERS["glass-4"].u_w_m2k == pytest.approx(5.75, abs=0.005)
    assert materials.COVERS["horticultural-glass"].u_w_m2k == pytest.approx(5.78, abs=0.005)
    assert materials.COVERS["glass-4"].u_w_m2k == pytest.approx(5.8, abs=0.06)


def test_a_pane_by_layers_is_the_same_pane_with_iso_6946s_surfaces() -> None:
    pane = Layer(material="glass", thickness_mm=4.0)
    # 1/(0.13 + 0.004 + 0.04), ISO 6946 as worked by hand.
    assert _u(pane) == pytest.approx(5.747, abs=0.001)


def test_a_roof_loses_more_than_a_wall_of_the_same() -> None:
    board = Layer(material="softwood", thickness_mm=20.0)
    assert _u(board, slope_deg=30.0) > _u(board, slope_deg=90.0)
    assert layers.inside_m2k_w(60.0) == 0.13  # ISO 6946: sideways to 30 degrees from level
    assert layers.inside_m2k_w(59.9) == 0.10


@pytest.mark.parametrize(
    ("thickness_mm", "sideways", "up"),
    [(5, 0.11, 0.11), (7, 0.13, 0.13), (10, 0.15, 0.15), (15, 0.17, 0.16), (25, 0.18, 0.16),
     (50, 0.18, 0.16), (300, 0.18, 0.16)],
)  # fmt: skip
def test_still_air_is_worth_what_iso_6946s_table_says(
    thickness_mm: float, sideways: float, up: float
) -> None:
    # ISO 6946, table of unventilated air layers, from memory.
    assert layers.air_gap_m2k_w(thickness_mm) == pytest.approx(sideways)
    assert layers.air_gap_m2k_w(thickness_mm, 20.0) == pytest.approx(up)


def test_between_the_tables_rows_it_is_interpolated() -> None:
    assert layers.air_gap_m2k_w(12.5) == pytest.approx(0.16)
    assert layers.air_gap_m2k_w(0.0) == 0.0


@pytest.mark.parametrize("thickness_mm", [-1.0, 301.0])
def test_a_gap_as_wide_as_a_room_is_refused(thickness_mm: float) -> None:
    with pytest.raises(ValueError, match="air gap"):
        layers.air_gap_m2k_w(thickness_mm)


def test_a_bright_foil_beats_a_dusty_one_and_any_beats_none() -> None:
    # ISO 6946's own table for ordinary surfaces is annex D with emissivity 0.9 on both sides.
    assert layers.foil_gap_m2k_w(0.9) == pytest.approx(0.18, abs=0.005)
    assert layers.foil_gap_m2k_w(0.05) > layers.foil_gap_m2k_w(0.2) > layers.foil_gap_m2k_w(0.9)


def test_an_own_conductivity_goes_before_the_tables() -> None:
    own = Layer(material="softwood", thickness_mm=20.0, conductivity_w_mk=0.26)
    (_, step, _) = layers.steps((own,), 90.0)
    assert step.r_m2k_w == pytest.approx(0.02 / 0.26)


@pytest.mark.parametrize("layer", [Layer(), Layer(thickness_mm=10.0), Layer(material="brick")])
def test_a_layer_of_nothing_is_refused(layer: Layer) -> None:
    with pytest.raises(ValueError, match="a layer without"):
        layers.steps((layer,), 90.0)


_LAYERS = st.lists(st.floats(0.0, 20.0).map(_r), max_size=6).map(tuple)


@given(wall=_LAYERS, more=st.floats(0.01, 20.0))
def test_every_layer_more_lets_less_through(wall: tuple[Layer, ...], more: float) -> None:
    assert _u(*wall, _r(more)) < _u(*wall)


@given(wall=_LAYERS)
def test_the_order_of_layers_makes_no_difference(wall: tuple[Layer, ...]) -> None:
    assert _u(*wall) == pytest.approx(_u(*reversed(wall)))
