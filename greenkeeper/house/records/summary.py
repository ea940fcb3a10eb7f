"""What a record holds, told in one pass: how long, how cold, how much heat it asks for.

Lives here: figures of the weather alone. Does not live here: any house.
"""

import time
from typing import NamedTuple

from greenkeeper.house.records.record import HOUR_S, Record


class Summary(NamedTuple):
    rows: int
    hours: float
    mean_c: float
    lowest_c: float
    lowest_row: int
    highest_c: float
    frost_h: float  # hours below 0 °C
    below_h: float  # hours below the base
    degree_hours_kh: float  # below the base
    has_sun: bool
    has_wind: bool
    has_sky: bool


def summary(record: Record, base_c: float = 5.0) -> Summary:
    """base_c: what a house is to be held at, whose degree hours are wanted."""
    hours_a_row = record.step_s / HOUR_S
    lowest_c, highest_c, lowest_row = float("inf"), float("-inf"), 0
    total = degree_hours = 0.0
    frost = below = 0
    for row, temp_c in enumerate(record.columns.outdoor_c):
        total += temp_c
        if temp_c < lowest_c:
            lowest_c, lowest_row = temp_c, row
        highest_c = max(highest_c, temp_c)
        frost += temp_c < 0.0
        if temp_c < base_c:
            below += 1
            degree_hours += base_c - temp_c
    rows = len(record)
    return Summary(
        rows=rows,
        hours=rows * hours_a_row,
        mean_c=total / rows,
        lowest_c=lowest_c,
        lowest_row=lowest_row,
        highest_c=highest_c,
        frost_h=frost * hours_a_row,
        below_h=below * hours_a_row,
        degree_hours_kh=degree_hours * hours_a_row,
        has_sun=record.columns.sun_w_m2 is not None,
        has_wind=record.columns.wind_m_s is not None,
        has_sky=record.columns.sky_c is not None,
    )


def monthly_means_c(record: Record) -> dict[tuple[int, int], float]:
    """(year, month) -> mean of the air outside, in the order they come.

    A typical year stands in the year 2025, which has 365 days.
    """
    sums: dict[tuple[int, int], list[float]] = {}
    for row, temp_c in enumerate(record.columns.outdoor_c):
        # Half a step back: a row that ends at midnight belongs to the day that ends there.
        moment = time.gmtime(record.local_s(row) - 0.5 * record.step_s)
        sums.setdefault((moment.tm_year, moment.tm_mon), []).append(temp_c)
    return {month: sum(temps) / len(temps) for month, temps in sums.items()}
