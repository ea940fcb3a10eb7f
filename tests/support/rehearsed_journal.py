# ruff: noqa: S608 - the names in these queries stand in this file
"""Whole weeks of nights, kept by the very control in the modelled house, in a real journal.

Lives here: living through a span with control.step and writing what the keeper would have
written. Does not live here: what is asked of it (tests/reports, tests/bench).
"""

import sqlite3
from contextlib import closing
from pathlib import Path

from greenkeeper import control
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.journal.gather import Gather
from greenkeeper.journal.rows import Note
from greenkeeper.journal.store import Keeping, Run, Store
from greenkeeper.journal.times import DAY_S
from greenkeeper.model import Now
from greenkeeper.rehearsal.rig import Rig
from greenkeeper.rehearsal.run import Stage
from greenkeeper.settings.schema import Settings

_MONO_S = 1000.0
_MEASURED, _SWITCHED = "n, low_c, mean_c, high_c, bad", "on_s, switchings"
_KEYED = {
    "minute": _MEASURED,
    "hour": _MEASURED,
    "output_minute": _SWITCHED,
    "output_hour": f"{_SWITCHED}, minutes",
}
_DATED = {"switching": "run, output, is_on, reason", "event": "run, code, phase, subject, text"}


def lived(
    file: Path, settings: Settings, stage: Stage, from_utc_s: float, days: float, *, times: int = 1
) -> None:
    """At the settings' own poll_s, which may be a minute to be quick. times: the same days are
    written so many times, one after the other: a day takes a quarter of a second to live."""
    began = Now(_MONO_S, from_utc_s, True)
    plan = control.make_plan(settings)
    house = SimulatedHouse(stage.parameters, stage.weather, began, glass=stage.glass, wax=stage.wax)
    rig, memory = Rig(settings, plan, house), control.fresh(plan, began)
    gather = Gather(settings)
    notes: list[Note] = []
    for tick in range(round(days * DAY_S / settings.poll_s)):
        passed_s = tick * settings.poll_s
        now = Now(_MONO_S + passed_s, from_utc_s + passed_s, True)
        house.advance_to(now)
        decided = control.step(rig.readings(rig.said(), now.mono_s), memory, plan, now)
        memory = decided.memory
        rig.apply(decided.commands, now.mono_s)
        notes += gather.add(decided)
    keeping = Keeping(settings.site.name, settings.site.timezone, 3650, 3650)
    store = Store.open(file, Run("rehearsed", "0", began), keeping)
    store.write(gather.take(), notes, now.utc_s)
    store.close()
    with closing(sqlite3.connect(file)) as db:
        for number in range(1, times):
            _again(db, round(days * DAY_S), later_s=round(number * days * DAY_S))
        db.commit()


def _again(db: sqlite3.Connection, length_s: int, *, later_s: int) -> None:
    """The first days once more, so much later."""
    (first_s,) = db.execute("SELECT min(utc_s) FROM minute").fetchone()
    span = {"by": later_s, "from": first_s, "to": first_s + length_s}
    for table, columns in _KEYED.items():
        db.execute(
            f"INSERT OR REPLACE INTO {table} (id, {columns}) SELECT id + :by * 1000, {columns}"
            f" FROM {table} WHERE id >= :from * 1000 AND id < :to * 1000",
            span,
        )
    for table, columns in _DATED.items():
        db.execute(
            f"INSERT INTO {table} (utc_s, mono_s, {columns})"
            f" SELECT utc_s + :by, mono_s + :by, {columns}"
            f" FROM {table} WHERE utc_s >= :from AND utc_s < :to",
            span,
        )
