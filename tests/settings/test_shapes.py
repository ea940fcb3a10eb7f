"""The geometry of a house: sizes, slopes and bearings of its surfaces."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.settings.house import House
from greenkeeper.settings.shapes import edge_m, faces, shape_faces, volume_m3

# As config/greenkeeper.yaml promises them.
NAMES = {
    "span": ("front", "back", "left-end", "right-end", "front-roof", "back-roof"),
    "lean-to": ("front", "wall", "left-end", "right-end", "roof"),
    "tunnel": ("front", "back", "left-end", "right-end", "front-arch", "back-arch"),
}


def house(**keys: object) -> House:
    return House.model_validate({"length_m": 4.0, "width_m": 3.0, **keys})


def test_a_span_worked_by_hand() -> None:
    found = {face.name: face for face in faces(house(eaves_m=2.0, ridge_m=4.0))}
    assert found["front"][1:] == (8.0, 90.0, 180.0)
    assert found["back"][1:] == (8.0, 90.0, 0.0)
    assert found["left-end"][1:] == (9.0, 90.0, 270.0)
    assert found["right-end"][1:] == (9.0, 90.0, 90.0)
    assert found["front-roof"].area_m2 == pytest.approx(10.0)  # 4 x hypot(1.5, 2)
    assert found["front-roof"].slope_deg == pytest.approx(53.13, abs=0.01)
    assert found["back-roof"].azimuth_deg == 0.0
    assert volume_m3(house(eaves_m=2.0, ridge_m=4.0)) == pytest.approx(36.0)


def test_a_lean_to_worked_by_hand() -> None:
    lean_to = house(shape="lean-to", eaves_m=2.0, ridge_m=6.0, faces_deg=90.0)
    found = {face.name: face for face in faces(lean_to)}
    assert found["wall"][1:] == (24.0, 90.0, 270.0)
    assert found["roof"].area_m2 == pytest.approx(20.0)  # 4 x hypot(3, 4)
    assert found["roof"].azimuth_deg == 90.0
    assert found["left-end"][1:] == (12.0, 90.0, 180.0)
    assert volume_m3(lean_to) == pytest.approx(48.0)


def test_a_round_tunnel_worked_by_hand() -> None:
    tunnel = house(shape="tunnel", width_m=2.0, eaves_m=0.0, ridge_m=1.0)
    found = {face.name: face for face in faces(tunnel)}
    assert found.keys() == {"left-end", "right-end", "front-arch", "back-arch"}
    assert found["front-arch"].area_m2 == pytest.approx(4.0 * math.pi / 2.0)
    assert found["left-end"].area_m2 == pytest.approx(math.pi / 2.0)
    assert volume_m3(tunnel) == pytest.approx(4.0 * math.pi / 2.0)


@given(
    shape=st.sampled_from(["span", "lean-to", "tunnel"]),
    eaves_m=st.floats(0.0, 3.0),
    rise_m=st.floats(0.5, 3.0),
    faces_deg=st.floats(0.0, 360.0),
)
def test_every_shape_has_the_surfaces_it_is_said_to_have(
    shape: str, eaves_m: float, rise_m: float, faces_deg: float
) -> None:
    drawn = house(shape=shape, eaves_m=eaves_m, ridge_m=eaves_m + rise_m, faces_deg=faces_deg)
    found = shape_faces(drawn)
    upright = {"front", "back"} if eaves_m == 0.0 else set()
    assert {face.name for face in found} | upright >= set(NAMES[shape]) - upright
    assert all(0.0 <= face.azimuth_deg < 360.0 for face in found)
    assert all(0.0 < face.slope_deg <= 90.0 for face in found)


@given(part_m2=st.floats(0.01, 2.8))
def test_a_part_takes_its_area_from_the_whole_and_looks_the_same_way(part_m2: float) -> None:
    window = {"part_of": "front", "area_m2": part_m2}
    whole = house(faces_deg=100.0)
    cut = house(faces_deg=100.0, surfaces={"window": window})
    found = {face.name: face for face in faces(cut)}
    assert sum(face.area_m2 for face in faces(cut)) == pytest.approx(
        sum(face.area_m2 for face in faces(whole))
    )
    assert found["window"][1:] == (part_m2, 90.0, 100.0)


def test_what_is_written_stands_and_the_rest_is_the_shapes() -> None:
    found = {
        face.name: face
        for face in faces(
            house(
                surfaces={
                    "front": {"area_m2": 5.0},
                    "chimney": {"area_m2": 0.5, "slope_deg": 0.0, "faces_deg": 45.0},
                }
            )
        )
    }
    assert found["front"][1:] == (5.0, 90.0, 180.0)
    assert found["chimney"][1:] == (0.5, 0.0, 45.0)


def test_a_volume_as_written_goes_before_the_shapes() -> None:
    assert volume_m3(house(volume_m3=11.0)) == 11.0


def test_the_edge_goes_round_all_but_a_warm_wall() -> None:
    assert edge_m(house()) == 14.0
    half = house(shape="lean-to", surfaces={"wall": {"outdoor_share": 0.5}})
    assert edge_m(half) == 12.0
