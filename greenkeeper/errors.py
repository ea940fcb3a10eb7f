"""Every code the house can utter, and the root of every error it raises.

Lives here: the catalogue that log, journal, broker, status and page share. A code has
a paragraph in hardware-notes/messages.md, and a test matches both lists. Does not
live here: deciding when a condition holds (control) or whom to tell (alarms).
"""

from enum import IntEnum
from typing import NamedTuple

from greenkeeper.model import Fault


class GreenkeeperError(Exception):
    """An error with a message fit for a person: what, where, and what to do."""


class Level(IntEnum):
    """How much it matters. A notice is for the record, an alarm may wake someone."""

    NOTICE = 1
    WARNING = 2
    ALARM = 3


class Entry(NamedTuple):
    """How one code behaves.

    A condition is raised once it has held for raise_after_s and cleared once it has
    been gone for clear_after_s, so that nothing flaps.
    """

    level: Level
    title: str
    raise_after_s: float = 0.0
    clear_after_s: float = 0.0


def probe_code(fault: Fault) -> str:
    return f"probe-{fault.value}"


_PROBE_TITLES = {
    Fault.MISSING: "probe does not answer",
    Fault.STALE: "probe has gone quiet",
    Fault.CHECKSUM: "probe's data arrive damaged",
    Fault.POWER_ON: "probe reports its power-on value",
    Fault.ALL_ZERO: "probe's bus is shorted",
    Fault.CONVERSION: "probe lost power while measuring",
    Fault.OUT_OF_RANGE: "probe reads outside its range",
    Fault.JUMPED: "probe jumped",
    Fault.FROZEN: "probe has not moved while others did",
    Fault.UNREADABLE: "probe's data make no sense",
}

CATALOGUE: dict[str, Entry] = {
    **{
        probe_code(fault): Entry(Level.WARNING, title, raise_after_s=120.0, clear_after_s=60.0)
        for fault, title in _PROBE_TITLES.items()
    },
    "probe-disagrees": Entry(
        Level.WARNING, "probe disagrees with its neighbours", clear_after_s=300.0
    ),
    "probe-flaky": Entry(Level.WARNING, "probe's readings often fail", clear_after_s=600.0),
    "zone-disagrees": Entry(Level.WARNING, "the zone's probes are far apart", clear_after_s=300.0),
    "zone-blind": Entry(
        Level.ALARM, "no trusted probe in the zone", raise_after_s=60.0, clear_after_s=30.0
    ),
    "over-ceiling": Entry(Level.ALARM, "over the ceiling: every heater locked out"),
    "below-minimum": Entry(
        Level.ALARM, "plants below their minimum", raise_after_s=300.0, clear_after_s=300.0
    ),
    "above-maximum": Entry(
        Level.WARNING, "plants above their maximum", raise_after_s=300.0, clear_after_s=300.0
    ),
    # The damp: control/wetness.py
    "condensation": Entry(
        Level.NOTICE, "leaves get wet", raise_after_s=1800.0, clear_after_s=1800.0
    ),
    "grey-mould": Entry(
        Level.WARNING, "leaves wet for long: grey mould", raise_after_s=0.0, clear_after_s=3600.0
    ),
    "aired": Entry(Level.NOTICE, "damp was let out"),
    # The heat: control/watch.py
    "no-response": Entry(Level.ALARM, "heat does not arrive", clear_after_s=120.0),
    "stuck-on": Entry(Level.ALARM, "something heats though it is off: every heater locked out"),
    "runaway": Entry(Level.ALARM, "temperature runs away: every heater locked out"),
    "heater-at-limit": Entry(Level.WARNING, "heater is at its limit", clear_after_s=1800.0),
    "second-heater": Entry(Level.NOTICE, "the second heater helps", clear_after_s=600.0),
    "stands-in": Entry(
        Level.WARNING, "one of two heaters gave no warmth, the other stands in", clear_after_s=600.0
    ),
    "displaced": Entry(Level.WARNING, "probe reads like outdoors", clear_after_s=1800.0),
    "door-open": Entry(Level.NOTICE, "a door stands open", raise_after_s=60.0, clear_after_s=60.0),
    "mains-lost": Entry(Level.ALARM, "no mains where the heat comes from", clear_after_s=30.0),
    "contact-failed": Entry(
        Level.WARNING, "contact cannot be read", raise_after_s=60.0, clear_after_s=60.0
    ),
    "contact-changed": Entry(Level.NOTICE, "a contact tells something new"),
    "output-failed": Entry(Level.ALARM, "output cannot be switched", clear_after_s=30.0),
    "output-held": Entry(
        Level.WARNING, "output held back: its rival may still be on", clear_after_s=30.0
    ),
    "heating-blind": Entry(
        Level.ALARM, "heating without a trusted probe, by guess", clear_after_s=600.0
    ),
    "ran-too-long": Entry(Level.WARNING, "output ran for longer than it ever should"),
    # What greenkeeper tonight has said: outlook_file.py
    "cold-ahead": Entry(
        Level.ALARM, "plants will be too cold in the coming night", clear_after_s=60.0
    ),
    "cover-due": Entry(Level.NOTICE, "a cover or a lining is due", clear_after_s=3600.0),
    # What the journal teaches: house/learning/drift.py
    "loss-changed": Entry(
        Level.NOTICE, "the house loses more or less than before", clear_after_s=3600.0
    ),
    "relay-half-worn": Entry(Level.NOTICE, "relay has spent half its rated life"),
    "relay-worn": Entry(Level.WARNING, "relay is near the end of its rated life"),
    "relay-renewed": Entry(Level.NOTICE, "a person fitted a new relay"),
    "relay-unknown": Entry(Level.WARNING, "no relay of that name to count anew"),
    "commissioned": Entry(Level.NOTICE, "a commissioning test was done"),
    "journal-failing": Entry(Level.WARNING, "journal cannot be written", 30.0, 30.0),
    "journal-damaged": Entry(Level.WARNING, "journal was damaged and set aside"),
    "keepsakes-failing": Entry(Level.WARNING, "latches cannot be kept over a restart", 0.0, 30.0),
    "status-failing": Entry(Level.WARNING, "status file cannot be written", 30.0, 30.0),
    "broker-lost": Entry(Level.NOTICE, "broker out of reach", 120.0, 30.0),
    "broker-refused": Entry(Level.WARNING, "broker refuses this keeper", 10.0, 30.0),
    "alarms-failing": Entry(
        Level.WARNING, "a message reached nobody, or not everybody", 120.0, 30.0
    ),
    "heartbeat-failing": Entry(Level.WARNING, "the heartbeat's address takes no call", 900.0, 30.0),
    "clock-unset": Entry(
        Level.NOTICE, "civil time not yet synchronised", raise_after_s=300.0, clear_after_s=0.0
    ),
    "clock-jumped": Entry(Level.NOTICE, "the clock was set"),
    "tick-late": Entry(Level.WARNING, "the loop came round late", clear_after_s=600.0),
    # Orders from afar: control/overrides.py
    "order-taken": Entry(Level.NOTICE, "ordered over the broker"),
    "order-ended": Entry(Level.NOTICE, "what was ordered over the broker has ended"),
    "order-refused": Entry(Level.WARNING, "an order over the broker was refused", 0.0, 60.0),
    "off-in-cold": Entry(
        Level.ALARM, "switched off although heat is wanted", raise_after_s=120.0, clear_after_s=60.0
    ),
    "off-in-heat": Entry(
        Level.WARNING,
        "switched off although cooling is wanted",
        raise_after_s=120.0,
        clear_after_s=60.0,
    ),
    "settings-refused": Entry(Level.WARNING, "new settings have faults: the old ones stay"),
    "settings-changed": Entry(Level.NOTICE, "new settings in force"),
    "latch-cleared": Entry(Level.NOTICE, "a latch was cleared"),
    "latch-kept": Entry(Level.WARNING, "a latch could not be cleared"),
    "keeper-started": Entry(Level.NOTICE, "the keeper started"),
    "keeper-stopped": Entry(Level.NOTICE, "the keeper stopped"),
    "keeper-failed": Entry(Level.ALARM, "the keeper failed"),
    "part-failed": Entry(
        Level.WARNING, "a part of the program failed", raise_after_s=0.0, clear_after_s=300.0
    ),
}
