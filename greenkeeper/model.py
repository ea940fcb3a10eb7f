"""The nouns of the house: what flows along one tick, from probe to record.

Lives here: immutable values only. They are named tuples because a rehearsed winter
makes millions of them, and a frozen dataclass costs four times as much to build.
Does not live here: any decision, any I/O, any clock. This module imports nothing
of the house.

Times: `mono_s` is monotonic seconds, used for every duration, age and expiry;
`utc_s` is POSIX seconds, used for records and civil time only.
"""

import re
from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple


class Now(NamedTuple):
    """The one moment a tick is about. Only the outermost loop makes these."""

    mono_s: float
    utc_s: float
    clock_trusted: bool  # civil time is known to be synchronised


class Fault(StrEnum):
    """Why a number is not a temperature. The alarm code is "probe-" plus the value."""

    MISSING = "missing"  # the probe does not answer, or its folder is gone
    STALE = "stale"  # nothing good for longer than the probe's stale_s
    CHECKSUM = "checksum"  # damaged on its way
    POWER_ON = "power-on"  # 85.000 straight after power-up: no conversion ran
    ALL_ZERO = "all-zero"  # nine zero bytes with a valid CRC: a shorted bus
    CONVERSION = "conversion"  # 127.9375: power failed during the conversion
    OUT_OF_RANGE = "out-of-range"
    JUMPED = "jumped"  # too far from the last one, not yet confirmed by time
    FROZEN = "frozen"  # has not moved while its neighbours did
    UNREADABLE = "unreadable"  # text that is no probe's


class Reading(NamedTuple):
    """What a driver got: a temperature, or the reason for its absence, never both.

    temp_c carries no offset yet. taken_s is the monotonic second of the measurement;
    for a fault, that of the attempt. detail is for people: what exactly was seen.
    """

    taken_s: float
    temp_c: float | None
    fault: Fault | None = None
    detail: str = ""


class ContactReading(NamedTuple):
    """What a contact said: whether what it tells is so. None: it could not be read."""

    taken_s: float
    active: bool | None
    detail: str = ""


class HumidityReading(NamedTuple):
    """What a hygrometer said: a relative humidity, or the reason for its absence.

    A noun of its own, so that no humidity can be taken for a temperature. rh_pct carries
    no offset yet; everything else is as with Reading.
    """

    taken_s: float
    rh_pct: float | None
    fault: Fault | None = None
    detail: str = ""


class Good(NamedTuple):
    """A temperature control may act on, its offset applied."""

    temp_c: float
    age_s: float


class Bad(NamedTuple):
    """No temperature, and why."""

    fault: Fault
    detail: str


Verdict = Good | Bad


class Damp(NamedTuple):
    """A relative humidity control may act on, its offset applied, and what it means.

    The last three are None while no trusted temperature is known at the same place.
    """

    rh_pct: float
    age_s: float
    temp_c: float | None = None
    dew_point_c: float | None = None
    water_g_m3: float | None = None


DampVerdict = Damp | Bad


class Mode(StrEnum):
    HEAT = "heat"
    COOL = "cool"
    AIR = "air"  # to let damp out; to the guard a kind of cooling


# The urgency of a zone without a trusted probe: it asks for nothing.
BLIND_K = float("-inf")


class Wish(NamedTuple):
    """What one zone would like of one output, before the guard is asked.

    urgency_k says how far beyond its switching point the zone is; of several zones
    that want the same output, the most urgent one gives the reason.
    """

    zone: str
    mode: Mode
    output: str
    on: bool
    reason: str
    urgency_k: float


class Command(NamedTuple):
    """What one output is to do now. An ON lapses at until_s unless renewed."""

    output: str
    on: bool
    until_s: float | None  # Invariant: a monotonic second when on, None when off
    reason: str
    planned: bool = False  # until_s is the end that is meant: reaching it is no lapse


class Condition(NamedTuple):
    """Something that holds at this moment and that a person may want to know."""

    code: str  # a key of errors.CATALOGUE
    subject: str  # the probe, zone, output or part it is about
    text: str


class Phase(StrEnum):
    RAISED = "raised"
    CLEARED = "cleared"
    NOTED = "noted"  # a single happening, with no end of its own


class Event(NamedTuple):
    code: str
    phase: Phase
    subject: str
    text: str
    mono_s: float
    utc_s: float


def alarm_name(code: str, subject: str) -> str:
    """What a person types to say that they have seen it: small letters and hyphens."""
    return "-".join(re.findall(r"[a-z0-9]+", f"{code} {subject}".lower()))


class Alarm(NamedTuple):
    """A condition that has lasted long enough to be told."""

    code: str
    subject: str
    text: str
    since_s: float
    since_utc_s: float

    @property
    def name(self) -> str:
        return alarm_name(self.code, self.subject)


class Latch(NamedTuple):
    """A trip that outlives its cause, and a restart, until a person clears it."""

    code: str
    subject: str
    text: str
    since_utc_s: float

    @property
    def name(self) -> str:
        """What a person types to clear it."""
        return f"{self.code}-{self.subject}"


class Request(NamedTuple):
    """A person's word, given through a command."""

    clear: str = ""  # the name of a latch
    new_relay: str = ""  # the name of an output whose relay was replaced
    seen: str = ""  # the name of an alarm, or "all": nobody need be reminded of it
    commissioned: str = ""  # "TEST: what came of it", for the record


class Ask(StrEnum):
    """What may be ordered of a zone from afar."""

    SETPOINT = "setpoint"  # heat at another setpoint for a while
    PLAN = "plan"  # back to the setpoint of the settings
    OFF = "off"  # neither heat nor cool for a while
    ARMED = "armed"  # back on watch


class Order(NamedTuple):
    """One word from afar about one zone. Whether it is allowed, control decides."""

    zone: str
    ask: Ask
    setpoint_c: float | None = None  # Invariant: a number for SETPOINT alone


class Override(NamedTuple):
    """An order in force: it ends by itself."""

    zone: str
    ask: Ask  # SETPOINT or OFF
    setpoint_c: float | None
    until_s: float
    until_utc_s: float  # the same moment, for people and for a restart


# (zone, SETPOINT or OFF) -> what is in force.
Overrides = Mapping[tuple[str, Ask], Override]


class ZoneView(NamedTuple):
    """How one zone stands in this tick. Temperatures are None while it is blind."""

    name: str
    coldest_c: float | None
    coldest_probe: str | None
    warmest_c: float | None
    warmest_probe: str | None
    period: str  # "day" or "night"
    heat_setpoint_c: float | None  # None: the zone has no heat
    cool_setpoint_c: float | None
    wishes: tuple[Wish, ...]


# (zone, probe) -> when the first of its readings over the zone's ceiling was taken.
HotReadings = Mapping[tuple[str, str], float]


class Failures(NamedTuple):
    """A probe's failed readings, in counts that fade with a time constant of an hour."""

    counts: Mapping[Fault, float]  # as they stood at at_s
    at_s: float
    told: bool  # they were too many, and have not become few enough since


class ProbeMemory(NamedTuple):
    """What judge keeps of one probe. None: never yet."""

    good_c: float | None = None  # newest believed temperature, offset applied
    good_s: float | None = None
    seen_s: float | None = None  # taken_s of the newest reading judged, good or bad
    doubt_c: float | None = None  # a jump waiting to be confirmed
    doubt_since_s: float | None = None
    doubt_seen_s: float | None = None
    last_fault: Fault | None = None  # of the newest reading; None: it was good
    last_detail: str = ""
    failures: Failures | None = None


class HygrometerMemory(NamedTuple):
    """What is kept of one hygrometer. None: never yet."""

    good_pct: float | None = None  # newest believed humidity, offset applied
    good_s: float | None = None
    seen_s: float | None = None  # taken_s of the newest reading judged, good or bad
    last_fault: Fault | None = None
    last_detail: str = ""
    still_since_s: float | None = None  # it has said the same since
    still_temp_c: float | None = None  # the temperature beside it then
    moved_beside: str = ""  # that this has moved meanwhile, in words; empty: it has not


class WetnessMemory(NamedTuple):
    """How wet the leaves of a zone are, as far as its hygrometer tells."""

    seen_s: float | None = None  # when it was last looked at; None: it could not be
    wet: bool = False
    condensing: bool = False
    mouldy: bool = False  # wet for so long that grey mould is to be expected
    hours: tuple[tuple[int, float], ...] = ()  # (monotonic hour, wet seconds), one day of it


class AiringMemory(NamedTuple):
    """What is kept of a zone that may be aired."""

    asking: bool = False
    since_s: float | None = None  # when that last changed; None: never yet
    reason: str = ""
    seen_s: float | None = None  # the last tick
    began_pct: float | None = None  # how damp it was when this bout began
    aired_s: float = 0.0  # how long air really went out in this bout
    bout_wh: float = 0.0  # estimate: the heat that went with it
    hours: tuple[tuple[int, float], ...] = ()  # (monotonic hour, that heat in Wh), one day of it


class Still(NamedTuple):
    """A probe that says the same since a while."""

    temp_c: float
    since_s: float
    beside: Mapping[str, Verdict]  # what every probe said when it began to
    proof: str = ""  # what must have moved it meanwhile, in words; empty: nothing
    later: Mapping[str, float] = MappingProxyType({})  # those beside it that came back since: when
    owed_ks: float = 0.0  # of one that is alone: kelvin beyond all others, times seconds
    counted_s: float | None = None  # monotonic second up to which that is counted


class Apart(NamedTuple):
    """A zone whose probes are further apart than they should be."""

    since_s: float
    lone: str | None  # the one that stands alone, if one does
    lone_since_s: float


class NeighbourMemory(NamedTuple):
    """What is kept of probes beside each other."""

    still: Mapping[str, Still] = MappingProxyType({})  # by probe
    apart: Mapping[str, Apart] = MappingProxyType({})  # by zone


class OutputMemory(NamedTuple):
    """What guard keeps of one output."""

    on: bool
    since_s: float  # monotonic second of the last change
    until_s: float | None  # Invariant: a number when on, None when off
    reason: str
    operations: int = 0  # off-to-on switchings of this relay, in all its life
    was_on_s: float = 0.0  # time on in the spells that have ended, since the keeper started

    def on_s(self, now_s: float) -> float:
        """Time on since the keeper started, the spell that lasts included."""
        if not self.on or self.until_s is None:
            return self.was_on_s
        return self.was_on_s + max(0.0, min(now_s, self.until_s) - self.since_s)


class Place(StrEnum):
    """Where a vent stands, as far as time alone can tell."""

    UNKNOWN = "unknown"  # at a start, or after a movement nobody saw to its end
    CLOSED = "closed"
    BETWEEN = "between"  # on its way, or stopped on it
    OPEN = "open"


class VentMemory(NamedTuple):
    """What guard keeps of one vent; which way it moves stands in its relays' memories."""

    place: Place = Place.UNKNOWN
    homed_s: float | None = None  # when it was last driven to its closed end


class Sample(NamedTuple):
    temp_c: float
    mono_s: float


class Behind(NamedTuple):
    """What is behind one zone's probe, as far as it can be told: control/observer.py."""

    heat: float  # what the element gives off, as a share of its full power
    air_c: float
    probe_c: float
    rest_c: float  # where the air would end without heat
    looks: int  # readings since this was begun
    mono_s: float


class Pulsing(NamedTuple):
    """What is kept of a zone that is heated in proportion."""

    behind: Behind | None = None  # None: nothing is known of the air
    margin_k: float | None = None  # what it has learned to stay above the setpoint. None: nothing
    operations: int = 0  # of its relay, when last looked at
    purse: float | None = None  # closings that may still be spent. None: as at the start
    held: bool = False  # pulses have the air in hand: it is not on its way up from the cold
    rest_mean_c: float | None = None  # what the air was drawn to of late, in the mean
    wander_k: float | None = None  # how far from that, root of the mean square. None: not seen yet


class Doubt(NamedTuple):
    """One of two heaters that was on in vain: control/doubt.py."""

    heater: str
    since_s: float
    at_length: bool  # for as long as warmth takes to show
    is_fair: bool  # for longer than the other took, and the zone fell on as before
    falls_k_per_s: float  # how fast the zone got colder in the end
    ran_s: float  # how long it had been on
    at_c: float  # the coldest when the other took its place
    low_c: float  # the coldest since
    low_s: float  # when that was
    at_work: bool = False  # it began where its own warmth should still have been
    turned: bool = False  # the other has ended the fall since
    weighed: bool = False  # and it is said what that means
    cold: int = 0  # how often it meant that no warmth had come
    proven: int = 0  # how often the other was then clearly enough
    turn_s: float | None = None  # how long the other took to end the zone's fall, both cold
    again: bool = False  # it is to be tried once more
    trial_s: float | None = None  # since when the other works alone
    on_s: float = 0.0  # of the one that works alone


class Staging(NamedTuple):
    """What is kept of a zone with two heaters."""

    first: str
    joined: bool = False  # both work as one
    share: float = 0.0  # of the time on, while they do
    at_s: float | None = None  # the last tick
    run_s: float | None = None  # when the first came on; None: it is off, or both work
    began_c: float = 0.0  # the coldest then
    low_c: float = 0.0  # the coldest since
    low_s: float = 0.0  # when that was
    rest_s: float | None = None  # since when both were off, before the first came on
    mark_s: float = 0.0  # since when it is below the setpoint and gets no warmer
    mark_c: float = 0.0  # the coldest since then
    turns_s: tuple[float, ...] = ()  # how long one took here of late to end the fall, both cold
    turned_s: float | None = None  # the run in which it last did
    course: tuple[Sample, Sample] | None = None  # the coldest a while ago, and before that
    doubt: Doubt | None = None
    shunned: Mapping[str, float] = MappingProxyType({})  # heaters that go behind, until when
    silent: str | None = None  # the one of them that was found out here


class Shifted(NamedTuple):
    """A zone whose heat setpoint is moved for a while: up in cheap hours, down before the sun."""

    quarter: int  # of an hour of POSIX time, for which this was decided
    by_k: float  # below zero: it is lowered
    reason: str


class Morning(NamedTuple):
    """What a forecast says of the first hours after a sunrise."""

    made_utc_s: float  # the forecast
    sunrise_utc_s: float
    cloud_share: float  # of the sky, from 0 to 1


class BlindMemory(NamedTuple):
    """What is kept of a zone that may be heated without a probe."""

    samples: tuple[Sample, ...] = ()  # coldest trusted temperature, oldest first: its trend
    blind_since_s: float | None = None  # None: it can see
    sighted_since_s: float | None = None  # None: it cannot, or a spell's end is long past
    used_s: float = 0.0  # heating time of this spell
    frost: bool = False


class Minute(NamedTuple):
    """The house at one look of watch."""

    mono_s: float
    temps_c: tuple[float | None, ...]  # in the plan's order; None: not trusted
    on_s: tuple[float, ...]  # how long each heater has been on, since watch began
    aired_s: float  # how long cooling was at work or a vent open, since watch began


class Spell(NamedTuple):
    """One run of a heater, short pauses included."""

    began: Minute  # the house when it came on
    duty_before: float | None  # share of the time it was on before that; None: not known


class Silence(NamedTuple):
    """A heater whose heat did not arrive, until it is seen to."""

    text: str
    since_s: float


class Fall(NamedTuple):
    """A zone that fell as it does with its door open."""

    since_s: float
    from_c: float
    fallen_k: float
    text: str


class Measured(NamedTuple):
    """What a probe read, believed or not."""

    taken_s: float
    temp_c: float


class Climb(NamedTuple):
    """A probe that rises faster than any healthy house."""

    since_s: float
    from_c: float
    latest: Measured
    steps: int  # how many looks in a row


class WatchMemory(NamedTuple):
    """What watch keeps from one look, once a minute, to the next."""

    minutes: tuple[Minute, ...] = ()  # oldest first
    dark_since_s: float | None = None  # None: it is not dark, or nobody knows
    aired_s: float | None = None  # when cooling was last at work
    door_s: float | None = None  # when a door was last thought to be open
    spells: Mapping[str, Spell] = MappingProxyType({})  # by heater
    silent: Mapping[str, Silence] = MappingProxyType({})  # by heater
    falls: Mapping[str, Fall] = MappingProxyType({})  # by zone
    measured: Mapping[int, Measured] = MappingProxyType({})  # by the probe's place in the plan
    climbs: Mapping[int, Climb] = MappingProxyType({})  # by the probe's place in the plan
    contacts: Mapping[str, ContactReading] = MappingProxyType({})  # taken_s: since when so
    slow_due_s: float | None = None
    # What was found, and stands until it is looked at again:
    conditions: tuple[Condition, ...] = ()
    slow: tuple[Condition, ...] = ()  # those of them that take hours
    stuck: tuple[Condition, ...] = ()  # heaters that do not stop
    climbing: tuple[Condition, ...] = ()  # probes that run away


class AlarmMemory(NamedTuple):
    """One condition on its way to becoming an alarm, or an alarm to its end."""

    alarm: Alarm
    active: bool
    gone_since_s: float | None  # the condition no longer holds since


class Calm(NamedTuple):
    """Nothing moves, nothing is on, nothing is told: until something does."""

    until_s: float  # from this monotonic second on, time alone may change the answer
    night: bool
    commands: tuple[Command, ...]  # every output off


class Memory(NamedTuple):
    """All that one tick leaves to the next. `control.fresh` makes the first one."""

    probes: Mapping[str, ProbeMemory]
    outputs: Mapping[str, OutputMemory]
    wishes: Mapping[tuple[str, Mode], bool]  # the thermostats' hysteresis state
    alarms: Mapping[tuple[str, str], AlarmMemory]
    latches: Mapping[str, Latch]
    last: Now | None  # the previous tick's moment
    hot: HotReadings = MappingProxyType({})
    neighbours: NeighbourMemory = NeighbourMemory()
    vents: Mapping[str, VentMemory] = MappingProxyType({})
    blind: Mapping[str, BlindMemory] = MappingProxyType({})  # by zone
    watch: WatchMemory = WatchMemory()
    said: Mapping[str, bool] = MappingProxyType({})  # contacts that are news: control/turns.py
    views: tuple[ZoneView, ...] = ()  # as they were; empty: to be worked out afresh
    hygrometers: Mapping[str, HygrometerMemory] = MappingProxyType({})
    wetness: Mapping[str, WetnessMemory] = MappingProxyType({})  # by zone
    airing: Mapping[str, AiringMemory] = MappingProxyType({})  # by zone
    calm: Calm | None = None
    overrides: Overrides = MappingProxyType({})
    pulsing: Mapping[str, Pulsing] = MappingProxyType({})  # by zone
    staging: Mapping[str, Staging] = MappingProxyType({})  # by zone
    shifted: Mapping[str, Shifted] = MappingProxyType({})  # by zone; those that are


class Tick(NamedTuple):
    """One tick's whole record: what journal, broker, status and page are told."""

    now: Now
    readings: Mapping[str, Reading]
    verdicts: Mapping[str, Verdict]
    zones: tuple[ZoneView, ...]
    commands: tuple[Command, ...]
    events: tuple[Event, ...]
    memory: Memory
    humidity: Mapping[str, DampVerdict] = MappingProxyType({})  # by hygrometer
    humidity_readings: Mapping[str, HumidityReading] = MappingProxyType({})
    contacts: Mapping[str, ContactReading] = MappingProxyType({})  # taken_s: since when so
