"""Invented nights, written into a real journal by the keeper's own store."""

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

from greenkeeper.journal.rows import Minute, OutputMinute, ProbeMinute
from greenkeeper.journal.store import Keeping, Run, Store
from greenkeeper.model import Now
from greenkeeper.reports.night import Span
from greenkeeper.settings.schema import Settings

BRUSSELS = ZoneInfo("Europe/Brussels")
EVENING = date(2031, 1, 14)

HOUSE = Settings.model_validate(
    {
        "site": {
            "name": "fern-corner",
            "timezone": "Europe/Brussels",
            "outdoor_probe": "outdoors",
            "latitude": 50.8,
            "longitude": 4.4,
        },
        "probes": {
            name: {"kind": "modelled", "place": "bench"}
            for name in ("bench-left", "bench-right", "outdoors")
        },
        "outputs": {"heater": {"kind": "modelled", "drives": "heater", "power_w": 1500.0}},
        "zones": {
            "bench": {
                "probes": ["bench-left", "bench-right"],
                "heat": {"output": "heater", "setpoint_c": 5.0},
            }
        },
        "plants": [
            {"name": "lemon", "zone": "bench", "min_c": 4.0},
            {"name": "fuchsia", "zone": "bench", "min_c": 1.0},
        ],
        "tariff": {"currency": "EUR", "per_kwh": 0.32},
    }
)

Course = Callable[[float], float]


def minutes_of(
    span: Span,
    bench_c: Course,
    *,
    on_s: Course = lambda hours: 0.0,
    outdoor_c: Course = lambda hours: -3.0,
    step_s: int = 60,
) -> list[Minute]:
    """Rows of every step of the span; the courses are functions of the hours since its start."""
    made: list[Minute] = []
    for utc_s in range(int(span.from_utc_s), int(span.to_utc_s), step_s):
        hours = (utc_s - span.from_utc_s) / 3600.0
        for name, temp_c in (
            ("bench-left", bench_c(hours)),
            ("bench-right", bench_c(hours) + 0.5),
            ("outdoors", outdoor_c(hours)),
        ):
            made.append(ProbeMinute(utc_s, name, "", 6, temp_c, temp_c, temp_c, 0))
        made.append(OutputMinute(utc_s, "heater", 1500.0, on_s(hours), 0))
    return made


def written(file: Path, minutes: Sequence[Minute], *, later: bool = False) -> None:
    """later: another hour follows, so that the last hour of these is summed."""
    start = Now(1000.0, float(minutes[0].utc_s), True)
    store = Store.open(file, Run("b", "1.2.3", start), Keeping("fern-corner", "UTC", 9999, 9999))
    last_s = minutes[-1].utc_s
    store.write(list(minutes), [], last_s)
    if later:
        after = minutes_of(Span(last_s + 60.0, last_s + 7260.0), lambda hours: 6.0)
        store.write(after, [], after[-1].utc_s)
    store.close()
