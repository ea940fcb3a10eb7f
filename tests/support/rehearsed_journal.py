"""Whole weeks of nights, kept by the very control in the modelled house, in a real journal.

Lives here: living through a span with control.step and writing what the keeper would have
written. Does not live here: what is asked of it (tests/reports, tests/bench).
"""

from pathlib import Path
from typing import NamedTuple

from greenkeeper import control
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.journal.gather import Gather
from greenkeeper.journal.store import Keeping, Run, Store
from greenkeeper.model import Now
from greenkeeper.rehearsal.rig import Rig
from greenkeeper.rehearsal.run import Stage
from greenkeeper.settings.schema import Settings

_MONO_S = 1000.0
_BATCH_TICKS = 2000


class Truth(NamedTuple):
    """What the house itself drew, minute by minute, to the end of each."""

    used_j: dict[int, float]  # by utc_s, since the start


def lived(file: Path, settings: Settings, stage: Stage, from_utc_s: float, days: float) -> Truth:
    """At the settings' own poll_s, which may be a minute to be quick."""
    began = Now(_MONO_S, from_utc_s, True)
    plan = control.make_plan(settings)
    house = SimulatedHouse(stage.parameters, stage.weather, began, glass=stage.glass, wax=stage.wax)
    rig, memory = Rig(settings, plan, house), control.fresh(plan, began)
    gather = Gather(settings)
    keeping = Keeping(settings.site.name, settings.site.timezone, 3650, 3650)
    store = Store.open(file, Run("rehearsed", "0", began), keeping)
    used_j, notes, now = {}, [], began
    for tick in range(round(days * 86_400.0 / settings.poll_s)):
        passed_s = tick * settings.poll_s
        now = Now(_MONO_S + passed_s, from_utc_s + passed_s, True)
        house.advance_to(now)
        decided = control.step(rig.readings(now), memory, plan, now)
        memory = decided.memory
        rig.apply(decided.commands, now.mono_s)
        notes += gather.add(decided)
        used_j[int(now.utc_s)] = house.used_j
        if tick % _BATCH_TICKS == 0:
            store.write(gather.take(), notes, now.utc_s)
            notes = []
    store.write(gather.take(), notes, now.utc_s)
    store.close()
    return Truth(used_j)
