"""What must hold of the judging of probes, watched over a whole run by somebody apart.

Lives here: Umpire, which is shown every tick and the readings it was made of, and asserts
from those alone. Does not live here: the guard's invariants (referee.py). For probes
without an offset.
"""

import math
from typing import NamedTuple

from greenkeeper.control import Plan
from greenkeeper.control.plan import ZonePlan
from greenkeeper.model import Bad, Fault, Good, Now, Reading, Tick


class Seen(NamedTuple):
    taken_s: float
    temp_c: float | None


class Umpire:
    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.seen: dict[str, list[Seen]] = {name: [] for name in plan.probes}
        self.latched: set[str] = set()

    def see(self, tick: Tick) -> None:
        for name, reading in tick.readings.items():
            self._note(name, reading, tick.now)
        assert tick.verdicts.keys() == self.plan.probes.keys()
        for name in self.plan.probes:
            self._good_is_borne_out(name, tick)
            self._frozen_did_not_move(name, tick)
        for zone in self.plan.zones:
            self._zone_believes_its_probes(zone, tick)
            self._latch_took_two(zone, tick)
        self.latched = set(tick.memory.latches)

    def _note(self, name: str, reading: Reading, now: Now) -> None:
        seen = self.seen[name]
        if reading.taken_s <= now.mono_s and (not seen or seen[-1].taken_s != reading.taken_s):
            seen.append(Seen(reading.taken_s, reading.temp_c))

    def _good_is_borne_out(self, name: str, tick: Tick) -> None:
        """A temperature is finite, in range, fresh, measured, and not the only one."""
        verdict, plan = tick.verdicts[name], self.plan.probes[name]
        if isinstance(verdict, Good):
            assert math.isfinite(verdict.temp_c)
            assert plan.lowest_c <= verdict.temp_c <= plan.highest_c
            assert 0.0 <= verdict.age_s <= plan.stale_s
            temps = [each.temp_c for each in self.seen[name] if each.temp_c is not None]
            assert verdict.temp_c in temps
            assert sum(abs(temp_c - verdict.temp_c) <= plan.jump_k for temp_c in temps) >= 2

    def _frozen_did_not_move(self, name: str, tick: Tick) -> None:
        verdict = tick.verdicts[name]
        if not isinstance(verdict, Bad) or not verdict.detail.startswith("exactly"):
            return  # not called frozen, or by its driver
        assert verdict.fault is Fault.FROZEN
        frozen_s = dict(self.plan.must_move)[name]
        plan = self.plan.probes[name]
        numbers = self._temperatures(name)
        still = [each for each in numbers if each.taken_s >= numbers[-1].taken_s - frozen_s]
        assert len({each.temp_c for each in still}) == 1
        # One alone in its zone may be found out by its heater, or by what it stands above.
        moved = (len({each.temp_c for each in self.seen[other]}) > 1 for other in plan.neighbours)
        assert plan.alone or any(moved)

    def _zone_believes_its_probes(self, zone: ZonePlan, tick: Tick) -> None:
        """One that stands alone may be bounded; the next one to it never is."""
        view = next(view for view in tick.zones if view.name == zone.name)
        temps = sorted(
            verdict.temp_c
            for name in zone.probes
            if isinstance(verdict := tick.verdicts[name], Good)
        )
        assert (view.coldest_c is None) is (view.warmest_c is None) is (not temps)
        if view.coldest_c is not None and view.warmest_c is not None:
            second_c, last_but_one_c = (*temps, temps[0])[1], (temps[-1], *temps)[-2]
            assert temps[0] <= view.coldest_c <= max(second_c, temps[0])
            assert min(last_but_one_c, temps[-1]) <= view.warmest_c <= temps[-1]
            if len(temps) < 3:
                assert (view.coldest_c, view.warmest_c) == (temps[0], temps[-1])
            if view.coldest_c > temps[0]:
                assert temps[1] - view.coldest_c >= zone.disagree_k

    def _latch_took_two(self, zone: ZonePlan, tick: Tick) -> None:
        name = f"over-ceiling-{zone.name}"
        if name in tick.memory.latches and name not in self.latched:
            assert any(self._twice_over(probe, zone.ceiling_c) for probe in zone.ceiling_probes)

    def _twice_over(self, probe: str, ceiling_c: float) -> bool:
        """What is no temperature comes between them as little as a failure does."""
        last_two = self._temperatures(probe)[-2:]
        return len(last_two) == 2 and all(
            each.temp_c is not None and each.temp_c > ceiling_c for each in last_two
        )

    def _temperatures(self, probe: str) -> list[Seen]:
        plan = self.plan.probes[probe]
        return [
            each
            for each in self.seen[probe]
            if each.temp_c is not None and plan.lowest_c <= each.temp_c <= plan.highest_c
        ]
