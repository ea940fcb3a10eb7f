"""A tick taken apart into what the journal keeps.

Lives here: which part of a tick goes where, and what counts as a change worth a row.
Pure: no clock, no I/O, no thread. Does not live here: waiting and writing.
"""

from collections.abc import Mapping
from typing import NamedTuple

from greenkeeper.journal.minutes import HygrometerMinutes, ProbeMinutes
from greenkeeper.journal.on_time import OnTime
from greenkeeper.journal.rows import ClockStep, Minute, Note, ZoneChange
from greenkeeper.journal.times import DAY_S
from greenkeeper.model import Mode, Now, Tick, ZoneView
from greenkeeper.settings.damp import Hygrometer, HygrometerCommon
from greenkeeper.settings.derived import plants_maximum_c, plants_minimum_c
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.sensors import Probe, ProbeCommon

# The civil clock moved this much more or less than the monotonic one: it was set. Slewing
# by a time daemon stays below 500 ppm (adjtimex(2)), 5 ms in ten seconds.
_CLOCK_STEP_S = 2.0


class Names(NamedTuple):
    """What the names of the settings stand for just now."""

    sources: Mapping[str, str]  # of probes
    hygrometer_sources: Mapping[str, str]
    powers_w: Mapping[str, float | None]
    limits_c: Mapping[str, tuple[float | None, float | None]]  # zone -> plants' min, max


def names_of(settings: Settings) -> Names:
    return Names(
        sources={name: source_of(probe) for name, probe in settings.probes.items()},
        hygrometer_sources={name: source_of(each) for name, each in settings.hygrometers.items()},
        powers_w={name: output.power_w for name, output in settings.outputs.items()},
        limits_c={
            zone: (plants_minimum_c(settings, zone), plants_maximum_c(settings, zone))
            for zone in settings.zones
        },
    )


def source_of(probe: Probe | Hygrometer) -> str:
    """What tells this one from another of the same name: 'onewire 28-0316a2795a01'."""
    common = HygrometerCommon if isinstance(probe, HygrometerCommon) else ProbeCommon
    identity = probe.model_dump(exclude={"kind", *common.model_fields}, exclude_none=True)
    return " ".join(str(part) for part in (probe.kind, *identity.values()))


class Gather:
    """Takes ticks in; gives minutes when asked and notes at once."""

    def __init__(self, settings: Settings) -> None:
        self._names = names_of(settings)
        self._probes = ProbeMinutes()
        self._hygrometers = HygrometerMinutes()
        self._outputs = OnTime()
        self._zones: dict[str, ZoneChange] = {}
        self._day: int | None = None  # the UTC day in which the zones were all noted
        self._last: Now | None = None

    def use(self, settings: Settings) -> list[Minute]:
        """New settings are in force; returns the minutes that stand under the old ones."""
        minutes = self.take()
        self._names = names_of(settings)
        return minutes

    def add(self, tick: Tick) -> list[Note]:
        """Take in one tick; returns its notes."""
        notes: list[Note] = self._clock_steps(tick.now)
        self._probes.add(tick.now, tick.readings, tick.verdicts)
        self._hygrometers.add(tick.now, tick.humidity_readings, tick.humidity)
        notes += self._outputs.add(tick.now, tick.commands, self._names.powers_w)
        self._begin_day(tick.now)
        notes += (change for view in tick.zones for change in self._zone_changes(view, tick.now))
        notes += tick.events
        return notes

    def take(self) -> list[Minute]:
        """The minutes so far, the running one's part included, which may come again."""
        return [
            *self._probes.take(self._names.sources),
            *self._hygrometers.take(self._names.hygrometer_sources),
            *self._outputs.take(self._names.powers_w),
        ]

    def stop(self, now: Now) -> list[Note]:
        """No more ticks: what is on goes off now."""
        return list(self._outputs.stop(now, self._names.powers_w))

    def _clock_steps(self, now: Now) -> list[Note]:
        last, self._last = self._last, now
        if last is None:
            return []
        before_utc_s = last.utc_s + (now.mono_s - last.mono_s)
        if abs(now.utc_s - before_utc_s) <= _CLOCK_STEP_S:
            return []
        return [ClockStep(now.mono_s, before_utc_s, now.utc_s)]

    def _begin_day(self, now: Now) -> None:
        """Every day notes each zone afresh: how things stood is never far to seek."""
        day = int(now.utc_s // DAY_S)
        if day != self._day:
            self._day = day
            self._zones.clear()

    def _zone_changes(self, view: ZoneView, now: Now) -> list[ZoneChange]:
        min_c, max_c = self._names.limits_c.get(view.name, (None, None))
        change = ZoneChange(
            utc_s=now.utc_s,
            mono_s=now.mono_s,
            zone=view.name,
            period=view.period,
            heat_setpoint_c=view.heat_setpoint_c,
            cool_setpoint_c=view.cool_setpoint_c,
            min_c=min_c,
            max_c=max_c,
            heat_wanted=_wanted(view, Mode.HEAT),
            cool_wanted=_wanted(view, Mode.COOL),
        )
        last = self._zones.get(view.name)
        if last is not None and last._replace(utc_s=now.utc_s, mono_s=now.mono_s) == change:
            return []
        self._zones[view.name] = change
        return [change]


def _wanted(view: ZoneView, mode: Mode) -> bool | None:
    """None: the zone has nothing to wish for in this mode."""
    wishes = [wish.on for wish in view.wishes if wish.mode is mode]
    return any(wishes) if wishes else None
