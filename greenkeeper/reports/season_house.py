"""The heated house as `season` looks at it: what is held, by which heater, against what.

Lives here: settings into the few facts that sheet and season share. Does not live here:
physics (house/), words and tables (season_sheet.py).

All zones stand in one house with one air, as far as heat losses go. The zone with the
strongest heater is the one the house is kept for; a warmed mat or a case within it heats
little beside that.
"""

from collections.abc import Collection
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.house.envelope import Envelope, envelope, fitted
from greenkeeper.house.heatloss import Heater
from greenkeeper.house.seasonal import NORTHERN_MIDWINTER, SOUTHERN_MIDWINTER, in_force
from greenkeeper.settings import derived
from greenkeeper.settings.schema import Settings


class Held(NamedTuple):
    """A zone, its setpoints in °C, and what heats it."""

    zone: str
    day_c: float
    night_c: float
    heater: str
    power_w: float | None
    vent_c: float | None  # where cooling begins; None: nothing cools the zone
    second: str | None = None  # another heater, whose power counts as well
    stands_by: str | None = None  # another, which only takes the place of the one

    @property
    def has(self) -> str:
        """Whose the power is, and the verb to it."""
        if self.second is not None:
            return f"{self.heater} and {self.second} together have"
        if self.stands_by is not None:
            return f"the stronger of {self.heater} and {self.stands_by} has"
        return f"{self.heater} has"

    @property
    def highest_c(self) -> float:
        return max(self.day_c, self.night_c)


def held(settings: Settings, zone: str | None = None) -> Held:
    """Raises GreenkeeperError where nothing is heated, or not to a setpoint that is known."""
    found = [each for name in settings.zones if (each := _held(settings, name)) is not None]
    if zone is not None:
        if zone not in settings.zones:
            known = ", ".join(settings.zones)
            raise GreenkeeperError(f"there is no zone '{zone}'; the settings have {known}")
        found = [each for each in found if each.zone == zone]
    if not found:
        where = "no zone is" if zone is None else f"zone '{zone}' is not"
        raise GreenkeeperError(
            f"{where} heated to a setpoint that is known: write zones.ZONE.heat with "
            "setpoint_c, or with setpoint: from-plants and a plant that has a minimum"
        )
    return max(found, key=lambda each: each.power_w or 0.0)


def _held(settings: Settings, zone: str) -> Held | None:
    heat = settings.zones[zone].heat
    if heat is None:
        return None
    day_c = derived.heat_setpoint_c(settings, zone, night=False)
    night_c = derived.heat_setpoint_c(settings, zone, night=True)
    known = [each for each in (day_c, night_c) if each is not None]
    if not known:
        return None
    power_w = derived.heat_power_w(settings, heat)
    return Held(
        zone,
        known[0] if day_c is None else day_c,
        known[-1] if night_c is None else night_c,
        heat.output,
        power_w,
        derived.cool_setpoint_c(settings, zone, night=False),
        second=heat.second_output if derived.bears_both(settings, heat) else None,
        stands_by=None if derived.bears_both(settings, heat) else heat.second_output,
    )


def described(settings: Settings) -> Envelope:
    """The house in a midwinter's night, with everything fitted that is there then.

    Raises GreenkeeperError for settings that describe no house: the default is nobody's.
    """
    written = settings.house.model_fields_set
    if not {"length_m", "width_m"} <= written:
        raise GreenkeeperError(
            "the settings describe no house: write house: with length_m, width_m, shape, "
            "eaves_m, ridge_m and cover (config/greenkeeper.yaml explains them)"
        )
    return in_midwinter(settings, fitted(settings.house))


def in_midwinter(settings: Settings, improvements: Collection[str]) -> Envelope:
    """The house with those of these improvements that are there in a midwinter's night."""
    south = settings.site.latitude is not None and settings.site.latitude < 0.0
    day = SOUTHERN_MIDWINTER if south else NORTHERN_MIDWINTER
    names = in_force(settings.house, improvements, day, dark=True)
    return envelope(settings.house, names)


def loss_factor(settings: Settings, sheet: Envelope) -> float:
    """What a measured loss makes of the sheet's: 1 where none was written."""
    measured = settings.house.loss_w_per_k
    return 1.0 if measured is None else measured / sheet.loss_w_k


def heater(settings: Settings, who: Held, loss_w_k: float) -> Heater:
    house = settings.house
    return Heater(who.highest_c, house.design_low_c, loss_w_k, house.heater_margin, who.power_w)
