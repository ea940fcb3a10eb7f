"""Plain CSV: a head that names each column with its unit, then one moment a row.

    time,outdoor_c,sun_w_m2,diffuse_w_m2,wind_m_s,sky_w_m2
    2031-01-14T00:00Z,-3.1,0,0,1.2,235

Lives here: the format of our own, for a station's record or a spreadsheet. `time` and a
temperature (outdoor_c, or outdoor_f in °F) are needed, the rest is taken if it is there.
Times are ISO 8601 with a UTC offset, evenly spaced by an hour or less; the sun is the
mean since the row before. Does not live here: a place, which the settings know.
"""

import csv
from collections.abc import Sequence
from datetime import datetime

from greenkeeper.house.records import faults, sky
from greenkeeper.house.records.faults import Quantity, WeatherError, number, shown
from greenkeeper.house.records.record import HOUR_S, Columns, Record

_FAHRENHEIT = Quantity("outdoor_f", -103.0, 140.0, "°F", "Is it in °C? Then name it outdoor_c.")
_KNOWN = {
    quantity.name: quantity
    for quantity in (
        faults.OUTDOOR, _FAHRENHEIT, faults.SUN, faults.DIFFUSE, faults.WIND, faults.SKY,
    )
}  # fmt: skip
_ALLOWED = "time, outdoor_c (or outdoor_f), sun_w_m2, diffuse_w_m2, wind_m_s, sky_w_m2"
_LEAST_ROWS = 24
_COMMAS = "Numbers have a point, not a comma: 3.5"
_EVEN_S = 1.0  # so far a time may be from where it should be


def is_head(line: str) -> bool:
    """Whether a file that begins with this line means to be such a table."""
    words = {word.strip().strip('"').lower() for word in line.split(",")}
    return "time" in words and len(words) > 1


def parse(text: str, file: str) -> Record:
    """The span in this file. Raises WeatherError."""
    rows = csv.reader(text.splitlines())
    head = [word.strip().lower() for word in next(rows)]
    _check_head(head, file)
    times: list[float] = []
    found: dict[str, list[float]] = {name: [] for name in head if name != "time"}
    for fields in rows:
        line = rows.line_num
        if not any(field.strip() for field in fields):
            continue
        if len(fields) != len(head):
            raise WeatherError(
                file, f"{len(fields)} columns", f"{len(head)}, as in the first line", line=line,
                hint="Was the file cut short?" if len(fields) < len(head) else _COMMAS,
            )  # fmt: skip
        for index, name in enumerate(head):
            cell = f"column {index + 1} ({name})"
            if name == "time":
                times.append(_next_time(fields[index], times, file, line, cell))
            else:
                value = number(fields[index].strip(), _KNOWN[name], file, line, cell)
                found[name].append(value)
    if len(times) < _LEAST_ROWS:
        raise WeatherError(
            file, f"{len(times)} rows of weather", f"{_LEAST_ROWS} or more",
            hint="Was the file cut short?",
        )  # fmt: skip
    return Record(_columns(found), place=None, first_utc_s=times[0], step_s=times[1] - times[0])


def _check_head(head: Sequence[str], file: str) -> None:
    for index, name in enumerate(head):
        cell = f"column {index + 1}"
        if name != "time" and name not in _KNOWN:
            raise WeatherError(file, shown(name), _ALLOWED, line=1, cell=cell)
        if head.index(name) != index:
            raise WeatherError(file, f"'{name}' twice", "each once", line=1, cell=cell)
    if ("outdoor_c" in head) == ("outdoor_f" in head):
        raise WeatherError(file, ", ".join(head), "one of outdoor_c and outdoor_f", line=1)


def _next_time(text: str, before: Sequence[float], file: str, line: int, cell: str) -> float:
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise WeatherError(
            file, shown(text), "ISO 8601, such as 2031-01-14T06:00Z", line=line, cell=cell,
            hint="Does that day exist? 29 February does in leap years only.",
        ) from None  # fmt: skip
    if moment.tzinfo is None:
        raise WeatherError(
            file, shown(text), "a time with its UTC offset: 06:00Z or 06:00+01:00", line=line,
            cell=cell, hint="Without it nobody knows when the sun rose.",
        )  # fmt: skip
    utc_s = moment.timestamp()
    if before:
        _check_step(utc_s - before[-1], before, text, file, line, cell)
    return utc_s


def _check_step(
    step_s: float, before: Sequence[float], text: str, file: str, line: int, cell: str
) -> None:
    usual_s = before[1] - before[0] if len(before) > 1 else HOUR_S
    if len(before) == 1 and 60.0 <= step_s <= HOUR_S:
        return
    if abs(step_s - usual_s) > _EVEN_S:
        raise WeatherError(
            file, f"{shown(text)}, {step_s / 60.0:g} minutes after the row before",
            f"{usual_s / 60.0:g} minutes" if len(before) > 1 else "1 to 60 minutes",
            line=line, cell=cell,
            hint="Rows may be neither missing, nor twice, nor out of turn.",
        )  # fmt: skip


def _columns(found: dict[str, list[float]]) -> Columns:
    if "outdoor_f" in found:
        outdoor_c = [(f - 32.0) / 1.8 for f in found["outdoor_f"]]
    else:
        outdoor_c = found["outdoor_c"]
    sky_w_m2 = found.get("sky_w_m2")
    return Columns(
        outdoor_c=outdoor_c,
        sun_w_m2=found.get("sun_w_m2"),
        diffuse_w_m2=found.get("diffuse_w_m2"),
        wind_m_s=found.get("wind_m_s"),
        sky_c=None if sky_w_m2 is None else sky.temperatures_c(sky_w_m2),
    )
