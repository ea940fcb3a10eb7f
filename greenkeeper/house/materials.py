"""What covers, linings, edges and ways of building are worth, each with its source.

Lives here: the built-in table. Does not live here: the names (settings/house.py, and a test
holds both together), or what a house makes of them (envelope.py).

The same nominal sheet varies by some 10 % between makers and ways of testing, and old
glass, a loose film or a wet lining by more: a measured house beats every table.
Sources in short: "extension" is the Extension Foundation's farm energy course, unit 2.6;
"Hands" G. Hands' glazing comparison, 2001; "maker" a polycarbonate sheet maker's table by
EN ISO 6946; "overview" a trade overview of covers; "memory" a handbook that was not at hand.
"""

from collections.abc import Mapping
from typing import NamedTuple

from greenkeeper.house.layers import (
    CONDUCTIVITY_W_MK,
    INSIDE_SIDEWAYS_M2K_W,
    OUTSIDE_M2K_W,
    foil_gap_m2k_w,
)


class CoverFigures(NamedTuple):
    u_w_m2k: float
    transmittance: float  # of the sun, new and clean
    source: str


class LiningFigures(NamedTuple):
    """A layer on the inside of a cover."""

    r_m2k_w: float
    light_share: float  # of the light that still comes in
    source: str


class AirFigures(NamedTuple):
    per_h: float
    source: str


class EdgeFigures(NamedTuple):
    w_mk: float  # along the floor's edge
    source: str


def _glass_u(thickness_mm: float) -> float:
    """EN 673's surfaces, 25 outside and 7.7 inside, and its 1.0 W/(m K) of glass."""
    return 1.0 / (1.0 / 25.0 + 1.0 / 7.7 + thickness_mm / 1000.0 / CONDUCTIVITY_W_MK["glass"])


def _solid_u(material: str, thickness_mm: float) -> float:
    through = thickness_mm / 1000.0 / CONDUCTIVITY_W_MK[material]
    return 1.0 / (INSIDE_SIDEWAYS_M2K_W + through + OUTSIDE_M2K_W)


_LAYERED = "ISO 6946 from its layers, conductivity from memory"

COVERS: Mapping[str, CoverFigures] = {
    "horticultural-glass": CoverFigures(_glass_u(3.0), 0.87, "3 mm by EN 673, memory; overview"),
    "glass-4": CoverFigures(_glass_u(4.0), 0.87, "EN 673, memory; overview"),
    "double-glass": CoverFigures(3.3, 0.72, "overview: 2.8 to 3.8, and 70 to 75 %"),
    "film": CoverFigures(6.8, 0.85, "extension: 5.7 to 6.8; overview: 80 to 90 %"),
    "double-film": CoverFigures(4.0, 0.70, "extension: 3.4 to 4.0; overview: 60 to 80 %"),
    "twin-wall-4": CoverFigures(3.77, 0.82, "maker"),
    "twin-wall-6": CoverFigures(3.33, 0.80, "maker"),
    "twin-wall-8": CoverFigures(3.04, 0.80, "maker"),
    "twin-wall-10": CoverFigures(2.83, 0.80, "maker"),
    "triple-wall-16": CoverFigures(2.10, 0.73, "maker"),
    "multi-wall-25": CoverFigures(1.6, 0.68, "Hands"),
    "boards-20": CoverFigures(_solid_u("softwood", 20.0), 0.0, _LAYERED),
    "brick-100": CoverFigures(_solid_u("brick", 100.0), 0.0, _LAYERED),
    "brick-215": CoverFigures(_solid_u("brick", 215.0), 0.0, _LAYERED),
}

# What brings the one coefficient down to the other.
_BUBBLES = 1.0 / 4.2 - 1.0 / 5.5
_FILM = 1.0 / 4.8 - 1.0 / 6.4
_SCREEN = 1.0 / 2.8 - 1.0 / 6.4

LININGS: Mapping[str, LiningFigures] = {
    "bubble-film": LiningFigures(_BUBBLES, 0.90, "Hands: 5.5 to 4.2 on glass; RHS: 10 % of light"),
    "film-lining": LiningFigures(_FILM, 0.90, "glass 6.4 to 4.8, ASHRAE, memory; light: guess"),
    "thermal-screen": LiningFigures(_SCREEN, 0.0, "glass 6.4 to 2.8, ASABE EP406, memory"),
    "foil-bubble": LiningFigures(
        foil_gap_m2k_w(0.2), 0.0, "ISO 6946 annex D, memory: dusty foil, 20 mm of still air"
    ),
}

# Of classes with a range, the middle.
AIR_CHANGES: Mapping[str, AirFigures] = {
    "film": AirFigures(0.75, "new double film 0.5 to 1.0: ASABE EP406, memory"),
    "sheet": AirFigures(1.0, "structured sheet: ASHRAE, memory"),
    "new-glass": AirFigures(1.1, "new glass 0.75 to 1.5: ASABE EP406, memory"),
    "sealed-glass": AirFigures(1.0, "glass, laps sealed: ASHRAE, memory"),
    "lapped-glass": AirFigures(1.25, "glass, lapped: ASHRAE, memory"),
    "old-glass": AirFigures(1.5, "old glass in good repair 1 to 2: ASABE EP406, memory"),
    "leaky-glass": AirFigures(3.0, "old glass in poor repair 2 to 4: ASABE EP406, memory"),
}

# Btu/(h ft F) into W/(m K) is 1.7307. Insulation of 1.76 m2 K/W, upright.
_CODE = "Washington energy code, table A106.1"
EDGES: Mapping[str, EdgeFigures] = {
    "bare": EdgeFigures(0.73 * 1.7307, f"{_CODE}: 0.73 Btu/(h ft F)"),
    "shallow": EdgeFigures(0.54 * 1.7307, f"{_CODE}: 0.6 m deep, 0.54"),
    "deep": EdgeFigures(0.48 * 1.7307, f"{_CODE}: 1.2 m deep, 0.48"),
}
