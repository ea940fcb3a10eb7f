"""EnergyPlus weather files (EPW): eight lines of head, then a year of hours.

Source: U.S. DOE, EnergyPlus "Auxiliary Programs", section "EnergyPlus Weather File (EPW)
Data Dictionary". Its hours are local standard time, 1 to 24, and a row's radiation is
that of the hour which ends there.
"""

import csv
from collections.abc import Sequence

from greenkeeper.house.records import faults, sky
from greenkeeper.house.records.faults import WeatherError, shown
from greenkeeper.house.records.hourly import Column, Hour, Layout, Row, take_year
from greenkeeper.house.records.record import Columns, Place, Record

FIRST_WORD = "LOCATION"
_LAST_OF_HEAD = "DATA PERIODS"


def _hour_of(fields: Sequence[str]) -> Hour:
    return Hour(int(fields[1]), int(fields[2]), int(fields[3]))


_LAYOUT = Layout(
    fields=32,  # of 35: older files end before albedo and the amount of rain
    columns=(
        Column(faults.OUTDOOR, 6, "Dry Bulb Temperature", "99.9", needed=True),
        Column(faults.SKY, 12, "Horizontal Infrared Radiation Intensity", "9999"),
        Column(faults.SUN, 13, "Global Horizontal Radiation", "9999"),
        Column(faults.DIFFUSE, 15, "Diffuse Horizontal Radiation", "9999"),
        Column(faults.WIND, 21, "Wind Speed", "999"),
    ),
    hour_of=_hour_of,
    hour_cell="columns 2 to 4 (Month, Day, Hour)",
)


def parse(text: str, file: str) -> Record:
    """The year in this file. Raises WeatherError."""
    lines = text.splitlines()
    place = _place(lines[0], file)
    heads = [i for i, line in enumerate(lines[:20]) if line.upper().startswith(_LAST_OF_HEAD)]
    if not heads:
        raise WeatherError(
            file, f"no line '{_LAST_OF_HEAD}'", "the eight lines of head of an EPW file",
            hint="Was the file cut short? Fetch it again.",
        )  # fmt: skip
    head = heads[0]
    _only_hours(lines[head], file, head + 1)
    rows = [
        Row(number, line.split(","))
        for number, line in enumerate(lines[head + 1 :], head + 2)
        if line.strip()
    ]
    found = take_year(rows, _LAYOUT, file)
    sky_w_m2 = found.get("sky_w_m2")
    return Record(
        Columns(
            outdoor_c=found["outdoor_c"],
            sun_w_m2=found.get("sun_w_m2"),
            diffuse_w_m2=found.get("diffuse_w_m2"),
            wind_m_s=found.get("wind_m_s"),
            sky_c=None if sky_w_m2 is None else sky.temperatures_c(sky_w_m2),
        ),
        place=place,
        first_utc_s=None,
    )


def _place(line: str, file: str) -> Place:
    fields = next(csv.reader([line]), [])
    try:
        latitude, longitude, offset_h = (float(fields[i]) for i in (6, 7, 8))
    except (ValueError, IndexError):
        raise WeatherError(
            file, shown(line), "LOCATION with latitude, longitude and time zone", line=1
        ) from None
    return checked_place(", ".join(filter(None, (fields[1], fields[3]))), latitude, longitude,
                         offset_h, file)  # fmt: skip


def checked_place(
    name: str, latitude: float, longitude: float, offset_h: float, file: str
) -> Place:
    """Raises WeatherError for a place that is not on earth."""
    if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0 and abs(offset_h) <= 14.0):
        raise WeatherError(
            file, f"latitude {latitude:g}, longitude {longitude:g}, time zone {offset_h:g}",
            "-90 to 90 (north positive), -180 to 180 (east positive), -14 to 14 hours", line=1,
        )  # fmt: skip
    return Place(name, latitude, longitude, offset_h)


def _only_hours(line: str, file: str, number: int) -> None:
    fields = line.split(",")
    if len(fields) > 2 and fields[2].strip() != "1":
        raise WeatherError(
            file, f"{shown(fields[2])} records an hour", "1", line=number, cell="DATA PERIODS"
        )
