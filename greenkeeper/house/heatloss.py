"""Where the warmth goes, line by line, and what a heater must be able to do.

Lives here: W/K by line of an envelope, and the power for a design low. Does not live here:
how the coefficients come about (envelope.py), a season's energy (seasonal.py), any words.
"""

from typing import NamedTuple

from greenkeeper.house.envelope import AIR_WH_M3K, Envelope

WATER_J_L_K = 4186.0  # J/(l K)

# A 208 l drum hands on 40 Btu/(h F) to the air (N. Pine, forum post on an 8 x 16 ft greenhouse).
WATER_W_K_L = 40.0 * 0.5275 / 208.0
J_PER_KWH = 3.6e6


EDGE, AIR = "floor edge", "air exchange"  # names of lines that are no surface's


class Line(NamedTuple):
    """amount times coefficient times outdoor_share is w_k."""

    name: str
    amount: float
    amount_unit: str
    coefficient: float
    coefficient_unit: str
    outdoor_share: float
    w_k: float


class Heater(NamedTuple):
    """What holding a temperature takes on the design night, and whether there is enough."""

    inside_c: float
    outside_c: float
    loss_w_k: float
    margin: float
    has_w: float | None  # None: no heater, or one whose power nobody wrote

    @property
    def needs_w(self) -> float:
        return max(0.0, (self.inside_c - self.outside_c) * self.loss_w_k)

    @property
    def wants_w(self) -> float:
        """With the margin."""
        return self.needs_w * (1.0 + self.margin)

    @property
    def spare(self) -> float | None:
        """What it has over what is needed, as a share of the need; negative: it lacks so much."""
        if self.has_w is None or self.needs_w == 0.0:
            return None
        return self.has_w / self.needs_w - 1.0

    @property
    def keeps_c(self) -> float | None:
        """What it holds inside on the design night, going all the time."""
        return None if self.has_w is None else self.outside_c + self.has_w / self.loss_w_k

    @property
    def holds_down_to_c(self) -> float | None:
        """The coldest outside at which it can still hold inside_c, going all the time."""
        return None if self.has_w is None else self.inside_c - self.has_w / self.loss_w_k


def lines(envelope: Envelope) -> tuple[Line, ...]:
    """Every surface, then the edge and the air. Together they are envelope.loss_w_k."""
    skin = (
        Line(each.name, each.area_m2, "m2", each.u_w_m2k, "W/(m2 K)", each.outdoor_share,
             each.loss_w_k)
        for each in envelope.surfaces
    )  # fmt: skip
    edge = Line(EDGE, envelope.edge_m, "m", envelope.edge_w_mk, "W/(m K)", 1.0, envelope.edge_w_k)
    air_m3_h = envelope.volume_m3 * envelope.air_changes_per_h
    air = Line(AIR, air_m3_h, "m3/h", AIR_WH_M3K, "Wh/(m3 K)", 1.0, envelope.air_w_k)
    return (*skin, edge, air)


def water_kwh_k(litres: float) -> float:
    """What a store of water takes up for each kelvin, in kWh."""
    return litres * WATER_J_L_K / J_PER_KWH
