"""The skin of the house: every surface with what it lets through, the edge and the gaps.

Lives here: settings into an Envelope, with any choice of the improvements in place. Does
not live here: geometry (settings/shapes.py), figures of materials (materials.py), what a
temperature difference does to it (heatloss.py, model.py).

W/K throughout means: for each kelvin between the air inside and the air outside.
"""

from collections.abc import Collection, Iterator
from typing import NamedTuple

from greenkeeper.house import layers, materials
from greenkeeper.settings import house as settings
from greenkeeper.settings.house import House, Improvement
from greenkeeper.settings.shapes import Face, edge_m, faces, volume_m3

# Wh/(m3 K) of air at 5 °C and sea level, which winter nights exchange: 1006 J/(kg K) and
# 1.27 kg/m3. At 20 °C it is 0.336, and 0.33 is the usual figure for dwellings.
AIR_WH_M3K = 0.35


class Build(NamedTuple):
    """How a surface's coefficient came about, for the sheet."""

    cover: str  # "your own" where the settings give figures of their own
    cover_u_w_m2k: float
    frame_factor: float
    layers: tuple[layers.Step, ...]  # of a wall built from layers
    added: tuple[layers.Step, ...]  # what improvements put in front, in their order
    source: str


class Surface(NamedTuple):
    name: str
    area_m2: float
    u_w_m2k: float  # bars and linings included
    transmittance: float  # of the sun; linings included, dirt and bars not
    slope_deg: float  # 0 lies flat, 90 stands upright
    azimuth_deg: float  # 0 north, 90 east
    outdoor_share: float  # 1 outdoors, 0 against a room as warm as the house
    build: Build

    @property
    def loss_w_k(self) -> float:
        return self.area_m2 * self.u_w_m2k * self.outdoor_share


class Envelope(NamedTuple):
    surfaces: tuple[Surface, ...]
    floor_m2: float
    edge_m: float
    edge_w_mk: float
    edge_source: str
    air_changes_per_h: float
    air_source: str
    volume_m3: float
    water_l: float

    @property
    def skin_w_k(self) -> float:
        return sum(surface.loss_w_k for surface in self.surfaces)

    @property
    def edge_w_k(self) -> float:
        return self.edge_m * self.edge_w_mk

    @property
    def air_w_k(self) -> float:
        return AIR_WH_M3K * self.air_changes_per_h * self.volume_m3

    @property
    def loss_w_k(self) -> float:
        """Skin, edge and exchanged air together."""
        return self.skin_w_k + self.edge_w_k + self.air_w_k

    @property
    def clear_m2(self) -> float:
        """Area times transmittance: how much light finds a way in, whatever the direction."""
        return sum(surface.area_m2 * surface.transmittance for surface in self.surfaces)


def fitted(house: House) -> frozenset[str]:
    """The improvements that are there already."""
    return frozenset(name for name, each in house.improvements.items() if each.fitted)


def envelope(house: House, in_place: Collection[str] | None = None) -> Envelope:
    """The house with exactly these improvements in place; None: with those fitted.

    Whether their season or the hour is right is not asked. Needs checked settings.
    Raises KeyError for an improvement the settings do not have.
    """
    names = fitted(house) if in_place is None else frozenset(in_place)
    unknown = names - house.improvements.keys()
    if unknown:
        raise KeyError(f"no such improvement: {', '.join(sorted(unknown))}")
    chosen = [(name, house.improvements[name]) for name in house.improvements if name in names]
    surfaces = tuple(_surface(house, face) for face in faces(house))
    for name, improvement in chosen:
        surfaces = tuple(_improved(surface, name, improvement) for surface in surfaces)
    per_h, air_source = _air_changes(house, chosen)
    w_mk, edge_source = _edge(house, chosen)
    return Envelope(
        surfaces,
        floor_m2=house.length_m * house.width_m,
        edge_m=edge_m(house),
        edge_w_mk=w_mk,
        edge_source=edge_source,
        air_changes_per_h=per_h,
        air_source=air_source,
        volume_m3=volume_m3(house),
        water_l=house.water_l + sum(each.water_l or 0.0 for _, each in chosen),
    )


def loss_w_per_k(house: House) -> float:
    """What the house loses for each kelvin: measured, if the owner wrote that, else the sheet's."""
    return envelope(house).loss_w_k if house.loss_w_per_k is None else house.loss_w_per_k


def _surface(house: House, face: Face) -> Surface:
    written = house.surfaces.get(face.name, settings.Surface())
    build, transmittance = _built(house, written, face.slope_deg)
    return Surface(
        face.name,
        face.area_m2,
        build.cover_u_w_m2k * build.frame_factor,
        transmittance,
        face.slope_deg,
        face.azimuth_deg,
        written.outdoor_share,
        build,
    )


def _built(house: House, written: settings.Surface, slope_deg: float) -> tuple[Build, float]:
    """What it is made of, and the share of the sun it lets through."""
    if written.u_w_m2k is not None:
        # The owner's figure is for the surface as it stands, bars and all.
        build = Build("your own", written.u_w_m2k, 1.0, (), (), "your settings")
        return build, written.transmittance or 0.0
    if written.layers:
        steps = layers.steps(written.layers, slope_deg)
        build = Build("layers", layers.u_w_m2k(steps), 1.0, steps, (), "ISO 6946")
        return build, written.transmittance or 0.0
    if written.cover is not None:
        name: str = written.cover
        u_w_m2k, transmittance, source = materials.COVERS[name]
    else:
        name, u_w_m2k, transmittance, source = _house_cover(house)
    if written.transmittance is not None:
        transmittance = written.transmittance
    frame_factor = house.frame_factor if transmittance > 0.0 else 1.0
    return Build(name, u_w_m2k, frame_factor, (), (), source), transmittance


def _house_cover(house: House) -> tuple[str, float, float, str]:
    figures = materials.COVERS[house.cover]
    u_w_m2k = figures.u_w_m2k if house.u_w_m2k is None else house.u_w_m2k
    transmittance = figures.transmittance if house.transmittance is None else house.transmittance
    source = figures.source if house.u_w_m2k is None else "your settings"
    return house.cover, u_w_m2k, transmittance, source


def _improved(surface: Surface, name: str, improvement: Improvement) -> Surface:
    touches = surface.name in improvement.on if improvement.on else surface.transmittance > 0.0
    if not touches:
        return surface
    if improvement.cover is not None:
        surface = _covered_anew(surface, improvement.cover)
    if improvement.u_w_m2k is not None:
        added = layers.Step(f"{name}: as your settings say", 0.0)
        surface = _with(surface, improvement.u_w_m2k, surface.transmittance, added)
    for step in _added(name, improvement):
        u_w_m2k = 1.0 / (1.0 / surface.u_w_m2k + step.r_m2k_w)
        surface = _with(surface, u_w_m2k, surface.transmittance, step)
    return surface._replace(transmittance=surface.transmittance * _light_share(improvement))


def _covered_anew(surface: Surface, cover: str) -> Surface:
    u_w_m2k, transmittance, source = materials.COVERS[cover]
    frame_factor = surface.build.frame_factor if transmittance > 0.0 else 1.0
    build = Build(cover, u_w_m2k, frame_factor, (), (), source)
    return surface._replace(
        u_w_m2k=u_w_m2k * frame_factor, transmittance=transmittance, build=build
    )


def _with(surface: Surface, u_w_m2k: float, transmittance: float, step: layers.Step) -> Surface:
    build = surface.build._replace(added=(*surface.build.added, step))
    return surface._replace(u_w_m2k=u_w_m2k, transmittance=transmittance, build=build)


def _added(name: str, improvement: Improvement) -> Iterator[layers.Step]:
    if improvement.lining is not None:
        figures = materials.LININGS[improvement.lining]
        yield layers.Step(f"{name}: {improvement.lining}", figures.r_m2k_w)
    if improvement.r_m2k_w is not None:
        yield layers.Step(f"{name}: as your settings say", improvement.r_m2k_w)


def _light_share(improvement: Improvement) -> float:
    if improvement.light_share is not None:
        return improvement.light_share
    if improvement.lining is not None:
        return materials.LININGS[improvement.lining].light_share
    return 1.0


def _air_changes(house: House, chosen: list[tuple[str, Improvement]]) -> tuple[float, str]:
    """The house's own, or what the tightest improvement makes of them."""
    if house.air_changes_per_h is not None:
        found = (house.air_changes_per_h, "your settings")
    else:
        figures = materials.AIR_CHANGES[house.tightness]
        found = (figures.per_h, f"{house.tightness}: {figures.source}")
    for name, improvement in chosen:
        if improvement.air_changes_per_h is not None and improvement.air_changes_per_h < found[0]:
            found = (improvement.air_changes_per_h, f"{name}: your settings")
    return found


def _edge(house: House, chosen: list[tuple[str, Improvement]]) -> tuple[float, str]:
    if house.edge_w_mk is not None:
        found = (house.edge_w_mk, "your settings")
    else:
        figures = materials.EDGES[house.edge]
        found = (figures.w_mk, f"{house.edge}: {figures.source}")
    for name, improvement in chosen:
        figures = materials.EDGES[improvement.edge or house.edge]
        if improvement.edge is not None and figures.w_mk < found[0]:
            found = (figures.w_mk, f"{name}, {improvement.edge}: {figures.source}")
    return found
