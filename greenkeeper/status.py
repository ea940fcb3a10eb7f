"""The status document: what the keeper says of itself, for `now`, page and others.

Lives here: the shape of that JSON document, made purely from a Tick, and the file it is
put into each tick. Does not live here: wording for people (reports/words.py).
Temperatures are °C; a probe without a trusted temperature has null and a fault, never
a number. Times are POSIX seconds UTC.
"""

import json
import os
from collections.abc import Collection
from pathlib import Path
from typing import NamedTuple, TypedDict

from greenkeeper import files
from greenkeeper.errors import CATALOGUE, GreenkeeperError
from greenkeeper.model import (
    AlarmMemory,
    Ask,
    Bad,
    Condition,
    ContactReading,
    DampVerdict,
    OutputMemory,
    Tick,
    Verdict,
    ZoneView,
)

FORMAT = 2
FILE_NAME = "status.json"


class ProbeStatus(TypedDict):
    temp_c: float | None
    age_s: float | None
    fault: str | None
    detail: str


class HygrometerStatus(TypedDict):
    rh_pct: float | None
    age_s: float | None
    dew_point_c: float | None  # null without a trusted probe beside it
    fault: str | None
    detail: str


class ZoneStatus(TypedDict):
    probes: list[str]
    coldest_c: float | None
    coldest_probe: str | None
    warmest_c: float | None
    period: str
    heat_setpoint_c: float | None
    cool_setpoint_c: float | None
    minimum_c: float | None  # of the tenderest plant
    ordered_until_utc_s: float | None  # the heat setpoint was ordered over the broker
    off_until_utc_s: float | None  # switched off over the broker
    airing: str | None  # what it does, and why or why not; null: the zone is not aired
    let_out_wh: float | None  # estimate: heat that airing let out within the last day


class OutputStatus(TypedDict):
    mode: str
    on: bool
    since_utc_s: float
    reason: str
    operations: int  # switched on, in all its relay's life
    rated_operations: int | None  # what that relay is good for; None: it has none


class ContactStatus(TypedDict):
    tells: str
    of: str | None  # a zone's door, a heater's contactor; None: of all
    active: bool | None  # whether what it tells is so; None: it could not be read
    since_utc_s: float
    detail: str


class AlarmStatus(TypedDict):
    code: str
    level: int
    title: str
    subject: str
    text: str
    since_utc_s: float
    name: str  # what a person types
    seen: bool  # somebody said so: there are no reminders


class StatusDocument(TypedDict):
    format: int
    version: str
    site: str
    timezone: str
    pid: int
    started_utc_s: float
    utc_s: float
    poll_s: float
    clock_trusted: bool
    outdoor_probe: str | None
    probes: dict[str, ProbeStatus]
    hygrometers: dict[str, HygrometerStatus]
    zones: dict[str, ZoneStatus]
    outputs: dict[str, OutputStatus]
    contacts: dict[str, ContactStatus]
    alarms: list[AlarmStatus]
    latches: list[str]


class About(NamedTuple):
    """What of the document does not change from tick to tick."""

    version: str
    site: str
    timezone: str
    started_utc_s: float
    poll_s: float
    outdoor_probe: str | None
    zone_probes: dict[str, tuple[str, ...]]
    zone_minimum_c: dict[str, float | None]
    modes: dict[str, str]
    rated_operations: dict[str, int]
    contacts: dict[str, tuple[str, str | None]]  # what each tells, and of what


def document(
    tick: Tick, about: About, seen: Collection[tuple[str, str]] = frozenset()
) -> StatusDocument:
    """seen: code and subject of the alarms that somebody has seen."""
    alarms = [
        _alarm(entry, seen=key in seen) for key, entry in tick.memory.alarms.items() if entry.active
    ]
    alarms.sort(key=lambda alarm: (-alarm["level"], alarm["since_utc_s"]))
    return {
        "format": FORMAT,
        "version": about.version,
        "site": about.site,
        "timezone": about.timezone,
        "pid": os.getpid(),
        "started_utc_s": about.started_utc_s,
        "utc_s": tick.now.utc_s,
        "poll_s": about.poll_s,
        "clock_trusted": tick.now.clock_trusted,
        "outdoor_probe": about.outdoor_probe,
        "probes": {name: _probe(verdict) for name, verdict in tick.verdicts.items()},
        "hygrometers": {name: _hygrometer(verdict) for name, verdict in tick.humidity.items()},
        "zones": {view.name: _zone(view, tick, about) for view in tick.zones},
        "outputs": {
            name: _output(name, state, tick, about) for name, state in tick.memory.outputs.items()
        },
        "contacts": {
            name: _contact(name, state, tick, about) for name, state in tick.contacts.items()
        },
        "alarms": alarms,
        "latches": list(tick.memory.latches),
    }


def _probe(verdict: Verdict) -> ProbeStatus:
    if isinstance(verdict, Bad):
        return {
            "temp_c": None,
            "age_s": None,
            "fault": verdict.fault.value,
            "detail": verdict.detail,
        }
    temp_c, age_s = round(verdict.temp_c, 4), round(verdict.age_s, 1)
    return {"temp_c": temp_c, "age_s": age_s, "fault": None, "detail": ""}


def _hygrometer(verdict: DampVerdict) -> HygrometerStatus:
    if isinstance(verdict, Bad):
        return {
            "rh_pct": None,
            "age_s": None,
            "dew_point_c": None,
            "fault": verdict.fault.value,
            "detail": verdict.detail,
        }
    dew_point_c = None if verdict.dew_point_c is None else round(verdict.dew_point_c, 2)
    return {
        "rh_pct": round(verdict.rh_pct, 2),
        "age_s": round(verdict.age_s, 1),
        "dew_point_c": dew_point_c,
        "fault": None,
        "detail": "",
    }


def _zone(view: ZoneView, tick: Tick, about: About) -> ZoneStatus:
    def until_utc_s(ask: Ask) -> float | None:
        override = tick.memory.overrides.get((view.name, ask))
        return None if override is None else override.until_utc_s

    airing = tick.memory.airing.get(view.name)
    return {
        "probes": list(about.zone_probes[view.name]),
        "coldest_c": view.coldest_c,
        "coldest_probe": view.coldest_probe,
        "warmest_c": view.warmest_c,
        "period": view.period,
        "heat_setpoint_c": view.heat_setpoint_c,
        "cool_setpoint_c": view.cool_setpoint_c,
        "minimum_c": about.zone_minimum_c[view.name],
        "ordered_until_utc_s": until_utc_s(Ask.SETPOINT),
        "off_until_utc_s": until_utc_s(Ask.OFF),
        "airing": None if airing is None else airing.reason,
        "let_out_wh": None if airing is None else round(sum(wh for _, wh in airing.hours)),
    }


def _output(name: str, state: OutputMemory, tick: Tick, about: About) -> OutputStatus:
    return {
        "mode": about.modes[name],
        "on": state.on,
        "since_utc_s": tick.now.utc_s - (tick.now.mono_s - state.since_s),
        "reason": state.reason,
        "operations": state.operations,
        "rated_operations": about.rated_operations.get(name),
    }


def _contact(name: str, state: ContactReading, tick: Tick, about: About) -> ContactStatus:
    tells, of = about.contacts[name]
    return {
        "tells": tells,
        "of": of,
        "active": state.active,
        "since_utc_s": tick.now.utc_s - (tick.now.mono_s - state.taken_s),
        "detail": state.detail,
    }


def _alarm(entry: AlarmMemory, *, seen: bool) -> AlarmStatus:
    alarm = entry.alarm
    return {
        "code": alarm.code,
        "level": int(CATALOGUE[alarm.code].level),
        "title": CATALOGUE[alarm.code].title,
        "subject": alarm.subject,
        "text": alarm.text,
        "since_utc_s": alarm.since_utc_s,
        "name": alarm.name,
        "seen": seen,
    }


def read(runtime: Path) -> StatusDocument:
    """What the running keeper last said. Raises GreenkeeperError when there is none."""
    file = runtime / FILE_NAME
    try:
        found: StatusDocument = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise NoKeeperError(
            f"no keeper is running: there is no {file}. Start one with 'greenkeeper run', or "
            "name its folder with --runtime."
        ) from error
    except PermissionError as error:
        raise GreenkeeperError(f"{file} may not be read by you: try with sudo") from error
    except (OSError, ValueError) as error:
        raise GreenkeeperError(f"{file} cannot be read: {error}") from error
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise GreenkeeperError(f"{file} is not a status file of this version")
    return found


class NoKeeperError(GreenkeeperError):
    """There is no status file: a stopped keeper takes it along."""


class StatusFile:
    """The document in the runtime folder, replaced whole each tick."""

    def __init__(self, runtime: Path) -> None:
        self._file = runtime / FILE_NAME
        self._trouble: str | None = None

    def write(self, status: StatusDocument) -> None:
        """Raises nothing; see conditions()."""
        try:
            # Readable by all: the page runs as another user, and nothing here is secret.
            files.replace(self._file, json.dumps(status) + "\n", durable=False, mode=0o644)
            self._trouble = None
        except OSError as error:
            self._trouble = f"{self._file}: {error.strerror}"

    def conditions(self) -> tuple[Condition, ...]:
        return (
            () if self._trouble is None else (Condition("status-failing", "status", self._trouble),)
        )

    def remove(self) -> None:
        """A stopped keeper leaves no status that looks alive."""
        self._file.unlink(missing_ok=True)
