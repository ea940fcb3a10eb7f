"""Temperatures of many ticks, summed to minutes.

Lives here: which tick's verdict counts as a measurement, and low, mean, high and
count of them. Pure: no clock, no I/O. Does not live here: judging (control/judge.py).

Invariant: of every tick, one probe gets exactly one of: a measurement (n), a miss
(bad), or nothing because the newest measurement was counted in an earlier tick.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from greenkeeper.journal.rows import ProbeMinute
from greenkeeper.journal.times import minute_of
from greenkeeper.model import Good, Now, Reading, Verdict

# Two moments closer than this are the same measurement; a bus takes 0.75 s for one.
_SAME_S = 0.001


@dataclass(slots=True)
class _Sum:
    n: int = 0
    low_c: float = 0.0
    total_c: float = 0.0
    high_c: float = 0.0
    bad: int = 0

    def add(self, temp_c: float) -> None:
        if self.n == 0:
            self.low_c = self.high_c = temp_c
        elif temp_c < self.low_c:
            self.low_c = temp_c
        elif temp_c > self.high_c:
            self.high_c = temp_c
        self.n += 1
        self.total_c += temp_c


class ProbeMinutes:
    """Sums ticks until take() asks for the rows."""

    def __init__(self) -> None:
        self._sums: dict[tuple[int, str], _Sum] = {}
        self._measured_s: dict[str, float] = {}  # of each probe's newest counted measurement

    def add(
        self, now: Now, readings: Mapping[str, Reading], verdicts: Mapping[str, Verdict]
    ) -> None:
        minute = minute_of(now.utc_s)
        for name, verdict in verdicts.items():
            total = self._sums.get((minute, name))
            if total is None:
                total = self._sums[minute, name] = _Sum()
            if not isinstance(verdict, Good):
                total.bad += 1
                continue
            measured_s = now.mono_s - verdict.age_s
            if measured_s > self._measured_s.get(name, float("-inf")) + _SAME_S:
                self._measured_s[name] = measured_s
                total.add(verdict.temp_c)
            elif not _same_again(readings.get(name), measured_s):
                total.bad += 1

    def take(self, sources: Mapping[str, str]) -> list[ProbeMinute]:
        """The rows so far, oldest first, the running minute's part included."""
        sums, self._sums = self._sums, {}
        return [
            _row(minute, name, sources.get(name, ""), total)
            for (minute, name), total in sums.items()
        ]


def _same_again(reading: Reading | None, measured_s: float) -> bool:
    """The newest reading is that very measurement: no news, and no fault either.

    Otherwise the verdict rests on an older one because the newest was not believed.
    """
    return reading is not None and reading.fault is None and reading.taken_s <= measured_s + _SAME_S


def _row(minute: int, name: str, source: str, total: _Sum) -> ProbeMinute:
    if total.n == 0:
        return ProbeMinute(minute, name, source, 0, None, None, None, total.bad)
    # Rounding of the sum must not push the mean of equal values past them.
    mean_c = min(max(total.total_c / total.n, total.low_c), total.high_c)
    return ProbeMinute(minute, name, source, total.n, total.low_c, mean_c, total.high_c, total.bad)
