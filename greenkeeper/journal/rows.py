"""What is recorded, as values on their way from a tick to the card.

Lives here: the rows, complete in themselves, so that they may wait in memory for
hours and still mean the same. Does not live here: how they are made (minutes.py,
on_time.py, gather.py) or stored (store.py). What each column means: schema.sql.
"""

from typing import NamedTuple

from greenkeeper.model import Event


class ProbeMinute(NamedTuple):
    """One probe in (a part of) one minute. Temperatures are None when n is 0."""

    utc_s: int
    probe: str
    source: str
    n: int
    low_c: float | None
    mean_c: float | None
    high_c: float | None
    bad: int


class HygrometerMinute(NamedTuple):
    """One hygrometer in (a part of) one minute. Humidities are None when n is 0."""

    utc_s: int
    hygrometer: str
    source: str
    n: int
    low_pct: float | None
    mean_pct: float | None
    high_pct: float | None
    bad: int


class OutputMinute(NamedTuple):
    """One output in (a part of) one minute."""

    utc_s: int
    output: str
    power_w: float | None
    on_s: float
    switchings: int


class Switching(NamedTuple):
    utc_s: float
    mono_s: float
    output: str
    power_w: float | None
    on: bool
    reason: str


class ZoneChange(NamedTuple):
    utc_s: float
    mono_s: float
    zone: str
    period: str
    heat_setpoint_c: float | None
    cool_setpoint_c: float | None
    min_c: float | None
    max_c: float | None
    heat_wanted: bool | None
    cool_wanted: bool | None


class ClockStep(NamedTuple):
    mono_s: float
    before_utc_s: float
    after_utc_s: float


Minute = ProbeMinute | HygrometerMinute | OutputMinute
Note = Switching | ZoneChange | ClockStep | Event


def moment(note: Note) -> float:
    """The POSIX second a note is about."""
    return note.after_utc_s if isinstance(note, ClockStep) else note.utc_s
