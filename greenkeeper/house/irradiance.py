"""What falls on a surface, and what of it gets through a pane.

Lives here: splitting the sun on level ground into its direct and its diffuse part, both
on a plane of any slope and azimuth, and how a pane passes less at a glancing angle. Does
not live here: where the sun stands (sun.py), and which surfaces a house has.

Angles in degrees; azimuths clockwise from north, where a surface faces; slope 0 lies
level and looks up, 90 is a wall. Irradiance in W/m².
"""

import math
from typing import NamedTuple

from greenkeeper.sun import Position

# Of level ground round a house: grass, soil, paving. Snow has 0.6 and more. Common
# practice, and the default of most solar software.
GROUND_REFLECTS = 0.2

# Where the sun is lower than this, dividing by its sine would make a direct beam of noise.
_LOWEST_DEG = 3.0

_SOLAR_CONSTANT_W_M2 = 1366.1  # ASTM E490
_YEAR_S = 365.25 * 86_400.0

# Souka and Safwat's form for a pane: 1 - b (1 / cos(angle) - 1), with b 0.1 for one
# sheet of glass (ASHRAE Standard 93; from memory).
_PANE_B = 0.1
DIFFUSE_PASSES = 0.9  # the same at 60°, which stands for a sky (Duffie & Beckman; from memory)


# Kasten & Czeplak, Solar Energy 24 (1980) 177 (from memory).
_CLOUDS_HOLD, _CLOUDS_POWER = 0.75, 3.4


class Irradiance(NamedTuple):
    """The sun's strength at one moment."""

    level_w_m2: float  # all of it, on level ground
    direct_w_m2: float  # the beam, square to it
    diffuse_w_m2: float  # from the sky, on level ground


NO_SUN = Irradiance(0.0, 0.0, 0.0)


def beyond_air_w_m2(utc_s: float) -> float:
    """Square to the sun above the atmosphere: 3.3 % more in January than on average.

    Source: Duffie & Beckman, Solar Engineering of Thermal Processes, eq. 1.4.1a (from memory).
    """
    return _SOLAR_CONSTANT_W_M2 * (1.0 + 0.033 * math.cos(math.tau * _day_of_year(utc_s) / 365.0))


def split(level_w_m2: float, sun: Position, utc_s: float) -> Irradiance:
    """Direct and diffuse of a level measurement, by how clear the air must have been.

    Source: Erbs, Klein & Duffie, Solar Energy 28 (1982) 293, as in pvlib.irradiance.erbs,
    against which tests/house/test_irradiance.py holds it.
    """
    sine = math.sin(math.radians(sun.elevation_deg))
    if level_w_m2 <= 0.0:
        return NO_SUN
    if sun.elevation_deg <= _LOWEST_DEG:
        return Irradiance(level_w_m2, 0.0, level_w_m2)
    clear = min(1.0, level_w_m2 / (beyond_air_w_m2(utc_s) * sine))
    diffuse_w_m2 = level_w_m2 * _diffuse_share(clear)
    return Irradiance(level_w_m2, (level_w_m2 - diffuse_w_m2) / sine, diffuse_w_m2)


def told_apart(level_w_m2: float, diffuse_w_m2: float, sun: Position) -> Irradiance:
    """Where both were measured. A sun near the horizon is all sky: its beam is noise."""
    diffuse_w_m2 = min(diffuse_w_m2, level_w_m2)
    if sun.elevation_deg <= _LOWEST_DEG:
        return Irradiance(level_w_m2, 0.0, level_w_m2)
    direct_w_m2 = (level_w_m2 - diffuse_w_m2) / math.sin(math.radians(sun.elevation_deg))
    return Irradiance(level_w_m2, direct_w_m2, diffuse_w_m2)


def clear_sky_w_m2(sine: float) -> float:
    """On level ground under a clear sky; sine: of the sun's elevation. Haurwitz (1945), from
    memory."""
    return 1098.0 * sine * math.exp(-0.057 / sine) if sine > 0.0 else 0.0


def through_clouds(share: float) -> float:
    """What of that gets through, share of the sky being clouded: Kasten & Czeplak (1980), from
    memory."""
    return 1.0 - _CLOUDS_HOLD * math.pow(share, _CLOUDS_POWER)


def clouded_share(through: float) -> float:
    """The other way round."""
    return math.pow(min(1.0, max(0.0, (1.0 - through) / _CLOUDS_HOLD)), 1.0 / _CLOUDS_POWER)


def _diffuse_share(clear: float) -> float:
    if clear <= 0.22:
        return 1.0 - 0.09 * clear
    if clear > 0.80:
        return 0.165
    return 0.9511 + clear * (-0.1604 + clear * (4.388 + clear * (-16.638 + clear * 12.336)))


def on_plane(sun: Position, sky: Irradiance, slope_deg: float, azimuth_deg: float) -> Irradiance:
    """The same on a plane: all of it, the beam's part, and the part from sky and ground.

    The sky is as bright everywhere (Liu & Jordan 1960): on the safe side in winter, when
    the brighter ring round the sun would add some percent to a south wall.
    """
    facing = facing_cosine(sun, slope_deg, azimuth_deg) if sun.elevation_deg > 0.0 else 0.0
    beam_w_m2 = sky.direct_w_m2 * max(0.0, facing)
    seen = 0.5 * (1.0 + math.cos(math.radians(slope_deg)))
    around_w_m2 = sky.diffuse_w_m2 * seen + sky.level_w_m2 * GROUND_REFLECTS * (1.0 - seen)
    return Irradiance(beam_w_m2 + around_w_m2, beam_w_m2, around_w_m2)


def facing_cosine(sun: Position, slope_deg: float, azimuth_deg: float) -> float:
    """Cosine of the angle between the sun and the plane's normal: 1 is square on, below 0
    the sun stands behind it."""
    elevation, slope = math.radians(sun.elevation_deg), math.radians(slope_deg)
    aside = math.radians(sun.azimuth_deg - azimuth_deg)
    return math.sin(elevation) * math.cos(slope) + math.cos(elevation) * math.sin(slope) * math.cos(
        aside
    )


def passes(facing: float) -> float:
    """Of what a pane lets through square on, the share at this facing_cosine: 0 to 1."""
    if facing <= _PANE_B / (1.0 + _PANE_B):
        return 0.0
    return 1.0 - _PANE_B * (1.0 / facing - 1.0)


def _day_of_year(utc_s: float) -> float:
    # 1 January 1970 was a day 1; leap days move this by a day at most, and the sun by nothing.
    return 1.0 + (utc_s % _YEAR_S) / 86_400.0
