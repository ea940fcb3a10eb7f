"""Typical meteorological years, third edition (TMY3): two lines of head, a year of hours.

Source: S. Wilcox & W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156 (2008).
Its hours are local standard time; a row's radiation is that of the hour before its time.
"""

import csv
from collections.abc import Sequence

from greenkeeper.house.records import faults, sky
from greenkeeper.house.records.epw import checked_place
from greenkeeper.house.records.faults import WeatherError, shown
from greenkeeper.house.records.hourly import Column, Hour, Layout, Row, take_year
from greenkeeper.house.records.record import Columns, Place, Record

SECOND_LINE = "Date (MM/DD/YYYY)"


def _hour_of(fields: Sequence[str]) -> Hour:
    month, day, year = (int(part) for part in fields[0].split("/"))
    hour, minute = (int(part) for part in fields[1].split(":"))
    if minute != 0 or ((month, day) == (2, 29) and year % 4):
        raise ValueError
    return Hour(month, day, hour)


_LAYOUT = Layout(
    fields=47,  # to the wind; the rest is not read
    columns=(
        Column(faults.SUN, 4, "GHI", "-9900"),
        Column(faults.DIFFUSE, 10, "DHI", "-9900"),
        Column(faults.CLOUD, 25, "TotCld", "-9900"),
        Column(faults.OUTDOOR, 31, "Dry-bulb", "-9900", needed=True),
        Column(faults.DEW_POINT, 34, "Dew-point", "-9900"),
        Column(faults.WIND, 46, "Wspd", "-9900"),
    ),
    hour_of=_hour_of,
    hour_cell="columns 1 and 2 (Date, Time)",
)


def parse(text: str, file: str) -> Record:
    """The year in this file. Raises WeatherError."""
    lines = text.splitlines()
    place = _place(lines[0], file)
    rows = [
        Row(number, line.split(",")) for number, line in enumerate(lines[2:], 3) if line.strip()
    ]
    found = take_year(rows, _LAYOUT, file)
    dew, cloud = found.get("dew_point_c"), found.get("cloud_tenths")
    sky_c = None
    if dew is not None and cloud is not None:
        sky_c = sky.from_clouds_c(found["outdoor_c"], dew, cloud)
    return Record(
        Columns(
            outdoor_c=found["outdoor_c"],
            sun_w_m2=found.get("sun_w_m2"),
            diffuse_w_m2=found.get("diffuse_w_m2"),
            wind_m_s=found.get("wind_m_s"),
            sky_c=sky_c,
        ),
        place=place,
        first_utc_s=None,
    )


def _place(line: str, file: str) -> Place:
    fields = next(csv.reader([line]), [])
    try:
        offset_h, latitude, longitude = (float(fields[i]) for i in (3, 4, 5))
    except (ValueError, IndexError):
        raise WeatherError(
            file, shown(line), "station, name, state, time zone, latitude, longitude", line=1
        ) from None
    name = ", ".join(filter(None, (fields[1].title(), fields[2])))
    return checked_place(name, latitude, longitude, offset_h, file)
