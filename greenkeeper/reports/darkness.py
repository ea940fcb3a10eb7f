"""When the sun is down at the site.

Lives here: the hours around a midnight in which the sun is below some height. Does not live
here: where the sun stands (sun.py), what is made of those hours.
"""

from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.errors import GreenkeeperError
from greenkeeper.settings.schema import Settings

DAY_S = 86_400.0
LOOK_S = 300.0  # so finely its crossings are sought


class Place(NamedTuple):
    latitude: float
    longitude: float

    def midnight_s(self, utc_s: float) -> float:
        """The sun's midnight in the UTC day of this moment."""
        return utc_s // DAY_S * DAY_S - self.longitude * 240.0


class NothingToReckonError(GreenkeeperError):
    """Nothing is wrong, and a timer need not fail for it: the journal is young, the settings do
    not say enough, the sun does not set. In words, what is missing."""


def place(settings: Settings, why: str) -> Place:
    """why: what it is needed for. Raises NothingToReckonError where the settings do not say."""
    site = settings.site
    if site.latitude is None or site.longitude is None:
        raise NothingToReckonError(
            f"site.latitude and site.longitude are missing in the settings: without them {why}"
        )
    return Place(site.latitude, site.longitude)


def around(where: Place, midnight_s: float, below_deg: float) -> tuple[float, float] | None:
    """From when to when the sun is not above below_deg. None: it is at midnight, or is not
    within half a day of it (the polar night: nothing of it is a night by itself)."""
    if sun.elevation_deg(midnight_s, *where) > below_deg:
        return None
    dusk_s = crossed(where, midnight_s, -LOOK_S, below_deg)
    dawn_s = crossed(where, midnight_s, LOOK_S, below_deg)
    return None if dusk_s is None or dawn_s is None else (dusk_s, dawn_s)


def crossed(where: Place, from_s: float, step_s: float, above_deg: float) -> float | None:
    """The first look, going on by step_s for half a day, at a sun above above_deg."""
    for look in range(1, int(DAY_S / 2.0 / abs(step_s)) + 1):
        at_s = from_s + look * step_s
        if sun.elevation_deg(at_s, *where) > above_deg:
            return at_s
    return None
