"""Pins that refuse, read back wrong, are taken or hang; drivers with bugs; the watchman."""

import errno
import os
import threading
from collections.abc import Callable

from greenkeeper.outputs.gpio import GpioOutputDriver
from greenkeeper.outputs.switchboard import Switchboard
from tests.faults.fault import End, Fault, Heat, Record
from tests.faults.house import BREAKS_S, FAN, HEATER, MENDS_S, ON_LEVEL, Course, House
from tests.support.waiting import eventually

SPARE = 22
WARM_C = 7.0  # the heater should go off


def warm_at(house: House, after_s: float) -> None:
    def warm() -> None:
        house.bench.temp_c = WARM_C
        house.bench.live(0.0, after_s, heated=False)

    house.at(after_s, warm)


def refuses(operation: str, pin: int, *, from_s: float, to_s: float) -> Callable[[House], None]:
    def inject(house: House) -> None:
        house.at(from_s, house.board.refuse, operation, pin)
        house.at(to_s, house.board.mend)

    return inject


def cannot_come_on(house: House) -> None:
    refuses("write", HEATER, from_s=5.0, to_s=MENDS_S)(house)


def cannot_go_off(house: House) -> None:
    refuses("write", HEATER, from_s=BREAKS_S, to_s=MENDS_S)(house)
    warm_at(house, BREAKS_S)


def reads_back_wrong(house: House) -> None:
    """Held at its off level from outside: it is driven on, and never there."""
    house.at(5.0, house.board.force, HEATER, 1 - ON_LEVEL[HEATER])
    house.at(MENDS_S, house.board.mend)


def chip_vanishes(house: House) -> None:
    for operation in ("write", "read"):
        for pin in (HEATER, FAN):
            house.at(BREAKS_S, house.board.refuse, operation, pin, errno.ENODEV)
    house.at(MENDS_S, house.board.mend)
    warm_at(house, BREAKS_S)


def cannot_be_released(house: House) -> None:
    house.at(BREAKS_S, house.board.refuse, "free", HEATER)


def taken_at_start(house: House) -> None:
    house.board.hold(HEATER, owner=1)


def second_taken_at_start(house: House) -> None:
    """The heater is claimed by then: it must be let go, off."""
    house.board.hold(FAN, owner=1)


def taken_at_reload(house: House) -> None:
    house.board.hold(SPARE, owner=1)
    house.at(BREAKS_S, lambda: house.write_settings(pin=SPARE))
    house.at(BREAKS_S, house.reload)


def goes_off_and_comes_back(house: House, course: Course) -> None:
    """The old relay is made anew, and waits for its minimum off time like any other."""
    assert not course.heating_at(BREAKS_S + 30.0)
    assert course.heating_at(BREAKS_S + 120.0)


def hangs_while_switching_on(house: House) -> None:
    """A minute passes inside the first ON of the heater."""

    def hang() -> None:
        if 0.0 < house.clock.after_s < MENDS_S and not house.is_on(HEATER):
            house.clock.leap(60.0)

    house.board.hook("write", HEATER, hang)


def hangs_and_others_lapse(house: House) -> None:
    """The fan's driver hangs the loop while the heater is on: its permission must end."""
    loop = threading.get_ident()

    def hang() -> None:
        if house.clock.after_s < BREAKS_S or not house.is_on(HEATER):
            return
        if threading.get_ident() != loop:  # the switchboard's thread was quicker: not yet
            raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN))
        house.clock.leap(60.0)
        eventually(lambda: not house.is_on(HEATER), "the heater outlived its permission")

    def nobody_knows() -> None:
        """As after a failure of the fan's: OFF is driven once more."""
        house.parts.switchboard._channels["fan"]._on = None

    house.board.hook("write", FAN, hang)
    house.at(BREAKS_S, nobody_knows)


def driver_raises(error: Exception, *, closing: bool = False) -> Callable[[House], None]:
    """While it lasts, or at the end."""

    def inject(house: House) -> None:
        name = "close" if closing else "switch"
        act = getattr(GpioOutputDriver, name)

        def instead(driver: GpioOutputDriver, **state: bool) -> None:
            if driver.name == "heater" and (closing or house.clock.after_s < MENDS_S):
                raise error
            act(driver, **state)

        house.patch.setattr(GpioOutputDriver, name, instead)
        house.afterwards(house.patch.undo if closing else lambda: None)

    return inject


def watchman_stumbles(house: House) -> None:
    """What looks for expired permissions meets an error, once; then the loop hangs."""
    lapse = Switchboard.lapse
    met: list[float] = []

    def stumble(board: Switchboard, now_s: float) -> None:
        if not met and house.clock.after_s >= BREAKS_S:
            met.append(now_s)
            raise MemoryError
        lapse(board, now_s)

    house.patch.setattr(Switchboard, "lapse", stumble)

    def loop_hangs() -> None:
        eventually(lambda: met, "it was not called")
        house.clock.leap(60.0)
        eventually(lambda: not house.is_on(HEATER), "the heater outlived its permission")

    house.at(BREAKS_S, loop_hangs)


FAULTS = (
    Fault("pin-cannot-come-on", "the kernel refuses to drive the heater's pin", cannot_come_on,
          Heat.WAITS, ("output-failed",)),
    Fault("pin-cannot-go-off", "the kernel refuses when heat should end", cannot_go_off,
          Heat.OWN, ("output-failed",), stuck=("heater",)),
    Fault("pin-reads-back-wrong", "the pin is held elsewhere from outside", reads_back_wrong,
          Heat.OWN, ("output-failed",)),
    Fault("pin-cannot-be-read", "the read-back fails",
          refuses("read", HEATER, from_s=5.0, to_s=MENDS_S), Heat.OWN, ("output-failed",)),
    Fault("chip-vanishes", "the GPIO chip is gone while heating", chip_vanishes,
          Heat.OWN, ("output-failed",), stuck=("heater",)),
    Fault("pin-cannot-be-released", "letting go fails at the end", cannot_be_released,
          Heat.GOES_ON, ("output-failed",)),
    Fault("pin-taken-at-start", "another program holds the heater's pin", taken_at_start,
          Heat.NEVER, end=End.REFUSED, record=Record.NONE),
    Fault("second-pin-taken-at-start", "another program holds the fan's pin",
          second_taken_at_start, Heat.NEVER, end=End.REFUSED, record=Record.NONE),
    Fault("pin-taken-at-reload", "new settings name a pin that is taken", taken_at_reload,
          Heat.OWN, ("settings-refused",), also=goes_off_and_comes_back),
    Fault("pin-hangs-switching-on", "driving on takes a minute", hangs_while_switching_on,
          Heat.OWN, ("tick-late",)),
    Fault("pin-hangs-others-lapse", "the fan's driver hangs while heating",
          hangs_and_others_lapse, Heat.OWN, ("tick-late",), may=("output-failed",)),
    Fault("output-driver-raises", "the heater's driver has a bug",
          driver_raises(TypeError("a driver's bug")), Heat.WAITS, ("output-failed",)),
    Fault("output-driver-has-no-memory", "switching meets MemoryError",
          driver_raises(MemoryError()), Heat.WAITS, ("output-failed",)),
    Fault("output-close-raises", "the heater's driver cannot be closed",
          driver_raises(RuntimeError("a driver's bug"), closing=True),
          Heat.GOES_ON, ("output-failed",)),
    Fault("watchman-stumbles", "the expiry's thread meets an error, then the loop hangs",
          watchman_stumbles, Heat.OWN, ("tick-late", "part-failed")),
)  # fmt: skip
