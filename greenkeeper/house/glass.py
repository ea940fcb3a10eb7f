"""The sun through the panes, from where it stands and where they face.

Lives here: the heat that the sun leaves inside. Does not live here: what falls on a plane
(irradiance.py), what a cover lets through (the settings, or materials), and how it then
warms air and mass (network.py).
"""

import math
from collections.abc import Iterable
from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.house import irradiance
from greenkeeper.house.irradiance import Irradiance
from greenkeeper.house.weather import Surroundings

# Bars, dirt and condensation keep this much of the light out: common practice, no source.
_CLEAN = 0.85

# What comes in either meets floor, staging, pots and plants, which keep 0.7 of it, or leaves
# again through the panes: a cavity's balance, as for rooms (Duffie & Beckman, Solar
# Engineering of Thermal Processes, "effective absorptance"; from memory). Surfaces of twice
# the floor, and 0.7: common practice, no source. A small house all of glass keeps a third.
_ABSORBED = 0.7
_INNER_PER_FLOOR = 2.0

# The sun moves 2.5° in ten minutes: so long its way through the panes is taken as one.
_SLOT_S = 600.0


def kept_share(clear_m2: float, floor_m2: float) -> float:
    """Of the light that panes of clear_m2 (area times transmittance) let in square on, what
    stays inside a house of that floor as heat."""
    keeps = _ABSORBED * _INNER_PER_FLOOR * floor_m2
    return _CLEAN * keeps / (keeps + irradiance.DIFFUSE_PASSES * clear_m2)


class Pane(NamedTuple):
    area_m2: float
    transmittance: float  # square on
    slope_deg: float  # 0 lies level and looks up, 90 stands
    azimuth_deg: float  # where it looks, clockwise from north


class _Way(NamedTuple):
    """Heat inside for each W/m² outside, while the sun stands where it does."""

    direct_m2: float
    diffuse_m2: float
    level_m2: float  # by way of the ground


_NO_WAY = _Way(0.0, 0.0, 0.0)


class Glass:
    """All panes of a house at a place."""

    def __init__(
        self, panes: Iterable[Pane], floor_m2: float, latitude: float, longitude: float
    ) -> None:
        """floor_m2: what stands and lies inside goes by it."""
        self._panes = tuple(panes)
        clear_m2 = sum(pane.area_m2 * pane.transmittance for pane in self._panes)
        self._kept = kept_share(clear_m2, floor_m2)
        self._latitude, self._longitude = latitude, longitude
        self._slot = -1
        self._way = _NO_WAY
        self._position = sun.Position(-90.0, 0.0)
        sky_m2 = ground_m2 = 0.0
        for pane in self._panes:
            seen = 0.5 * (1.0 + math.cos(math.radians(pane.slope_deg)))
            lets_in_m2 = self._kept * irradiance.DIFFUSE_PASSES * pane.area_m2 * pane.transmittance
            sky_m2 += lets_in_m2 * seen
            ground_m2 += lets_in_m2 * (1.0 - seen) * irradiance.GROUND_REFLECTS
        self._sky_m2, self._ground_m2 = sky_m2, ground_m2

    def sun_w(self, around: Surroundings, utc_s: float) -> float:
        """Heat the sun leaves inside now."""
        if around.sun_w_m2 <= 0.0:
            return 0.0
        slot = int(utc_s // _SLOT_S)
        if slot != self._slot:
            self._slot, self._way = slot, self._way_at((slot + 0.5) * _SLOT_S)
        outside = self._apart(around, utc_s)
        direct_m2, diffuse_m2, level_m2 = self._way
        return (
            direct_m2 * outside.direct_w_m2
            + diffuse_m2 * outside.diffuse_w_m2
            + level_m2 * outside.level_w_m2
        )

    def _apart(self, around: Surroundings, utc_s: float) -> Irradiance:
        """Direct and diffuse: as the weather says, or by how clear it must be."""
        if around.diffuse_w_m2 is None:
            return irradiance.split(around.sun_w_m2, self._position, utc_s)
        return irradiance.told_apart(around.sun_w_m2, around.diffuse_w_m2, self._position)

    def _way_at(self, utc_s: float) -> _Way:
        self._position = sun.position(utc_s, self._latitude, self._longitude)
        direct_m2 = 0.0
        if self._position.elevation_deg > 0.0:
            for pane in self._panes:
                facing = irradiance.facing_cosine(self._position, pane.slope_deg, pane.azimuth_deg)
                if facing > 0.0:
                    lets_in = pane.transmittance * irradiance.passes(facing)
                    direct_m2 += self._kept * pane.area_m2 * lets_in * facing
        return _Way(direct_m2, self._sky_m2, self._ground_m2)
