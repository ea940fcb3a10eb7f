"""Weather that was written down, as weather at any moment.

Lives here: the record itself, the place it was taken at, and what lies between its rows.
Does not live here: file formats, and judging whether it makes sense (plausible.py).

A row's temperature, wind and sky stand for the row's moment; its sun is the mean over the
step that ends there, as in EPW and TMY3 files. Between rows all are straight lines, the
sun between the middles of its steps, so that the energy of a day is kept.
"""

import math
import time
from typing import NamedTuple

from greenkeeper.house import soil
from greenkeeper.house.weather import DAY_S, Surroundings
from greenkeeper.house.wind import USUAL_M_S

HOUR_S = 3600.0

_LAST_OF_FEBRUARY = 59  # days of a common year before 1 March


class Place(NamedTuple):
    """Where a record was taken, and the standard time its hours are in."""

    name: str
    latitude: float
    longitude: float
    utc_offset_h: float


class Columns(NamedTuple):
    """A record's rows, one below the other. None: the file does not say."""

    outdoor_c: list[float]
    sun_w_m2: list[float] | None = None
    diffuse_w_m2: list[float] | None = None
    wind_m_s: list[float] | None = None
    sky_c: list[float] | None = None


class Record:
    """Weather at a place. Typical years come again every year; a measured span does not."""

    def __init__(
        self,
        columns: Columns,
        *,
        place: Place | None,
        first_utc_s: float | None,
        step_s: float = HOUR_S,
    ) -> None:
        """first_utc_s: the moment of the first row; None for a typical year, whose first
        row ends at 01:00 on 1 January, local standard time of its place."""
        self.columns = columns
        self.place = place
        self.step_s = step_s
        self.typical = first_utc_s is None
        self._first_utc_s = 0.0 if first_utc_s is None else first_utc_s
        self._rows = len(columns.outdoor_c)
        self._leap = self.typical and self._rows == 366 * 24
        self._offset_s = 3600.0 * place.utc_offset_h if place is not None else 0.0
        self._ground = _Ground(self)

    def __len__(self) -> int:
        return self._rows

    @property
    def span(self) -> tuple[float, float] | None:
        """From and to which UTC it reaches; None: a typical year reaches everywhere."""
        if self.typical:
            return None
        return self._first_utc_s, self._first_utc_s + (self._rows - 1) * self.step_s

    def row_utc_s(self, row: int, year: int = 2025) -> float:
        """The moment of a row; of a typical year, the one in this year."""
        if not self.typical:
            return self._first_utc_s + row * self.step_s
        day, hour = divmod(row, 24)
        if day >= _LAST_OF_FEBRUARY:
            day += int(_is_leap(year)) - int(self._leap)
        return _new_year_s(year) - self._offset_s + day * DAY_S + (hour + 1) * HOUR_S

    def local_s(self, row: int) -> float:
        """The same in the standard time of its place: for days and months."""
        return self.row_utc_s(row) + self._offset_s

    def at(self, utc_s: float) -> Surroundings:
        """Raises ValueError for a moment a measured span does not reach."""
        position = self._position(utc_s)
        outdoor_c, sun, diffuse, wind, sky = self.columns
        before, after, share = self._between(position)
        now_c = outdoor_c[before] + (outdoor_c[after] - outdoor_c[before]) * share
        wind_m_s, sky_c = USUAL_M_S, None
        if wind is not None:
            wind_m_s = wind[before] + (wind[after] - wind[before]) * share
        if sky is not None:
            sky_c = sky[before] + (sky[after] - sky[before]) * share
        sun_w_m2, diffuse_w_m2 = 0.0, None
        if sun is not None:
            before, after, share = self._between(position + 0.5)
            sun_w_m2 = sun[before] + (sun[after] - sun[before]) * share
            if diffuse is not None:
                diffuse_w_m2 = diffuse[before] + (diffuse[after] - diffuse[before]) * share
        return Surroundings(now_c, sun_w_m2, wind_m_s, sky_c, diffuse_w_m2, self._ground.at(utc_s))

    def _position(self, utc_s: float) -> float:
        """Rows after the first one, a fraction included."""
        if self.typical:
            return self._second_of_year(utc_s) / self.step_s - 1.0
        position = (utc_s - self._first_utc_s) / self.step_s
        if not -1e-6 <= position <= self._rows - 1 + 1e-6:
            raise ValueError("the record does not reach that moment")
        return position

    def _between(self, position: float) -> tuple[int, int, float]:
        """The rows on either side, and how far it is from the first to the second."""
        before = math.floor(position)
        share = position - before
        if self.typical:
            return before % self._rows, (before + 1) % self._rows, share
        last = self._rows - 1
        return max(0, min(last, before)), max(0, min(last, before + 1)), share

    def _second_of_year(self, utc_s: float) -> float:
        """Of the record's own year: 29 February is what it has of it, or the day before."""
        local_s = utc_s + self._offset_s
        moment = time.gmtime(local_s)
        day = moment.tm_yday - 1
        if day >= _LAST_OF_FEBRUARY:
            day += int(self._leap) - int(_is_leap(moment.tm_year))
        return day * DAY_S + local_s % DAY_S


class _Ground:
    """The soil a metre down: the year's wave, smaller and later (soil.py).

    A record of less than a year has its own mean and no wave.
    """

    def __init__(self, record: Record) -> None:
        temps_c = record.columns.outdoor_c
        count = len(temps_c)
        self._mean_c = sum(temps_c) / count
        self._year_s = 365.2425 * DAY_S
        whole = count * record.step_s >= 360.0 * DAY_S
        self._swing_k, self._coldest_s = 0.0, 0.0
        if whole:
            angle = math.tau * record.step_s / self._year_s
            cosine = 2.0 / count * sum(c * math.cos(angle * i) for i, c in enumerate(temps_c))
            sine = 2.0 / count * sum(c * math.sin(angle * i) for i, c in enumerate(temps_c))
            wave = soil.at_depth(soil.GROUND_DEPTH_M)
            self._swing_k = math.hypot(cosine, sine) * wave.share
            warmest = math.atan2(sine, cosine) + wave.later
            self._coldest_s = record.row_utc_s(0) + (warmest + math.pi) / math.tau * self._year_s

    def at(self, utc_s: float) -> float:
        if self._swing_k == 0.0:
            return self._mean_c
        return self._mean_c - self._swing_k * math.cos(
            math.tau * (utc_s - self._coldest_s) / self._year_s
        )


def _new_year_s(year: int) -> float:
    days = (year - 1970) * 365 + (year - 1969) // 4 - (year - 1901) // 100 + (year - 1601) // 400
    return days * DAY_S


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
