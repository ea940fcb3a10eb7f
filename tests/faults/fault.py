"""What a fault of the catalogue is: a row of one table.

Lives here: the columns. The rows stand in catalogue/, one file to a group; each becomes
a test case of its own (test_catalogue.py), and all of them a printed table
(`make faults`).
"""

import os
from collections.abc import Callable, Mapping
from enum import Enum
from types import MappingProxyType
from typing import NamedTuple

from tests.endtoend.shed import Shed
from tests.faults.house import Course, House

# "all" for every call of every sweep, and every moment: `make faults`.
WHOLE = os.environ.get("GREENKEEPER_FAULTS") == "all"


class Outcome(NamedTuple):
    """What came of a fault that holds, for people."""

    did: str  # what the keeper did, most of all with the heater
    told: tuple[str, ...]  # the codes that told of it


class Heat(Enum):
    """What the heater must have done. It would be on from a minute after the start."""

    GOES_ON = "heats on"
    PAUSES = "off while it lasts, on again afterwards"
    STOPS = "off for good"
    WAITS = "not on before it is mended"
    NEVER = "never on"
    OWN = "as its own check says"  # `also` looks at it


class End(Enum):
    """How the run must have ended."""

    STOPPED = "stopped as asked"
    FAILED = "ended itself, outputs off"
    REFUSED = "did not start"
    OWN = "either; its own check says which"


class Record(Enum):
    """What must be where the journal belongs."""

    WHOLE = "whole"
    ASIDE = "whole, the damaged one aside"
    UNTOUCHED = "left as it was"  # not ours to write
    NONE = "none could be made"


class Leaves(Enum):
    """How an output that was on stands while the fault lasts. The words are those that its
    cell in hardware-notes/safe-states.md begins with (test_safe_states.py)."""

    OFF = "off"
    UNAFFECTED = "unaffected"
    AS_IT_WAS = "as it was"  # nothing can switch it
    STILL = "still"  # the enable line, or a vent with both relays off
    MOVES = "moves"  # the enable line


def nothing_more(_house: House, _course: Course) -> None:
    """The shared checks say it all."""


class Fault(NamedTuple):
    name: str
    broken: str  # what is broken, in a few words
    inject: Callable[[House], object]  # lays down how
    heat: Heat
    told: tuple[str, ...] = ()  # exactly these codes, besides start and stop
    may: tuple[str, ...] = ()  # these as well, depending on the moment
    end: End = End.STOPPED
    record: Record = Record.WHOLE
    also: Callable[[House, Course], None] = nothing_more
    stuck: tuple[str, ...] = ()  # outputs that no program could switch off
    within_s: float = 60.0  # for the heater to follow
    leaves: Mapping[str, Leaves] = MappingProxyType({})  # by output


class Process(NamedTuple):
    """A fault of the whole process: the real program, on real time, its heater on."""

    name: str
    broken: str
    act: Callable[[Shed], str]  # what was done to it; asserts, and says what it did
    told: tuple[str, ...] = ()  # exactly these codes
    may: tuple[str, ...] = ()
    starts_itself: bool = False  # act() is given a shed in which nothing runs
    leaves: Mapping[str, Leaves] = MappingProxyType({})  # act() asserts it
    heavy: bool = False  # takes long in real time: only in `make faults`
