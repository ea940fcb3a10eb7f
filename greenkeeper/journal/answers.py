"""What the journal answers, as values for reports and the page.

Lives here: one shape for each kind of answer. Times are POSIX seconds UTC, temperatures
°C; None is "not known", never a number. Does not live here: asking (reader.py).
"""

from typing import NamedTuple


class Temperatures(NamedTuple):
    """One probe in one minute or hour. None: no measurement was believed."""

    utc_s: int
    n: int
    low_c: float | None
    mean_c: float | None
    high_c: float | None
    bad: int


class Humidities(NamedTuple):
    """One hygrometer in one minute. None: no measurement was believed."""

    utc_s: int
    n: int
    mean_pct: float | None


class OnTimes(NamedTuple):
    """One output in one minute or hour."""

    utc_s: int
    on_s: float
    switchings: int


class Energy(NamedTuple):
    """What an output used in the minute or hour that begins at utc_s."""

    utc_s: int
    within_s: int  # 60, or 3600
    kwh: float


class Extreme(NamedTuple):
    """A lowest or highest temperature, in the minute or hour that begins at utc_s."""

    temp_c: float
    utc_s: int
    within_s: int  # 60 or, where the minutes are gone, 3600


class Switched(NamedTuple):
    utc_s: float
    mono_s: float
    run: int
    output: str
    on: bool
    reason: str


class ZoneState(NamedTuple):
    """What a zone wanted and was held to, from utc_s until its next one. See schema.sql."""

    utc_s: float
    mono_s: float
    run: int
    zone: str
    period: str
    heat_setpoint_c: float | None
    cool_setpoint_c: float | None
    min_c: float | None
    max_c: float | None
    heat_wanted: bool | None
    cool_wanted: bool | None


class Happening(NamedTuple):
    utc_s: float
    mono_s: float
    run: int
    code: str
    phase: str
    subject: str
    text: str


class RunRecord(NamedTuple):
    """clean is None, as the stop is, while it runs and after a power cut or a kill."""

    id: int
    boot_id: str
    version: str
    started_utc_s: float
    stopped_utc_s: float | None
    clean: bool | None


class StepRecord(NamedTuple):
    before_utc_s: float
    after_utc_s: float
