"""The house and the weather that settings and a weather file make.

Lives here: which weather, which panes, which vent. Does not live here: living through it
(run.py), and reading files.
"""

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

# Where nobody says where the house stands: the demo's place.
_LATITUDE, _LONGITUDE = 50.8, 4.4


def stage_of(settings: Settings, record: Record | None) -> Stage:
    """record: None for the invented year.

    Raises RehearsalError for a place that has no invented year.
    """
    house = settings.house
    latitude, longitude = _place(settings, record)
    weather: Weather
    if record is None:
        if abs(latitude) > MOST_LATITUDE:
            raise RehearsalError(
                f"the invented year ends at {MOST_LATITUDE:g} degrees of latitude: give a --weather"
            )
        weather = InventedYear(latitude=latitude, longitude=longitude)
    else:
        weather = record
    reach = None if record is None else record.span
    return Stage(
        parameters=Parameters.from_settings(house),
        weather=weather,
        glass=None if "sun_share" in house.model_fields_set else _glass(house, latitude, longitude),
        wax=NO_WAX if house.wax_vent is None else Wax(house.wax_vent.from_c, house.wax_vent.open_c),
        earliest_utc_s=None if reach is None else reach[0],
    )


def _place(settings: Settings, record: Record | None) -> tuple[float, float]:
    """Where the sun is followed from: the weather's own place, if it has one."""
    if record is not None and record.place is not None:
        return record.place.latitude, record.place.longitude
    site = settings.site
    if site.latitude is None or site.longitude is None:
        return _LATITUDE, _LONGITUDE
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
