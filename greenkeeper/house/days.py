"""A thermometer book: a day's low and high outside, day by day, as plain CSV.

    date,low_c,high_c
    2031-01-14,-3.1,4.0

Lives here: from such a text to days, or to an error that says where and what is wrong; it
is taken whole or not at all. Does not live here: hourly weather (records/), and what the
days ask for (season_means.py). A maximum-minimum thermometer outside and a pencil do.
"""

import csv
from collections.abc import Iterator
from datetime import date, timedelta

from greenkeeper.house.records.faults import OUTDOOR, Quantity, WeatherError, number, shown
from greenkeeper.house.season_means import DayRecord

_HEAD_C = ("date", "low_c", "high_c")
_HEAD_F = ("date", "low_f", "high_f")
_ALLOWED = ",".join(_HEAD_C) + " (or low_f and high_f)"
_LEAST_DAYS = 7
_FAHRENHEIT = Quantity("°F", -103.0, 140.0, "°F", "Is it in °C? Then name it low_c and high_c.")

# A book with its low and high columns exchanged, or a typing slip, shows in a swing no
# weather makes: the greatest known in a day is 56 K (Browning, Montana, 1916; from memory).
_WIDEST_SWING_K = 60.0

_YEAR_DAYS = 360
_SEASONS_FROM_DEG = 20.0  # nearer the equator the rains make the seasons
_CLEARLY_K = 2.0


def is_head(line: str) -> bool:
    """Whether a file that begins with this line means to be such a book."""
    words = {word.strip().strip('"').lower() for word in line.split(",")}
    return "date" in words and len(words) > 1


def parse(text: str, file: str) -> tuple[DayRecord, ...]:
    """The days in this text, a day after a day. Raises WeatherError."""
    rows = csv.reader(text.splitlines())
    head = tuple(word.strip().lower() for word in next(rows))
    if head not in (_HEAD_C, _HEAD_F):
        raise WeatherError(file, shown(",".join(head)), _ALLOWED, line=1)
    found = list(_days(rows, head == _HEAD_F, file))
    if len(found) < _LEAST_DAYS:
        raise WeatherError(file, f"{len(found)} days", f"{_LEAST_DAYS} or more")
    return tuple(found)


def check_seasons(days: tuple[DayRecord, ...], latitude: float, file: str) -> None:
    """Raises WeatherError for a year whose summer lies in the other hemisphere's half."""
    if abs(latitude) < _SEASONS_FROM_DEG or len(days) < _YEAR_DAYS:
        return
    warmer_k = _mean_c(days, (6, 7, 8)) - _mean_c(days, (12, 1, 2))
    if warmer_k * latitude < 0.0 and abs(warmer_k) > _CLEARLY_K:
        summer = "June to August" if warmer_k > 0.0 else "December to February"
        raise WeatherError(
            file, f"{summer} as the warmest season at latitude {latitude:g}",
            "summer in the hemisphere's own half of the year",
            hint="Is site.latitude right? North is positive, south is negative.",
        )  # fmt: skip


def _mean_c(days: tuple[DayRecord, ...], months: tuple[int, ...]) -> float:
    means = [(day.low_c + day.high_c) / 2.0 for day in days if day.day // 100 in months]
    return sum(means) / len(means)


def _days(rows: Iterator[list[str]], fahrenheit: bool, file: str) -> Iterator[DayRecord]:
    before: date | None = None
    for line, fields in enumerate(rows, 2):
        if not any(field.strip() for field in fields):
            continue
        if len(fields) != len(_HEAD_C):
            raise WeatherError(
                file, f"{len(fields)} columns", f"{len(_HEAD_C)}, as in the first line", line=line,
                hint="Was the file cut short, or is there a decimal comma?",
            )  # fmt: skip
        before = _next_day(fields[0].strip(), before, file, line)
        low_c, high_c = (
            _temperature(fields[index], index, fahrenheit, file, line) for index in (1, 2)
        )
        if not 0.0 <= high_c - low_c <= _WIDEST_SWING_K:
            raise WeatherError(
                file, f"a low of {low_c:g} and a high of {high_c:g} °C",
                f"a high at or above the low, by {_WIDEST_SWING_K:g} K at most", line=line,
                hint="Are the two exchanged?",
            )  # fmt: skip
        yield DayRecord(100 * before.month + before.day, low_c, high_c)


def _next_day(text: str, before: date | None, file: str, line: int) -> date:
    cell = "column 1 (date)"
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise WeatherError(
            file, shown(text), "a day that there is, such as 2031-01-14", line=line, cell=cell
        ) from None
    if before is not None and day != before + timedelta(days=1):
        raise WeatherError(
            file, f"{day} after {before}", "every day once, in their order", line=line, cell=cell,
            hint="Fill a gap with the days around it, or begin after it.",
        )  # fmt: skip
    return day


def _temperature(text: str, index: int, fahrenheit: bool, file: str, line: int) -> float:
    head = _HEAD_F if fahrenheit else _HEAD_C
    quantity = (_FAHRENHEIT if fahrenheit else OUTDOOR)._replace(name=head[index])
    cell = f"column {index + 1} ({head[index]})"
    value = number(text.strip(), quantity, file, line, cell)
    return (value - 32.0) / 1.8 if fahrenheit else value
