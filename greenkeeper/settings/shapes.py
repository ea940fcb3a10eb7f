"""What follows from a house's shape: its surfaces with their sizes, its volume, its edge.

Lives here: geometry. Does not live here: what the surfaces are made of (house/envelope.py)
and whether the figures make sense (checks/house.py). Lengths are in metres, bearings in
compass degrees: 0 north, 90 east. Who stands before the front has the left end at the left.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from greenkeeper.settings.house import House, Surface

UPRIGHT_DEG = 90.0


class Face(NamedTuple):
    """One surface before anything is known of its material."""

    name: str
    area_m2: float
    slope_deg: float  # 0 lies flat, 90 stands upright
    azimuth_deg: float


def shape_faces(house: House) -> tuple[Face, ...]:
    """The surfaces the shape itself has; those of no area are left out."""
    return tuple(face for face in _SHAPES[house.shape](house) if face.area_m2 > 0.0)


def faces(house: House) -> tuple[Face, ...]:
    """All surfaces: the shape's with their changes, then the listed ones.

    A part takes its area from the surface it is a part of, and its slope and bearing where
    it says none of its own. Nothing is checked: an area can come out negative.
    """
    found = {face.name: face for face in shape_faces(house)}
    for name, surface in house.surfaces.items():
        if surface.part_of is None:
            found[name] = _placed(name, surface, found.get(name))
    for name, surface in house.surfaces.items():
        whole = found.get(surface.part_of or "")
        if whole is not None:
            part = _placed(name, surface, whole._replace(name=name, area_m2=0.0))
            found[name] = part
            found[whole.name] = whole._replace(area_m2=whole.area_m2 - part.area_m2)
    return tuple(found.values())


def volume_m3(house: House) -> float:
    if house.volume_m3 is not None:
        return house.volume_m3
    return house.length_m * _section_m2(house)


def edge_m(house: House) -> float:
    """How much of the floor's edge lies outdoors: not the side at a heated house's wall."""
    around_m = 2.0 * (house.length_m + house.width_m)
    wall = house.surfaces.get("wall")
    if house.shape == "lean-to" and wall is not None:
        around_m -= house.length_m * (1.0 - wall.outdoor_share)
    return around_m


def _placed(name: str, surface: Surface, before: Face | None) -> Face:
    """A surface as written; what is not written is as it was before."""
    area_m2, slope_deg, azimuth_deg = before[1:] if before else (0.0, UPRIGHT_DEG, 0.0)
    return Face(
        name,
        area_m2 if surface.area_m2 is None else surface.area_m2,
        slope_deg if surface.slope_deg is None else surface.slope_deg,
        azimuth_deg if surface.faces_deg is None else surface.faces_deg,
    )


def _rise_m(house: House) -> float:
    """Of the ridge above the eaves; checks/house.py refuses one that lies below."""
    return max(0.0, house.ridge_m - house.eaves_m)


def _section_m2(house: House) -> float:
    """The area of an end: what the length is multiplied with."""
    rise_m = _rise_m(house)
    share = math.pi / 4.0 if house.shape == "tunnel" else 0.5
    return house.width_m * (house.eaves_m + share * rise_m)


def _ends(house: House) -> Iterator[Face]:
    area_m2 = _section_m2(house)
    yield Face("left-end", area_m2, UPRIGHT_DEG, (house.faces_deg + 90.0) % 360.0)
    yield Face("right-end", area_m2, UPRIGHT_DEG, (house.faces_deg - 90.0) % 360.0)


def _pair(house: House, front: str, back: str, area_m2: float, slope_deg: float) -> Iterator[Face]:
    yield Face(front, area_m2, slope_deg, house.faces_deg % 360.0)
    yield Face(back, area_m2, slope_deg, (house.faces_deg + 180.0) % 360.0)


def _span(house: House) -> Iterator[Face]:
    half_m, rise_m = house.width_m / 2.0, _rise_m(house)
    yield from _pair(house, "front", "back", house.length_m * house.eaves_m, UPRIGHT_DEG)
    yield from _ends(house)
    slope_deg = math.degrees(math.atan2(rise_m, half_m))
    roof_m2 = house.length_m * math.hypot(half_m, rise_m)
    yield from _pair(house, "front-roof", "back-roof", roof_m2, slope_deg)


def _lean_to(house: House) -> Iterator[Face]:
    rise_m, facing_deg = _rise_m(house), house.faces_deg % 360.0
    yield Face("front", house.length_m * house.eaves_m, UPRIGHT_DEG, facing_deg)
    yield Face("wall", house.length_m * house.ridge_m, UPRIGHT_DEG, (facing_deg + 180.0) % 360.0)
    yield from _ends(house)
    slope_deg = math.degrees(math.atan2(rise_m, house.width_m))
    roof_m2 = house.length_m * math.hypot(house.width_m, rise_m)
    yield Face("roof", roof_m2, slope_deg, facing_deg)


def _tunnel(house: House) -> Iterator[Face]:
    """Half an ellipse on upright sides. Each half of the arch counts at its chord's slope."""
    half_m, rise_m = house.width_m / 2.0, _rise_m(house)
    yield from _pair(house, "front", "back", house.length_m * house.eaves_m, UPRIGHT_DEG)
    yield from _ends(house)
    arch_m2 = house.length_m * _half_ellipse_m(half_m, rise_m) / 2.0
    slope_deg = math.degrees(math.atan2(rise_m, half_m))
    yield from _pair(house, "front-arch", "back-arch", arch_m2, slope_deg)


def _half_ellipse_m(half_width_m: float, height_m: float) -> float:
    """Half its circumference, by Ramanujan's second formula; exact for a circle."""
    around_m = half_width_m + height_m
    h = ((half_width_m - height_m) / around_m) ** 2
    return math.pi * around_m * (1.0 + 3.0 * h / (10.0 + math.sqrt(4.0 - 3.0 * h))) / 2.0


def _listed(_: House) -> Iterator[Face]:
    return iter(())


_SHAPES: Mapping[str, Callable[[House], Iterator[Face]]] = {
    "span": _span,
    "lean-to": _lean_to,
    "tunnel": _tunnel,
    "listed": _listed,
}
