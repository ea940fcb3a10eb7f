"""A year of hours, one to a line: what EPW and TMY3 files have in common.

Lives here: taking a year's rows in, hour by hour, and refusing the first that does not
fit. Does not live here: which column is what (epw.py, tmy3.py).
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from greenkeeper.house.records.faults import Quantity, WeatherError, number, shown

_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


class Hour(NamedTuple):
    """An hour of a year by its end: month, day, and 1 to 24."""

    month: int
    day: int
    hour: int

    def __str__(self) -> str:
        return f"{self.day} {_MONTHS[self.month - 1]} {self.hour:02d}:00"


class Column(NamedTuple):
    quantity: Quantity
    place: int  # from 0
    title: str  # as the format's own documents call it
    missing: str  # what stands there when nothing is known
    needed: bool = False


class Layout(NamedTuple):
    """One format's rows."""

    fields: int  # the least that a whole row has
    columns: tuple[Column, ...]
    hour_of: Callable[[Sequence[str]], Hour]  # raises ValueError, IndexError for none
    hour_cell: str


class Row(NamedTuple):
    line: int
    fields: list[str]


def take_year(rows: Sequence[Row], layout: Layout, file: str) -> dict[str, list[float]]:
    """Each quantity's year. A column that is not given at all is left out.

    Raises WeatherError for the first row out of turn, short or beyond belief, and for a
    value that is missing where the rest of its column is there.
    """
    found: dict[str, list[float]] = {c.quantity.name: [] for c in layout.columns}
    missing: dict[str, Row] = {}
    expected: Hour | None = Hour(1, 1, 1)
    for row in rows:
        if len(row.fields) < layout.fields:
            raise WeatherError(
                file, f"{len(row.fields)} columns", f"{layout.fields} of them", line=row.line,
                hint="Was the file cut short?",
            )  # fmt: skip
        expected = _following(row, expected, layout, file)
        for column in layout.columns:
            text = row.fields[column.place].strip()
            if _is_missing(text, column.missing):
                missing.setdefault(column.quantity.name, row)
                continue
            value = number(text, column.quantity, file, row.line, _cell(column))
            found[column.quantity.name].append(value)
    if expected is not None:
        raise _cut_short(rows, expected, file)
    _whole_or_absent(found, missing, len(rows), layout, file)
    return {name: values for name, values in found.items() if values}


def _following(row: Row, expected: Hour | None, layout: Layout, file: str) -> Hour | None:
    """The hour after this row's, if the row is the one expected."""
    try:
        hour = layout.hour_of(row.fields)
    except (ValueError, IndexError):
        text = ",".join(row.fields[:4])
        raise WeatherError(
            file, shown(text), "an hour of a year", line=row.line, cell=layout.hour_cell
        ) from None
    if expected is None:
        raise WeatherError(file, f"a further row, {hour}", "one year", line=row.line)
    if hour != expected and not (hour == Hour(2, 29, 1) and expected == Hour(3, 1, 1)):
        raise WeatherError(
            file, str(hour), f"{expected}, the next hour", line=row.line, cell=layout.hour_cell,
            hint="Hours may be neither missing, nor twice, nor out of turn.",
        )  # fmt: skip
    return _next(hour)


def _next(hour: Hour) -> Hour | None:
    """None after the last of the year. 29 February comes only to files that have it."""
    if hour.hour < 24:
        return hour._replace(hour=hour.hour + 1)
    if hour.day < _DAYS[hour.month - 1]:
        return Hour(hour.month, hour.day + 1, 1)
    return None if hour.month == 12 else Hour(hour.month + 1, 1, 1)


def _is_missing(text: str, code: str) -> bool:
    """Whether it is nothing, or the code for nothing, with or without decimals."""
    if text in ("", code):
        return True
    return text.startswith(code[:2]) and text.rstrip("0").rstrip(".") == code.rstrip("0").rstrip(
        "."
    )


def _cut_short(rows: Sequence[Row], expected: Hour, file: str) -> WeatherError:
    return WeatherError(
        file,
        f"the end before {expected}",
        "a whole year of hours",
        line=rows[-1].line if rows else 0,
        hint="Was the file cut short? Fetch it again.",
    )


def _whole_or_absent(
    found: dict[str, list[float]],
    missing: dict[str, Row],
    count: int,
    layout: Layout,
    file: str,
) -> None:
    for column in layout.columns:
        row = missing.get(column.quantity.name)
        if row is None:
            continue
        absent = not found[column.quantity.name]
        if absent and not column.needed:
            continue
        lacking = count - len(found[column.quantity.name])
        raise WeatherError(
            file, f"nothing ('{column.missing}'), the first of {lacking}", column.quantity.allowed,
            line=row.line, cell=_cell(column),
            hint="Fill the gaps, or leave the column out altogether."
            if not column.needed else "Fill the gaps: nothing is guessed here.",
        )  # fmt: skip


def _cell(column: Column) -> str:
    return f"column {column.place + 1} ({column.title})"
