"""Contacts that lie, bounce, are taken or cannot be read; drivers with bugs.

None may switch anything on, and only one that contradicts a heater that is off may stop
the heat. hardware-notes/safe-states.md has the same as a table. What hangs on real time,
pulses of mains for one, is in tests/endtoend/test_contacts.py.
"""

import itertools
import os
from collections.abc import Callable, Mapping

from greenkeeper.model import ContactReading
from greenkeeper.probes import contact
from greenkeeper.probes.contact import GpioContacts
from tests.faults.catalogue.outputs import warm_at
from tests.faults.fault import Fault, Heat
from tests.faults.house import BREAKS_S, HEATER, MENDS_S, Course, House

MIRROR, MAINS, AMPS, DOOR = 5, 12, 13, 6  # none that a geared house drives
INPUTS = (
    "inputs:\n"
    f"  mirror: {{kind: gpio, pin: {MIRROR}, tells: contactor-closed, of: heater, active: high}}\n"
    f"  mains: {{kind: gpio, pin: {MAINS}, tells: mains-present, of: heater, active: low}}\n"
    f"  amps: {{kind: gpio, pin: {AMPS}, tells: heater-current, of: heater, active: low}}\n"
    f"  door: {{kind: gpio, pin: {DOOR}, tells: door-open, of: bench, active: high}}\n"
)


class Wires:
    """Contacts that tell the truth, but for those that are held at a level."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._held: dict[int, Callable[[], int | None]] = {}
        house.write_settings(extra=INPUTS)
        # The gaps between samples are real time, of which nothing here takes any.
        house.patch.setattr(contact, "GAPS_S", (0.0,) * contact.SAMPLES)
        self.join()

    def join(self) -> None:
        """To their lines; again after whatever has mended those."""
        for pin in (MIRROR, MAINS, AMPS, DOOR):
            self._house.board.hook("read", pin, lambda pin=pin: self._say(pin))

    def hold(self, pin: int, level: int | None) -> None:
        """At this level; None: its wire is broken."""
        self._held[pin] = lambda: level

    def flicker(self, pin: int) -> None:
        levels = itertools.cycle((0, 1))
        self._held[pin] = lambda: next(levels)

    def let_go(self, pin: int) -> None:
        self._held.pop(pin, None)

    def _say(self, pin: int) -> None:
        held = self._held.get(pin)
        level = self._truth(pin) if held is None else held()
        if level is None:
            self._house.board.let_be(pin)
        else:
            self._house.board.force(pin, level)

    def _truth(self, pin: int) -> int:
        heats = self._house.is_on(HEATER)
        return {MIRROR: int(heats), MAINS: 0, AMPS: int(not heats), DOOR: 0}[pin]


def held(
    pin: int, level: int | None, *, from_s: float = 0.0, to_s: float = MENDS_S
) -> Callable[[House], None]:
    def inject(house: House) -> None:
        wires = Wires(house)
        if from_s == 0.0:
            wires.hold(pin, level)
        house.at(from_s, wires.hold, pin, level)
        house.at(to_s, wires.let_go, pin)

    return inject


def welds(house: House) -> None:
    held(MIRROR, 1, from_s=BREAKS_S, to_s=1e9)(house)
    warm_at(house, BREAKS_S)


def current_flows_on(house: House) -> None:
    held(AMPS, 0, from_s=BREAKS_S, to_s=1e9)(house)
    warm_at(house, BREAKS_S)


def current_and_mains_go(house: House) -> None:
    wires = Wires(house)
    for pin in (MAINS, AMPS):
        house.at(BREAKS_S, wires.hold, pin, 1)
        house.at(MENDS_S, wires.let_go, pin)


def flickers(house: House) -> None:
    wires = Wires(house)
    house.at(BREAKS_S, wires.flicker, MIRROR)
    house.at(MENDS_S, wires.let_go, MIRROR)


def taken(house: House) -> None:
    Wires(house)
    house.board.hold(MIRROR, owner=1)
    house.at(MENDS_S, house.board.hold, MIRROR, os.getpid() + 2**23)


def cannot_be_read(house: House) -> None:
    Wires(house)
    for pin in (MIRROR, MAINS, AMPS, DOOR):
        house.at(BREAKS_S, house.board.refuse, "read", pin)


def driver_raises(house: House) -> None:
    Wires(house)
    read = GpioContacts.read

    def instead(contacts: GpioContacts) -> Mapping[str, ContactReading]:
        if BREAKS_S <= house.clock.after_s < MENDS_S:
            raise KeyError("a driver's bug")
        return read(contacts)

    house.patch.setattr(GpioContacts, "read", instead)


def heaters_are_locked_out(_house: House, course: Course) -> None:
    assert list(course.ticks[-1].memory.latches) == ["stuck-on-heater"]


def nothing_is_locked_out(_house: House, course: Course) -> None:
    assert not any(tick.memory.latches for tick in course.ticks)


def unknown_is_never_open(_house: House, course: Course) -> None:
    nothing_is_locked_out(_house, course)
    assert any(tick.contacts["mirror"].active is None for tick in course.ticks)


FAULTS = (
    Fault("contacts-tell-the-truth", "nothing: every contact follows the house", Wires,
          Heat.GOES_ON, also=nothing_is_locked_out),
    Fault("contactor-welds", "the heater's contactor stays closed", welds, Heat.STOPS,
          ("stuck-on",), also=heaters_are_locked_out),
    Fault("current-flows-on", "current flows though the heater is off", current_flows_on,
          Heat.STOPS, ("stuck-on",), also=heaters_are_locked_out),
    Fault("mirror-wire-broken", "the mirror contact's wire is broken from the start",
          held(MIRROR, None), Heat.NEVER, ("stuck-on",), also=heaters_are_locked_out),
    Fault("mirror-wire-shorted", "the mirror contact says open whatever happens",
          held(MIRROR, 0, from_s=BREAKS_S), Heat.GOES_ON, ("no-response",),
          also=nothing_is_locked_out),
    Fault("current-wire-broken", "the current switch says nothing flows",
          held(AMPS, None, from_s=BREAKS_S), Heat.GOES_ON, ("no-response",),
          also=nothing_is_locked_out),
    Fault("mains-gone", "no mains, and so no current", current_and_mains_go, Heat.GOES_ON,
          ("mains-lost", "contact-changed"), also=nothing_is_locked_out),
    Fault("door-wire-broken", "the door's contact says open", held(DOOR, None, from_s=BREAKS_S),
          Heat.GOES_ON, ("door-open", "contact-changed"), also=nothing_is_locked_out),
    Fault("contact-flickers", "the mirror contact never settles", flickers, Heat.GOES_ON,
          ("contact-failed",), also=unknown_is_never_open),
    Fault("contact-line-taken", "another program holds the mirror contact's pin", taken,
          Heat.GOES_ON, ("contact-failed",), also=unknown_is_never_open),
    Fault("contacts-cannot-be-read", "the kernel refuses to read every input", cannot_be_read,
          Heat.GOES_ON, ("contact-failed",), also=unknown_is_never_open),
    Fault("contact-driver-raises", "the contacts' driver has a bug", driver_raises,
          Heat.GOES_ON, ("contact-failed",), also=unknown_is_never_open),
)  # fmt: skip
