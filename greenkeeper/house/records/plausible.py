"""Whether a record can be the weather of its place.

Lives here: what only the whole shows: the sun at night, summer in the wrong half of the
year, and winters that no °C could be. Does not live here: single values (faults.py).
"""

from greenkeeper import sun
from greenkeeper.house.records.faults import WeatherError
from greenkeeper.house.records.record import Place, Record
from greenkeeper.house.records.summary import monthly_means_c
from greenkeeper.house.weather import DAY_S

# The sun's middle of an hour in which it rises may lie below the horizon; so much of the
# year's energy may not.
_NIGHT_DEG = -2.0
_NIGHT_SHARE = 0.02

_NO_SEASONS_DEG = 20.0  # nearer the equator the rains make the seasons
_CLEARLY_K = 2.0

# So far from the equator no winter month is as warm; the same figures in °F are usual there.
# Common practice, no source.
_WINTERS_DEG = 30.0
_WARMEST_WINTER_C = 25.0


def check(record: Record, place: Place | None, file: str) -> None:
    """Raises WeatherError. place: the record's own, or the settings' where it has none."""
    if place is None:
        return
    _check_seasons(record, place, file)
    _check_winter(record, place, file)
    _check_nights(record, place, file)


def _check_winter(record: Record, place: Place, file: str) -> None:
    if abs(place.latitude) < _WINTERS_DEG:
        return
    winter = (12, 1, 2) if place.latitude > 0.0 else (6, 7, 8)
    for (year, month), mean_c in monthly_means_c(record).items():
        if month in winter and mean_c > _WARMEST_WINTER_C:
            raise WeatherError(
                file, f"a mean of {mean_c:.1f} °C in month {month} of {year}, in winter at "
                f"latitude {place.latitude:g}",
                f"up to {_WARMEST_WINTER_C:g} °C",
                hint="Are these degrees Fahrenheit? The column outdoor_c takes °C.",
            )  # fmt: skip


def _check_seasons(record: Record, place: Place, file: str) -> None:
    if abs(place.latitude) < _NO_SEASONS_DEG or len(record) * record.step_s < 360.0 * DAY_S:
        return
    means_c = {month: mean_c for (_, month), mean_c in monthly_means_c(record).items()}
    northern = sum(means_c[m] for m in (6, 7, 8)) - sum(means_c[m] for m in (12, 1, 2))
    if northern / 3.0 * (1.0 if place.latitude > 0.0 else -1.0) < -_CLEARLY_K:
        warmer = "June to August" if northern > 0.0 else "December to February"
        raise WeatherError(
            file, f"{warmer} as the warmest season at latitude {place.latitude:g}",
            "summer in the hemisphere's own half of the year",
            hint="Is the latitude's sign right? North is positive, south is negative.",
        )  # fmt: skip


def _check_nights(record: Record, place: Place, file: str) -> None:
    column = record.columns.sun_w_m2
    if column is None:
        return
    by_night = total = 0.0
    for row, sun_w_m2 in enumerate(column):
        if sun_w_m2 > 0.0:
            total += sun_w_m2
            middle_s = record.row_utc_s(row) - 0.5 * record.step_s
            if sun.elevation_deg(middle_s, place.latitude, place.longitude) < _NIGHT_DEG:
                by_night += sun_w_m2
    if by_night > _NIGHT_SHARE * total:
        raise WeatherError(
            file,
            f"{100.0 * by_night / total:.0f} % of the sun's energy while the sun is down "
            f"at latitude {place.latitude:g}, longitude {place.longitude:g}",
            f"up to {100.0 * _NIGHT_SHARE:g} %",
            hint="Is the longitude's sign right (east is positive), and the time zone?",
        )
