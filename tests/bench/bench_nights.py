"""Prints how long the answers about nights take on a journal of ten years.

Not a test: it judges nothing. The budget is design 11's: 0.3 s.

Run: python -m tests.bench.bench_nights
"""

import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import DAY_S, HOUR_S, MINUTE_S
from greenkeeper.reports import night, outlook, outlook_data, winters
from greenkeeper.reports.unheated import unheated
from greenkeeper.settings.schema import Tariff
from tests.reports.nights import BRUSSELS, EVENING, HOUSE, minutes_of, written

BUDGET_S = 0.3
# Half past is when an hour of the record has two prices.
BY_HOURS = HOUSE.model_copy(
    update={
        "tariff": Tariff.model_validate(
            {"per_kwh": 0.4, "hours": [{"from": "22:30", "to": "06:30", "per_kwh": 0.2}]}
        )
    }
)
YEARS = 10

# The same figures over and over: how quickly they are found does not depend on them.
_FILL = """
WITH RECURSIVE moment(utc_s) AS (
    SELECT :from UNION ALL SELECT utc_s + :step FROM moment WHERE utc_s + :step < :to
)
INSERT OR REPLACE INTO {table} {columns}
SELECT utc_s * 1000 + {key}.id, {values} FROM moment CROSS JOIN {key}
"""
_TABLES = {
    "hour": ("probe", "(id, n, low_c, mean_c, high_c, bad)", "360, 5.0, 5.5, 6.0, 0", HOUR_S),
    "minute": ("probe", "(id, n, low_c, mean_c, high_c, bad)", "6, 5.0, 5.5, 6.0, 0", MINUTE_S),
    "output_hour": ("output", "(id, on_s, switchings, minutes)", "900.0, 3, 60", HOUR_S),
    "output_minute": ("output", "(id, on_s, switchings)", "15.0, 0", MINUTE_S),
}


def ten_years(file: Path, evening: date = EVENING) -> None:
    """Hours for ten years and minutes for as long as they are kept, up to that evening's night."""
    span = night.night(evening, BRUSSELS)
    written(file, minutes_of(span, lambda hours: 5.5))
    end = int(span.to_utc_s)
    begins = {
        HOUR_S: end - YEARS * 365 * DAY_S,
        MINUTE_S: end - HOUSE.journal.minutes_days * DAY_S,
    }
    with closing(sqlite3.connect(file)) as db:
        for table, (key, columns, values, step_s) in _TABLES.items():
            sql = _FILL.format(table=table, columns=columns, key=key, values=values)
            db.execute(sql, {"from": begins[step_s], "to": end, "step": step_s})
        db.commit()


def _tonight(journal: Journal, now_utc_s: float) -> None:
    situations = outlook_data.situations(journal, HOUSE, now_utc_s)
    outlook.outlooks(HOUSE, situations, outlook.course(situations[0]), None)


def _took(ask: Callable[[], object]) -> float:
    began_s = time.perf_counter()
    ask()
    return time.perf_counter() - began_s


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "journal.db"
        ten_years(file)
        print(f"a journal of {YEARS} years, {file.stat().st_size / 1e6:.0f} MB")
        with Journal(file) as journal:
            span = night.night(EVENING, BRUSSELS)
            old = night.night(date(EVENING.year - 8, 1, 14), BRUSSELS)
            fortnight = EVENING - timedelta(days=13), EVENING + timedelta(days=1)
            for what, ask in (
                ("last night", lambda: night.facts(journal, HOUSE, span)),
                ("a night eight years ago", lambda: night.facts(journal, HOUSE, old)),
                ("14 nights", lambda: winters.by_night(journal, HOUSE, *fortnight)),
                ("two winters", lambda: winters.winters(journal, HOUSE, EVENING)),
                ("last night, priced by hours", lambda: night.facts(journal, BY_HOURS, span)),
                ("two winters likewise", lambda: winters.winters(journal, BY_HOURS, EVENING)),
                ("last night without heat", lambda: unheated(journal, HOUSE, span, None)),
                ("tonight", lambda: _tonight(journal, span.to_utc_s - 8.0 * HOUR_S)),
            ):
                print(f"{what:<44}{_took(ask):>8.3f} s   budget {BUDGET_S} s")


if __name__ == "__main__":
    main()
