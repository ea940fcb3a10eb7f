"""The house: figures that make a house together, surfaces that exist, days of the year."""

import calendar
from collections.abc import Iterator

from greenkeeper.settings.checks.finding import Finding, is_written, listed
from greenkeeper.settings.faults import Path, number, plain
from greenkeeper.settings.guesses import did_you_mean, either, nearest
from greenkeeper.settings.house import House, Improvement, Layer, Surface
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.shapes import faces, shape_faces

_LEAP_YEAR = 2024
_MONTHS = 12
_SEASONS_FROM_DEG = 20.0  # nearer the equator the rains make the seasons
_CLEARLY_K = 2.0
_FLOORS_LARGER = 1.6
_WIDEST_GAP_MM = 300.0  # ISO 6946 knows still air up to there


def faults(settings: Settings) -> Iterator[Finding]:
    house = settings.house
    yield from _hemisphere(settings)
    yield from _heights(house)
    for name, surface in house.surfaces.items():
        yield from _surface(house, name, surface)
    yield from _areas(house)
    if house.shape == "listed" and not house.surfaces:
        yield Finding(("house", "shape"), "listed, without surfaces", "house.surfaces beside it")
    for name, improvement in house.improvements.items():
        yield from _improvement(house, name, improvement)
    yield from _inside(settings)


def remarks(settings: Settings) -> Iterator[Finding]:
    house = settings.house
    for name, improvement in house.improvements.items():
        if improvement.price is not None and settings.tariff is None:
            path: Path = ("house", "improvements", name, "price")
            yield Finding(path, "without tariff nobody can say when it pays for itself")
    if (house.loss_w_per_k is not None) and "shape" not in house.model_fields_set:
        hint = "Describe the house as well (shape, cover, …) to see where its warmth goes."
        yield Finding(("house", "loss_w_per_k"), "a loss without a shape", hint=hint)
    if {"length_m", "width_m"} <= house.model_fields_set:
        yield from _left_at_the_invented_houses(settings)


def _left_at_the_invented_houses(settings: Settings) -> Iterator[Finding]:
    """Defaults that were fine for a small house in the north, and are not for this one."""
    house, invented = settings.house, House()
    floors = house.length_m * house.width_m / (invented.length_m * invented.width_m)
    if not is_written(house, "mass_kj_per_k") and not 0.5 <= floors <= _FLOORS_LARGER:
        found = (
            f"mass_kj_per_k left at {number(house.mass_kj_per_k)}, for a floor "
            f"{floors:.1f} times the invented house's"
        )
        hint = "Season and model take it to store that little or much: write what yours holds."
        yield Finding(("house",), found, hint=hint)
    latitude = settings.site.latitude
    if not is_written(house, "faces_deg") and latitude is not None and latitude < 0.0:
        found = f"faces_deg left at {number(house.faces_deg)}, away from the sun in the south"
        yield Finding(("house",), found, hint="Write where the front looks to; 0 is north.")


def _hemisphere(settings: Settings) -> Iterator[Finding]:
    means_c, latitude = settings.site.monthly_mean_c, settings.site.latitude
    if means_c is None or len(means_c) != _MONTHS:
        return
    if latitude is None or abs(latitude) < _SEASONS_FROM_DEG:
        return
    june_to_august, december_to_february = sum(means_c[5:8]), sum([means_c[11], *means_c[:2]])
    warmer_k = (june_to_august - december_to_february) / 3.0
    if warmer_k * latitude < 0.0 and abs(warmer_k) > _CLEARLY_K:
        summer = "June to August" if warmer_k > 0.0 else "December to February"
        found = f"the warmest months from {summer}, at latitude {number(latitude)}"
        hint = "January comes first; latitude is positive in the north, negative in the south."
        path, beside = ("site", "monthly_mean_c"), (("site", "latitude"),)
        yield Finding(path, found, "summer in the hemisphere's own half of the year", hint, beside)


def _inside(settings: Settings) -> Iterator[Finding]:
    """The tent is over a zone; the wax opens as it warms, not as it cools."""
    tent, wax = settings.house.tent, settings.house.wax_vent
    if tent is not None and settings.zones and tent.zone not in settings.zones:
        path: Path = ("house", "tent", "zone")
        allowed = f"a zone: {either(settings.zones)}"
        hint = did_you_mean(nearest(tent.zone, settings.zones))
        yield Finding(path, plain(tent.zone), allowed, hint, (("zones",),))
    if wax is not None and wax.open_c <= wax.from_c:
        beside: Path = ("house", "wax_vent", "from_c")
        allowed = f"above from_c at {number(wax.from_c)} °C"
        path = ("house", "wax_vent", "open_c")
        yield Finding(path, f"{number(wax.open_c)} °C", allowed, "", (beside,))


def _heights(house: House) -> Iterator[Finding]:
    path, beside = ("house", "ridge_m"), ("house", "eaves_m")
    if house.shape != "listed" and house.ridge_m <= house.eaves_m:
        allowed = f"above the eaves at {number(house.eaves_m)} m"
        yield Finding(path, f"{number(house.ridge_m)} m", allowed, leans_on=(beside,))
    if house.shape != "tunnel" and house.shape != "listed" and house.eaves_m < 0.05:
        hint = "Only a tunnel may spring from the ground."
        yield Finding(beside, f"{number(house.eaves_m)} m", "at least 0.05 m", hint)


def _surface(house: House, name: str, surface: Surface) -> Iterator[Finding]:
    path: Path = ("house", "surfaces", name)
    known = [face.name for face in shape_faces(house)]
    needs_area = name not in known or surface.part_of is not None
    if name in known and surface.part_of is not None:
        beside = (*_SHAPE_KEYS, (*path, "part_of"))
        allowed = f"another name: every {house.shape} has a {name} of its own"
        yield Finding(path, f"{name} as a part", allowed, leans_on=beside)
    elif needs_area and surface.area_m2 is None:
        words = f"without area_m2, and {_shape_words(house, known)}"
        yield Finding(path, words, "an area_m2", did_you_mean(nearest(name, known)), _SHAPE_KEYS)
    yield from _made_of(path, surface)
    for index, layer in enumerate(surface.layers):
        yield from _layer((*path, "layers", index), layer)
    yield from _part(house, name, surface)


_SHAPE_KEYS: tuple[Path, ...] = (("house", "shape"), ("house", "eaves_m"), ("house", "ridge_m"))


def _shape_words(house: House, names: list[str]) -> str:
    return f"this {house.shape} has {listed(names)}" if names else "the shape is 'listed'"


def _made_of(path: Path, surface: Surface) -> Iterator[Finding]:
    """One way of saying what it lets through, not two."""
    ways = ("cover", "u_w_m2k", "layers")
    said = [way for way in ways if getattr(surface, way) not in (None, ())]
    for second in said[1:]:
        beside = ((*path, said[0]),)
        yield Finding((*path, second), f"{second} beside {said[0]}", "one of them", "", beside)


def _part(house: House, name: str, surface: Surface) -> Iterator[Finding]:
    if surface.part_of is None:
        return
    path: Path = ("house", "surfaces", name, "part_of")
    wholes = [
        *(face.name for face in shape_faces(house)),
        *(other for other, each in house.surfaces.items() if each.part_of is None),
    ]
    known = [whole for whole in dict.fromkeys(wholes) if whole != name]
    if surface.part_of not in known:
        allowed = f"a surface that is itself whole ({listed(known)})" if known else "none here"
        hint = did_you_mean(nearest(surface.part_of, known))
        yield Finding(path, plain(surface.part_of), allowed, hint, _SHAPE_KEYS)


def _layer(path: Path, layer: Layer) -> Iterator[Finding]:
    if layer.r_m2k_w is not None:
        for other in ("thickness_mm", "conductivity_w_mk"):
            if getattr(layer, other) is not None:
                leans_on = ((*path, other),)
                yield Finding((*path, "r_m2k_w"), f"r_m2k_w beside {other}", "one of them", "",
                              leans_on)  # fmt: skip
        return
    if layer.thickness_mm is None:
        yield Finding(path, "a layer without thickness_mm", "thickness_mm, or r_m2k_w instead")
    if layer.material is None and layer.conductivity_w_mk is None:
        yield Finding(path, "a layer of nothing", "material, conductivity_w_mk or r_m2k_w")
    if layer.material == "air-gap" and (layer.thickness_mm or 0.0) > _WIDEST_GAP_MM:
        found = f"{number(layer.thickness_mm or 0.0)} mm of still air"
        yield Finding((*path, "thickness_mm"), found, f"at most {number(_WIDEST_GAP_MM)} mm")


def _areas(house: House) -> Iterator[Finding]:
    """Parts together no larger than what they are parts of."""
    for face in faces(house):
        parts = [name for name, each in house.surfaces.items() if each.part_of == face.name]
        if not parts or face.area_m2 > 0.0:
            continue
        taken_m2 = sum(house.surfaces[part].area_m2 or 0.0 for part in parts)
        if taken_m2 == 0.0:
            continue
        found = f"nothing left of {face.name} without its parts ({listed(parts)})"
        allowed = f"less than its {number(round(face.area_m2 + taken_m2, 2))} m2 altogether"
        leans_on = (*_SHAPE_KEYS, *(("house", "surfaces", part) for part in parts))
        yield Finding(("house", "surfaces", parts[-1], "area_m2"), found, allowed, "", leans_on)


def _improvement(house: House, name: str, improvement: Improvement) -> Iterator[Finding]:
    path: Path = ("house", "improvements", name)
    known = [face.name for face in faces(house)]
    for index, surface in enumerate(improvement.on):
        if surface not in known:
            hint = did_you_mean(nearest(surface, known))
            allowed = f"a surface of the house ({listed(known, most=12)})"
            leans_on = (*_SHAPE_KEYS, ("house", "surfaces"))
            yield Finding((*path, "on", index), plain(surface), allowed, hint, leans_on)
    ways = ("lining", "r_m2k_w", "cover", "u_w_m2k", "air_changes_per_h", "edge", "water_l")
    said = [way for way in ways if getattr(improvement, way) is not None]
    if not said:
        yield Finding(path, "an improvement that changes nothing", f"one of {either(ways)}")
    for second in [way for way in said if way in ways[:4]][1:]:
        found = f"{second} beside {said[0]}"
        yield Finding((*path, second), found, "one of them", "", ((*path, said[0]),))
    yield from _days(path, improvement)


def _days(path: Path, improvement: Improvement) -> Iterator[Finding]:
    for key, day, other in (
        ("from", improvement.from_, improvement.to),
        ("to", improvement.to, improvement.from_),
    ):
        if day is None:
            continue
        month, number_of_day = (int(part) for part in day.split("-"))
        longest = calendar.monthrange(_LEAP_YEAR, month)[1]
        if number_of_day > longest:
            yield Finding((*path, key), day, f"a day there is: {month:02d} has {longest}")
        elif day == "02-29":
            yield Finding((*path, key), day, "a day of every year", "Write 02-28 or 03-01.")
        if other is None:
            missing = "to" if key == "from" else "from"
            beside = ((*path, missing),)
            yield Finding((*path, key), f"{key} without {missing}", "both, or neither", "", beside)
