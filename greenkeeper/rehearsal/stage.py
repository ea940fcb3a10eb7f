"""The house and the weather that settings and a weather file make.

Lives here: which weather, which panes, which vent. Does not live here: living through it
(run.py), and reading files.
"""

from collections.abc import Sequence

from greenkeeper.house.envelope import envelope
from greenkeeper.house.glass import Glass, Pane
from greenkeeper.house.invented_year import MOST_LATITUDE, InventedYear
from greenkeeper.house.network import Parameters
from greenkeeper.house.records.record import Record
from greenkeeper.house.wax import NO_WAX, Wax
from greenkeeper.house.weather import Weather
from greenkeeper.rehearsal.rig import RehearsalError
from greenkeeper.rehearsal.run import Stage
from greenkeeper.settings.house import House
from greenkeeper.settings.schema import Settings

# Where nobody says where the house stands: the demo's place, or as far south of the equator.
_LATITUDE, _LONGITUDE = 50.8, 4.4


def stage_of(
    settings: Settings, record: Record | None, months_c: Sequence[float] | None = None
) -> Stage:
    """record: None for the invented year. months_c: its twelve means, if not the site's.

    Raises RehearsalError for a place that has no invented year.
    """
    house = settings.house
    months_c = settings.site.monthly_mean_c if months_c is None else months_c
    latitude, longitude = place_of(settings, record, months_c)
    weather: Weather
    weather = _invented(latitude, longitude, months_c) if record is None else record
    reach = None if record is None else record.span
    return Stage(
        parameters=Parameters.from_settings(house),
        weather=weather,
        glass=None if "sun_share" in house.model_fields_set else _glass(house, latitude, longitude),
        wax=NO_WAX if house.wax_vent is None else Wax(house.wax_vent.from_c, house.wax_vent.open_c),
        earliest_utc_s=None if reach is None else reach[0],
        latitude=latitude,
        longitude=longitude,
    )


def _invented(latitude: float, longitude: float, months_c: Sequence[float] | None) -> InventedYear:
    """A year as warm on average as these months, and as different in summer and winter."""
    if abs(latitude) > MOST_LATITUDE:
        raise RehearsalError(
            f"the invented year ends at {MOST_LATITUDE:g} degrees of latitude: give a file of "
            "hours (--weather)"
        )
    if months_c is None:
        return InventedYear(latitude=latitude, longitude=longitude)
    return InventedYear(
        latitude=latitude,
        longitude=longitude,
        mean_c=sum(months_c) / len(months_c),
        swing_k=(max(months_c) - min(months_c)) / 2.0,
    )


def place_of(
    settings: Settings, record: Record | None, months_c: Sequence[float] | None
) -> tuple[float, float]:
    """Where the sun is followed from, latitude and longitude: the weather's own place, if it
    has one; else the site's; else one in the hemisphere of these months' summer."""
    if record is not None and record.place is not None:
        return record.place.latitude, record.place.longitude
    site = settings.site
    if site.latitude is None or site.longitude is None:
        south = record is None and months_c is not None and months_c[0] > months_c[6]
        return -_LATITUDE if south else _LATITUDE, _LONGITUDE
    return site.latitude, site.longitude


def _glass(house: House, latitude: float, longitude: float) -> Glass:
    """The sun through every clear surface. An owner who wrote sun_share knows better."""
    skin = envelope(house)
    return Glass(
        (
            Pane(each.area_m2, each.transmittance, each.slope_deg, each.azimuth_deg)
            for each in skin.surfaces
            if each.transmittance > 0.0
        ),
        skin.floor_m2,
        latitude,
        longitude,
    )
