"""Temperatures and humidities of many ticks, summed to minutes.

Lives here: which tick's verdict counts as a measurement, and low, mean, high and
count of them. Pure: no clock, no I/O. Does not live here: judging (control/judge.py).

Invariant: of every tick, one probe gets exactly one of: a measurement (n), a miss
(bad), or nothing because the newest measurement was counted in an earlier tick.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from greenkeeper.journal.rows import HygrometerMinute, ProbeMinute
from greenkeeper.journal.times import minute_of
from greenkeeper.model import Bad, Damp, Good, HumidityReading, Now, Reading

# Two moments closer than this are the same measurement; a bus takes 0.75 s for one.
_SAME_S = 0.001

Row = TypeVar("Row")
V = TypeVar("V", bound=Good | Damp)
Made = Callable[[int, str, str, int, float | None, float | None, float | None, int], Row]


@dataclass(slots=True)
class _Sum:
    n: int = 0
    low: float = 0.0
    total: float = 0.0
    high: float = 0.0
    bad: int = 0

    def add(self, value: float) -> None:
        if self.n == 0:
            self.low = self.high = value
        elif value < self.low:
            self.low = value
        elif value > self.high:
            self.high = value
        self.n += 1
        self.total += value


class _Minutes(Generic[V, Row]):
    """Sums ticks until take() asks for the rows."""

    def __init__(self, value: Callable[[V], float], made: Made[Row]) -> None:
        self._value = value
        self._made = made
        self._sums: dict[tuple[int, str], _Sum] = {}
        self._measured_s: dict[str, float] = {}  # of each one's newest counted measurement

    def add(
        self,
        now: Now,
        readings: Mapping[str, Reading] | Mapping[str, HumidityReading],
        verdicts: Mapping[str, V | Bad],
    ) -> None:
        minute = minute_of(now.utc_s)
        for name, verdict in verdicts.items():
            total = self._sums.get((minute, name))
            if total is None:
                total = self._sums[minute, name] = _Sum()
            if isinstance(verdict, Bad):
                total.bad += 1
                continue
            measured_s = now.mono_s - verdict.age_s
            if measured_s > self._measured_s.get(name, float("-inf")) + _SAME_S:
                self._measured_s[name] = measured_s
                total.add(self._value(verdict))
            elif not _same_again(readings.get(name), measured_s):
                total.bad += 1

    def take(self, sources: Mapping[str, str]) -> list[Row]:
        """The rows so far, oldest first, the running minute's part included."""
        sums, self._sums = self._sums, {}
        return [
            self._row(minute, name, sources.get(name, ""), total)
            for (minute, name), total in sums.items()
        ]

    def _row(self, minute: int, name: str, source: str, total: _Sum) -> Row:
        if total.n == 0:
            return self._made(minute, name, source, 0, None, None, None, total.bad)
        # Rounding of the sum must not push the mean of equal values past them.
        mean = min(max(total.total / total.n, total.low), total.high)
        return self._made(minute, name, source, total.n, total.low, mean, total.high, total.bad)


class ProbeMinutes(_Minutes[Good, ProbeMinute]):
    """Temperatures."""

    def __init__(self) -> None:
        super().__init__(lambda good: good.temp_c, ProbeMinute)


class HygrometerMinutes(_Minutes[Damp, HygrometerMinute]):
    """Relative humidities."""

    def __init__(self) -> None:
        super().__init__(lambda damp: damp.rh_pct, HygrometerMinute)


def _same_again(reading: Reading | HumidityReading | None, measured_s: float) -> bool:
    """The newest reading is that very measurement: no news, and no fault either.

    Otherwise the verdict rests on an older one because the newest was not believed.
    """
    return reading is not None and reading.fault is None and reading.taken_s <= measured_s + _SAME_S
