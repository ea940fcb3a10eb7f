"""A wall's heat transfer from its layers, by ISO 6946.

Lives here: surface resistances, still air between layers, the sum. Does not live here:
which surface of the house it is (envelope.py), or makers' figures (materials.py).
"""

from typing import NamedTuple

from greenkeeper.settings.house import Layer

# ISO 6946, table 7: the inside surface for heat going up, sideways and down; outdoors for
# all three. From memory; 0.13 and 0.04 as a timber-element maker's EN ISO note quotes them.
INSIDE_UP_M2K_W = 0.10
INSIDE_SIDEWAYS_M2K_W = 0.13
INSIDE_DOWN_M2K_W = 0.17
OUTSIDE_M2K_W = 0.04

# The flow counts as sideways up to 30° from level (ISO 6946): of surfaces from 60° on.
UPRIGHT_FROM_DEG = 60.0

# ISO 6946, table 8: still air between ordinary surfaces, by its thickness in mm, for heat
# going sideways and up. From memory. Between the rows the standard interpolates.
_GAP_MM = (0.0, 5.0, 7.0, 10.0, 15.0, 25.0)
_GAP_SIDEWAYS = (0.00, 0.11, 0.13, 0.15, 0.17, 0.18)
_GAP_UP = (0.00, 0.11, 0.13, 0.15, 0.16, 0.16)
WIDEST_GAP_MM = 300.0

# W/(m K). EN ISO 10456 and EN 673 (glass), from memory: design values, dry.
CONDUCTIVITY_W_MK = {
    "brick": 0.77,
    "concrete": 2.0,
    "foam": 0.025,  # polyurethane or polyisocyanurate board
    "glass": 1.0,
    "mineral-wool": 0.037,
    "plywood": 0.13,
    "polycarbonate": 0.20,
    "polystyrene": 0.036,
    "softwood": 0.13,
}


class Step(NamedTuple):
    """One resistance of a wall, as the sheet shows it."""

    words: str
    r_m2k_w: float


def inside_m2k_w(slope_deg: float) -> float:
    """The inside surface's resistance: under a roof heat goes up, through a wall sideways."""
    return INSIDE_SIDEWAYS_M2K_W if slope_deg >= UPRIGHT_FROM_DEG else INSIDE_UP_M2K_W


def air_gap_m2k_w(thickness_mm: float, slope_deg: float = 90.0) -> float:
    """A closed layer of still air. Raises ValueError beyond WIDEST_GAP_MM: that is a room."""
    if not 0.0 <= thickness_mm <= WIDEST_GAP_MM:
        raise ValueError(f"an air gap of {thickness_mm} mm is none")
    known = _GAP_SIDEWAYS if slope_deg >= UPRIGHT_FROM_DEG else _GAP_UP
    for index in range(1, len(_GAP_MM)):
        low_mm, high_mm = _GAP_MM[index - 1], _GAP_MM[index]
        if thickness_mm <= high_mm:
            share = (thickness_mm - low_mm) / (high_mm - low_mm)
            return known[index - 1] + share * (known[index] - known[index - 1])
    return known[-1]


def foil_gap_m2k_w(emissivity: float, facing: float = 0.9) -> float:
    """Still air, 20 mm or more, beside a foil, for heat going sideways.

    ISO 6946, annex D, from memory: h = 1.25 by convection and E x 5.1 by radiation at 10 °C.
    """
    shared = 1.0 / (1.0 / emissivity + 1.0 / facing - 1.0)
    return 1.0 / (1.25 + shared * 5.1)


def steps(layers: tuple[Layer, ...], slope_deg: float) -> tuple[Step, ...]:
    """Every resistance from inside to outside, both surfaces included.

    Layers are given from outside to inside, as the settings have them, and complete:
    checks/house.py has seen to it.
    """
    inside = Step("inside surface", inside_m2k_w(slope_deg))
    outside = Step("outside surface", OUTSIDE_M2K_W)
    return (inside, *(_step(layer, slope_deg) for layer in reversed(layers)), outside)


def u_w_m2k(resistances: tuple[Step, ...]) -> float:
    return 1.0 / sum(step.r_m2k_w for step in resistances)


def _step(layer: Layer, slope_deg: float) -> Step:
    if layer.r_m2k_w is not None:
        return Step(layer.material or "layer", layer.r_m2k_w)
    if layer.thickness_mm is None:
        raise ValueError("a layer without a thickness and without a resistance")
    if layer.material == "air-gap":
        words = f"{layer.thickness_mm:g} mm of still air"
        return Step(words, air_gap_m2k_w(layer.thickness_mm, slope_deg))
    conductivity = layer.conductivity_w_mk or CONDUCTIVITY_W_MK.get(layer.material or "")
    if conductivity is None:
        raise ValueError("a layer without a material and without a conductivity")
    words = f"{layer.thickness_mm:g} mm of {layer.material or 'your own'}"
    return Step(f"{words} at {conductivity:g} W/(m K)", layer.thickness_mm / 1000.0 / conductivity)
