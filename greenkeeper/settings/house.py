"""The house's keys: its shape and skin, its improvements, and the figures of its model.

Lives here: what one key of `house:` may hold. Does not live here: which surfaces a shape
has (shapes.py), what a cover is worth (greenkeeper/house/materials.py), rules over several
keys (checks/house.py).
"""

from typing import Literal

from pydantic import Field

from greenkeeper.settings.basics import Checked, DiffK, Id, TempC

DAY_PATTERN = r"^(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$"

Shape = Literal["span", "lean-to", "tunnel", "listed"]

# What each is worth, and who says so: greenkeeper/house/materials.py; a test holds the
# names there to these.
Cover = Literal[
    "horticultural-glass",
    "glass-4",
    "double-glass",
    "film",
    "double-film",
    "twin-wall-4",
    "twin-wall-6",
    "twin-wall-8",
    "twin-wall-10",
    "triple-wall-16",
    "multi-wall-25",
    "boards-20",
    "brick-100",
    "brick-215",
]
Lining = Literal["bubble-film", "film-lining", "foil-bubble", "thermal-screen"]
LayerMaterial = Literal[
    "air-gap", "brick", "concrete", "foam", "glass", "mineral-wool", "plywood",
    "polycarbonate", "polystyrene", "softwood",
]  # fmt: skip
Tightness = Literal[
    "film", "sheet", "new-glass", "sealed-glass", "lapped-glass", "old-glass", "leaky-glass"
]
Edge = Literal["bare", "shallow", "deep"]


class Layer(Checked):
    """One layer of a wall, from outside to inside: a thickness of something, or a resistance."""

    material: LayerMaterial | None = Field(None, description="What it is made of.")
    thickness_mm: float | None = Field(None, ge=0.05, le=1000, description="How thick.")
    conductivity_w_mk: float | None = Field(
        None, ge=0.005, le=400, description="Of a material the table does not have."
    )
    r_m2k_w: float | None = Field(
        None, ge=0, le=20, description="Instead of all that: its thermal resistance."
    )


class Surface(Checked):
    """One surface of the skin, or what is different about one the shape has."""

    area_m2: float | None = Field(None, ge=0.01, le=1000, description="How large it is.")
    faces_deg: float | None = Field(
        None, ge=0, le=360, description="Compass bearing it looks to: 0 north, 90 east."
    )
    slope_deg: float | None = Field(
        None, ge=0, le=90, description="0 lies flat, 90 stands upright."
    )
    part_of: Id | None = Field(
        None, description="The surface it is a part of, as a door is: it takes its area from it."
    )
    cover: Cover | None = Field(None, description="Instead of the house's cover.")
    u_w_m2k: float | None = Field(
        None, ge=0.05, le=10, description="Heat it lets through: instead of a cover's."
    )
    transmittance: float | None = Field(
        None, ge=0, le=1, description="Sun it lets through: instead of a cover's."
    )
    layers: tuple[Layer, ...] = Field(
        (), strict=False, description="Instead of a cover: its layers, from outside to inside."
    )
    outdoor_share: float = Field(
        1.0, ge=0, le=1, description="1 outdoors, 0 against a room as warm as the house."
    )


class Improvement(Checked):
    """A change to the house: fitted already, or to be weighed by `greenkeeper season`."""

    on: tuple[Id, ...] = Field(
        (), strict=False, description="The surfaces it changes; without it, every clear one."
    )
    lining: Lining | None = Field(None, description="A layer added on the inside.")
    r_m2k_w: float | None = Field(
        None, ge=0.01, le=20, description="An added layer's thermal resistance."
    )
    cover: Cover | None = Field(None, description="A new cover in place of the old.")
    u_w_m2k: float | None = Field(
        None, ge=0.05, le=10, description="What the surface lets through once it is done."
    )
    light_share: float | None = Field(
        None, ge=0, le=1, description="Share of the light that still comes in."
    )
    air_changes_per_h: float | None = Field(
        None, ge=0, le=20, description="Once it is sealed so well."
    )
    edge: Edge | None = Field(None, description="Insulation along the floor's edge.")
    water_l: float | None = Field(None, ge=0, le=20_000, description="Water that stores warmth.")
    nights_only: bool = Field(False, description="true: laid in the evening, off by day.")
    from_: str | None = Field(
        None, alias="from", pattern=DAY_PATTERN, description="First day of the year it is there."
    )
    to: str | None = Field(None, pattern=DAY_PATTERN, description="Last day it is there.")
    price: float | None = Field(None, ge=0, le=1e6, description="What it costs to buy.")
    lasts_years: float | None = Field(None, ge=0.5, le=60, description="How long it lasts.")
    fitted: bool = Field(False, description="true: it is there already.")


class Tent(Checked):
    """An inner cover over one bench: a zone of its own, inside the house."""

    zone: Id = Field(description="The zone under it: its probes and its heater are there.")
    loss_w_per_k: float = Field(
        10.0, gt=0.1, le=1000, description="Between the air under it and the house's air."
    )
    holds_kj_per_k: float = Field(
        150.0, gt=1, le=1e5, description="Everything under it: trays, pots, mat, air."
    )
    sun_share: float = Field(0.1, ge=0, le=1, description="Of the sun inside, what falls under it.")


class WaxVent(Checked):
    """A vent that opens by itself, by a cylinder of wax; nothing switches it."""

    from_c: TempC = Field(18.0, ge=0, le=40, description="Where it begins to open.")
    open_c: TempC = Field(26.0, ge=5, le=50, description="Where it stands open.")


class House(Checked):
    """The house as numbers. Control works without them."""

    # Where nobody describes a house, an invented small one is meant, so that the demo shows
    # a believable night: 2.4 × 1.8 m under 16 m2 of 10 mm twin-wall sheet.
    # The air's figure holds a good part of the cover: air alone is a tenth of it, and would
    # make the heat jump. The mass: 30 pots of 5 l (0.45 MJ/K), 100 l of water (0.42 MJ/K)
    # and the floor as deep as a day's swing counts, 60 mm of moist soil (0.75 MJ/K).
    # The sun: cover and dirt let two thirds in and most of that stays as heat, but low winter
    # sun comes through the walls too, on far more than the floor (common practice, no source).
    # At -5 °C outside it falls to about -2 °C unheated; 1200 W hold 5 °C at half their time.
    length_m: float = Field(2.4, gt=0.3, le=30, description="Inside length of the floor.")
    width_m: float = Field(1.8, gt=0.3, le=15, description="Inside width of the floor.")
    shape: Shape = Field("span", description="How it is built, which says what surfaces it has.")
    eaves_m: float = Field(1.2, ge=0, le=6, description="Height of the upright sides.")
    ridge_m: float = Field(1.8, ge=0.5, le=10, description="Height at the highest line.")
    faces_deg: float = Field(
        180.0, ge=0, le=360, description="Compass bearing its front, a long side, looks to."
    )
    volume_m3: float | None = Field(
        None, ge=0.1, le=5000, description="Of the air inside; without it, from the shape."
    )
    cover: Cover = Field("twin-wall-10", description="What the skin is made of.")
    u_w_m2k: float | None = Field(
        None, ge=0.05, le=10, description="Heat the cover lets through, where you know better."
    )
    transmittance: float | None = Field(
        None, ge=0, le=1, description="Sun the cover lets through, where you know better."
    )
    frame_factor: float = Field(
        1.0, ge=1, le=1.5, description="What the bars add to the loss of what they hold."
    )
    surfaces: dict[Id, Surface] = Field(
        default_factory=dict, description="What is different, and what the shape does not have."
    )
    edge: Edge = Field("bare", description="How the floor's edge is insulated.")
    edge_w_mk: float | None = Field(
        None, ge=0, le=5, description="Loss along the edge, where you know better."
    )
    tightness: Tightness = Field("sheet", description="How tight it is, by its construction.")
    air_changes_per_h: float | None = Field(
        None, ge=0, le=20, description="Air changes, where you know better."
    )
    water_l: float = Field(0.0, ge=0, le=20_000, description="Water that stores warmth.")
    design_low_c: TempC = Field(
        -10.0, ge=-50, le=15, description="The coldest night the heater must be enough for."
    )
    heater_margin: float = Field(
        0.25, ge=0, le=1, description="What the heater should have to spare on that night."
    )
    improvements: dict[Id, Improvement] = Field(
        default_factory=dict, description="What was done, and what could be done."
    )
    # The figures of its model.
    loss_w_per_k: float | None = Field(
        None, gt=1, le=5000, description="Measured loss, air inside to air outside."
    )
    air_kj_per_k: float = Field(90.0, gt=1, le=1e5, description="Air, cover and light staging.")
    mass_kj_per_k: float = Field(1600.0, gt=1, le=1e6, description="Pots, soil, paving.")
    mass_w_per_k: float = Field(80.0, gt=1, le=1e4, description="Between air and that mass.")
    element_lag_s: float = Field(120.0, ge=0, le=3600, description="Heating element's lag.")
    probe_lag_s: float = Field(120.0, ge=0, le=3600, description="A probe's lag in still air.")
    sun_share: float = Field(0.8, ge=0, le=1, description="Of the sun on the floor, as heat.")
    fan_w_per_k: float = Field(250.0, ge=0, le=1e4, description="Extra loss while the fan runs.")
    vent_w_per_k: float = Field(150.0, ge=0, le=1e4, description="Extra loss while a vent is open.")
    ridge_k: DiffK = Field(1.0, ge=0, le=10, description="Ridge above bench at heat for 20 K.")
    ground_w_m2k: float = Field(
        0.0, ge=0, le=10, description="Between the floor and the soil a metre down."
    )
    sky_cooling: bool = Field(
        False, description="true: clear skies cool the skin below the air outside."
    )
    heater_under: Literal["bench", "roof"] = Field(
        "bench", description="Where its heat is given off."
    )
    tent: Tent | None = Field(None, description="An inner cover over one bench.")
    wax_vent: WaxVent | None = Field(None, description="A vent that opens by itself.")
