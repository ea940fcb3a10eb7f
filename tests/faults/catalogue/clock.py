"""Civil time that jumps, is unset or changes its hour; and time that nobody lived through."""

from collections.abc import Callable
from datetime import UTC, datetime

from tests.faults.fault import Fault, Heat
from tests.faults.house import BREAKS_S, MENDS_S, Course, House
from tests.faults.world import UTC_S

DAY_S = 86_400.0


def steps_by(seconds: float) -> Callable[[House], None]:
    """Somebody, or a time daemon, sets the clock while the heater runs."""

    def inject(house: House) -> None:
        house.at(BREAKS_S, lambda: house.clock.set_civil(house.clock.now().utc_s + seconds))

    return inject


def stepped_to(utc_s: float) -> Callable[[House], None]:
    def inject(house: House) -> None:
        house.at(BREAKS_S, house.clock.set_civil, utc_s)

    return inject


def starts_at(*moment: int, trusted: bool = True) -> Callable[[House], None]:
    """moment: year, month, day, hour and minute, UTC. Something happens within the course."""

    def inject(house: House) -> None:
        house.clock.set_civil(datetime(*moment, tzinfo=UTC).timestamp())  # type: ignore[misc, arg-type]
        house.clock.clock_trusted = trusted

    return inject


def unset_at_boot(house: House) -> None:
    """As after a power cut without network: the time of the last shutdown, months ago."""
    starts_at(2026, 9, 3, 12, 0, trusted=False)(house)

    def synchronise() -> None:
        house.clock.set_civil(UTC_S)
        house.clock.clock_trusted = True

    house.at(MENDS_S, synchronise)


def trust_lost(house: House) -> None:
    house.at(BREAKS_S, setattr, house.clock, "clock_trusted", False)
    house.at(MENDS_S, setattr, house.clock, "clock_trusted", True)


def sleeps(seconds: float) -> Callable[[House], None]:
    """All of it: the clock goes on, the loop does not, nor does the switchboard until then."""

    def inject(house: House) -> None:
        house.at(BREAKS_S, house.clock.leap, seconds)

    return inject


def lapsed_and_came_back(house: House, course: Course) -> None:
    """The permission ended meanwhile; the minimum off time counts from the waking."""
    ((_, awake_s),) = house.clock.leaps
    after_s = awake_s - 1000.0
    gone_s = next(when for when, on in course.heater if when > BREAKS_S and not on)
    back_s = next(when for when, on in course.heater if when > gone_s and on)
    assert gone_s <= after_s + 10.0
    assert 60.0 <= back_s - gone_s <= 150.0


FAULTS = (
    Fault("clock-set-forward", "set a day on while heating", steps_by(DAY_S),
          Heat.GOES_ON, ("clock-jumped",)),
    Fault("clock-set-back", "set a day back while heating", steps_by(-DAY_S),
          Heat.GOES_ON, ("clock-jumped",)),
    Fault("clock-set-back-ten-years", "set ten years back while heating",
          steps_by(-3650 * DAY_S), Heat.GOES_ON, ("clock-jumped",)),
    Fault("clock-set-to-1970", "a board without a battery wakes", stepped_to(0.0),
          Heat.GOES_ON, ("clock-jumped",)),
    Fault("clock-set-to-2038", "past the end of 32-bit seconds", stepped_to(2.0**31 + 5.0),
          Heat.GOES_ON, ("clock-jumped",)),
    Fault("clock-leap-second", "a second happens twice", steps_by(-1.0), Heat.GOES_ON),
    Fault("clock-unset-at-boot", "months behind, set after ten minutes", unset_at_boot,
          Heat.GOES_ON, ("clock-unset", "clock-jumped")),
    Fault("clock-trust-lost", "no longer synchronised for a while", trust_lost,
          Heat.GOES_ON, ("clock-unset",)),
    Fault("summer-time-begins", "an hour of civil time is skipped",
          starts_at(2027, 3, 28, 0, 55), Heat.GOES_ON),
    Fault("summer-time-ends", "an hour of civil time happens twice",
          starts_at(2027, 10, 31, 0, 55), Heat.GOES_ON),
    Fault("year-ends", "midnight of the 31st of December", starts_at(2027, 12, 31, 22, 55),
          Heat.GOES_ON),
    Fault("leap-day-begins", "midnight before the 29th of February",
          starts_at(2028, 2, 28, 22, 55), Heat.GOES_ON),
    Fault("sleeps-briefly", "everything stands still for 15 s", sleeps(15.0), Heat.GOES_ON),
    Fault("sleeps-ten-minutes", "everything stands still for 10 minutes", sleeps(600.0),
          Heat.OWN, ("tick-late",), also=lapsed_and_came_back),
    Fault("loop-hangs", "the loop alone stands still for 2 minutes", sleeps(120.0),
          Heat.OWN, ("tick-late",), also=lapsed_and_came_back),
)  # fmt: skip
