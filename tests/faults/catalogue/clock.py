"""Civil time that jumps, is unset or changes its hour; and time that nobody lived through."""

from collections.abc import Callable
from datetime import UTC, datetime

from greenkeeper.model import ZoneView
from greenkeeper.settings.derived import heat_band_k
from tests.faults.fault import Fault, Heat
from tests.faults.house import BREAKS_S, ENDS_S, MENDS_S, Course, House
from tests.faults.world import START_S, UTC_S

DAY_S = 86_400.0
NIGHT_C = 3.0
_LEAST_OFF_S = 60.0  # the settings' default


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


def by_night(house: House, window: str) -> None:
    """Colder by night than the bench is: then it is warm enough, and by day it is too cold."""
    house.write_settings(setpoint=f"5, night_setpoint_c: {NIGHT_C:g}", extra=f"night: {window}\n")


def changes_over(window: str, *moment: int) -> Callable[[House], None]:
    """Night and day as in the window, in Brussels' time. moment: as of starts_at."""

    def inject(house: House) -> None:
        by_night(house, window)
        starts_at(*moment)(house)

    return inject


def night_is_between(from_s: float, to_s: float) -> Callable[[House, Course], None]:
    """The night's setpoint is in force then, to the tick, and the heat goes by it."""

    def also(house: House, course: Course) -> None:
        night = [when for when, view in bench(course) if view.heat_setpoint_c == NIGHT_C]
        assert night == list(range(int(from_s), int(to_s), 10)), night
        heat_goes_by_the_setpoint(house, course)

    return also


def bench(course: Course) -> list[tuple[float, ZoneView]]:
    """How the bench stood at every tick, by seconds after the start."""
    return [(tick.now.mono_s - START_S, tick.zones[0]) for tick in course.ticks]


def heat_goes_by_the_setpoint(house: House, course: Course) -> None:
    """What every way of metering heat promises, and no more: heat at or below the setpoint in
    force once the minimum off time has run, and none from its band above it on."""
    heat = house.parts.settings.zones["bench"].heat
    assert heat is not None
    for when, view in bench(course):
        if when == 0.0:
            continue  # the first reading of all waits for a second
        assert view.coldest_c is not None
        assert view.heat_setpoint_c is not None
        stood_s = min(when - since for since, _ in [(0.0, False), *course.heater] if since <= when)
        heats = course.heating_at(when + 5.0)
        if view.coldest_c <= view.heat_setpoint_c and stood_s >= _LEAST_OFF_S:
            assert heats, f"no heat at {when:g} s: {course.heater}"
        if view.coldest_c >= view.heat_setpoint_c + heat_band_k(heat):
            assert not heats, f"heat at {when:g} s: {course.heater}"


def set_into_the_night(house: House) -> None:
    """Once it is night by the clock, it is night."""
    by_night(house, '{from: "20:00", to: "07:00"}')
    house.at(BREAKS_S, house.clock.set_civil, UTC_S + DAY_S / 2)


def set_while_it_waits(seconds: float) -> Callable[[House], None]:
    """Its minimum off time after the start runs; durations care for no civil time."""

    def inject(house: House) -> None:
        house.at(30.0, lambda: house.clock.set_civil(house.clock.now().utc_s + seconds))

    return inject


def waits_as_long_as_ever(_house: House, course: Course) -> None:
    assert not course.heating_at(55.0)
    assert course.heating_at(60.0)


def unset_at_boot(house: House) -> None:
    """As after a power cut without network: the time of the last shutdown, months ago. By
    that clock it is night; the warmer setpoint, the day's, must hold."""
    by_night(house, '{from: "10:00", to: "18:00"}')
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
    Fault("clock-set-into-the-night", "set from 9 to 21 o'clock while heating",
          set_into_the_night, Heat.OWN, ("clock-jumped",),
          also=night_is_between(BREAKS_S, ENDS_S + 10.0)),
    Fault("clock-set-back-while-off", "set back in the minimum off time",
          set_while_it_waits(-DAY_S), Heat.GOES_ON, ("clock-jumped",),
          also=waits_as_long_as_ever),
    Fault("clock-set-forward-while-off", "set a day on in the minimum off time",
          set_while_it_waits(DAY_S), Heat.GOES_ON, ("clock-jumped",),
          also=waits_as_long_as_ever),
    Fault("summer-time-begins", "the night's end lies in the hour that is skipped",
          changes_over('{from: "22:00", to: "02:30"}', 2027, 3, 28, 0, 55), Heat.OWN,
          also=night_is_between(0.0, 300.0)),
    Fault("summer-time-ends", "the hour with five minutes' night comes again",
          changes_over('{from: "02:00", to: "02:05"}', 2027, 10, 31, 0, 55), Heat.OWN,
          also=night_is_between(300.0, 600.0)),
    Fault("year-ends", "night begins with the new year",
          changes_over('{from: "00:00", to: "00:05"}', 2027, 12, 31, 22, 55), Heat.OWN,
          also=night_is_between(300.0, 600.0)),
    Fault("leap-day-begins", "night begins with the 29th of February",
          changes_over('{from: "00:00", to: "00:05"}', 2028, 2, 28, 22, 55), Heat.OWN,
          also=night_is_between(300.0, 600.0)),
    Fault("leap-day-ends", "night begins with the 1st of March",
          changes_over('{from: "00:00", to: "00:05"}', 2028, 2, 29, 22, 55), Heat.OWN,
          also=night_is_between(300.0, 600.0)),
    Fault("suspended-briefly", "the machine is suspended for 15 s", sleeps(15.0), Heat.GOES_ON),
    Fault("suspended", "the machine is suspended for 10 minutes", sleeps(600.0),
          Heat.OWN, ("tick-late",), also=lapsed_and_came_back),
    Fault("loop-hangs", "the loop alone stands still for 2 minutes", sleeps(120.0),
          Heat.OWN, ("tick-late",), also=lapsed_and_came_back),
)  # fmt: skip
