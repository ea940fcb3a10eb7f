"""Commands of many ticks, summed to time on, and the moments of switching.

Lives here: when an output was on, by what was commanded. Pure: no clock, no I/O.

The rule: an ON holds from its tick to the next one, but never beyond its expiry, where
the switchboard drops it. What lies between an expiry and a late tick is claimed for
nothing. Time is counted on the monotonic clock and placed in minutes by the civil clock
as it stood at the tick that began the stretch: a clock that is set moves none of it.
Inside, times are whole microseconds, so that minutes add up to the whole exactly.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from greenkeeper.journal.rows import OutputMinute, Switching
from greenkeeper.journal.times import MINUTE_S
from greenkeeper.model import Command, Now

_US = 1_000_000
_MINUTE_US = MINUTE_S * _US

_LAPSED = "not renewed in time: the permission lapsed"
_DONE = "ran for as long as it was meant to"
_STOPPED = "the keeper stopped"

Powers = Mapping[str, float | None]  # output name -> rated power in W, None: not stated


@dataclass(slots=True)
class _Sum:
    on_us: int = 0
    switchings: int = 0


class OnTime:
    """Sums ticks until take() asks for the rows. Every output starts off."""

    def __init__(self) -> None:
        self._sums: dict[tuple[int, str], _Sum] = {}
        self._until_us: dict[str, int | None] = {}  # expiry of the ON, None: off
        self._planned: set[str] = set()  # whose expiry is the end that was meant
        self._mono_us = 0  # of the last tick; nothing is on before the first
        self._utc_us = 0

    def add(self, now: Now, commands: Sequence[Command], powers_w: Powers) -> list[Switching]:
        """Take in one tick's commands; returns what switched since the last tick and now."""
        switched = self._advance(now, powers_w)
        for command in commands:
            name, was_on = command.output, self._until_us.get(command.output) is not None
            if command.on is not was_on:
                power_w = powers_w.get(name)
                switched.append(
                    Switching(now.utc_s, now.mono_s, name, power_w, command.on, command.reason)
                )
                if command.on:
                    self._sum(self._utc_us, name).switchings += 1
            self._until_us[name] = _expiry_us(command, self._mono_us)
            if command.planned:
                self._planned.add(name)
            else:
                self._planned.discard(name)
        for name in self._until_us:
            self._sum(self._utc_us, name)  # watched, if only to say: 0 s on
        return switched

    def stop(self, now: Now, powers_w: Powers) -> list[Switching]:
        """The end: whatever is still on goes off now."""
        off = [Command(name, False, None, _STOPPED) for name in self._until_us]
        return self.add(now, off, powers_w)

    def take(self, powers_w: Powers) -> list[OutputMinute]:
        """The rows so far, the running minute's part included."""
        sums, self._sums = self._sums, {}
        return [
            OutputMinute(minute, name, powers_w.get(name), total.on_us / _US, total.switchings)
            for (minute, name), total in sums.items()
        ]

    def _advance(self, now: Now, powers_w: Powers) -> list[Switching]:
        """Count the time since the last tick, and move there; returns what ended meanwhile."""
        mono_us, utc_us = round(now.mono_s * _US), round(now.utc_s * _US)
        lapsed = []
        for name, until_us in self._until_us.items():
            if until_us is None:
                continue
            self._count(name, min(mono_us, until_us) - self._mono_us)
            if until_us < mono_us:
                lapsed.append(self._lapse(name, until_us, powers_w.get(name)))
                self._until_us[name] = None
        self._mono_us, self._utc_us = mono_us, utc_us
        return lapsed

    def _count(self, output: str, length_us: int) -> None:
        """Spread a stretch that began at the last tick over the minutes it lies in."""
        at_us = self._utc_us
        while length_us > 0:
            piece_us = min(length_us, _MINUTE_US - at_us % _MINUTE_US)
            self._sum(at_us, output).on_us += piece_us
            at_us += piece_us
            length_us -= piece_us

    def _lapse(self, output: str, until_us: int, power_w: float | None) -> Switching:
        utc_s = (self._utc_us + until_us - self._mono_us) / _US
        reason = _DONE if output in self._planned else _LAPSED
        return Switching(utc_s, until_us / _US, output, power_w, False, reason)

    def _sum(self, utc_us: int, output: str) -> _Sum:
        key = (utc_us // _MINUTE_US * MINUTE_S, output)
        total = self._sums.get(key)
        if total is None:
            total = self._sums[key] = _Sum()
        return total


def _expiry_us(command: Command, now_us: int) -> int | None:
    if not command.on:
        return None
    # An ON without an expiry breaks Command's invariant: it is worth no time at all.
    return now_us if command.until_s is None else max(now_us, round(command.until_s * _US))
