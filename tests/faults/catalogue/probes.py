"""Probes that fail, lie, hang or come late; their drivers; and the bus they share."""

import math
from collections.abc import Callable, Mapping
from typing import Any

from greenkeeper.model import Fault as Bad
from greenkeeper.model import Reading
from greenkeeper.probes.onewire import OnewireGroup
from tests.faults.fault import Fault, Heat
from tests.faults.house import (
    BENCH,
    BREAKS_S,
    LEFT,
    MENDS_S,
    OUTDOORS,
    RIGHT,
    Course,
    House,
)

Read = Callable[[], Mapping[str, Reading]]


def on(*roms: str, does: str) -> Callable[[House], None]:
    """From then until it is mended, the bus files of these probes do what W1Tree calls so."""

    def inject(house: House) -> None:
        def spoil(rom: str) -> None:
            house.bench.hold(rom)
            getattr(house.bus, does)(rom)

        for rom in roms:
            house.at(BREAKS_S, spoil, rom)
            if does == "vanish":
                comes_back(house, rom)
            else:
                house.at(MENDS_S, house.bench.let_go, rom)

    return inject


def comes_back(house: House, rom: str) -> None:
    """Found again it says its power-on value first, and a tick later measures."""
    house.at(MENDS_S, house.bus.appear, rom)
    house.at(MENDS_S + 15.0, house.bench.let_go, rom)


def says(temp_c: float, *roms: str) -> Callable[[House], None]:
    """These probes show this temperature while it lasts."""

    def inject(house: House) -> None:
        for rom in roms:
            house.at(BREAKS_S, house.bench.hold, rom)
            house.at(BREAKS_S, house.bus.set_temp, rom, temp_c)
            house.at(MENDS_S, house.bench.let_go, rom)

    return inject


def driver(spoilt: Callable[[House, Read], Any]) -> Callable[[House], None]:
    """While it lasts, the driver's read() gives what spoilt(house, read) gives."""

    def inject(house: House) -> None:
        read = OnewireGroup.read

        def instead(group: OnewireGroup) -> Any:
            broken = BREAKS_S <= house.clock.after_s < MENDS_S
            return spoilt(house, lambda: read(group)) if broken else read(group)

        house.patch.setattr(OnewireGroup, "read", instead)

    return inject


def each(change: Callable[[House, Reading], Reading]) -> Callable[[House, Read], Any]:
    def spoilt(house: House, read: Read) -> Mapping[str, Reading]:
        return {name: change(house, reading) for name, reading in read().items()}

    return spoilt


def raises(house: House, read: Read) -> Mapping[str, Reading]:
    raise RuntimeError("a driver's bug")


def flapping(house: House) -> None:
    """Every other reading arrives damaged."""
    for number, after_s in enumerate(range(int(BREAKS_S) + 5, int(MENDS_S), 10)):
        if number % 2 == 0:
            house.at(after_s, house.bus.crc_no, LEFT)
            house.at(after_s, house.bus.crc_no, RIGHT)
        else:
            house.at(after_s, house.bench.let_go, *BENCH)


def hang(house: House) -> None:
    """The kernel's file does not answer. Quick ticks: the collector waits in real time."""
    house.write_settings(poll_s=2.0)
    house.at(BREAKS_S, house.bench.hold, LEFT)
    house.at(BREAKS_S, house.bus.hang, LEFT)
    house.at(MENDS_S, house.bus.release, LEFT, 4.0)
    house.at(MENDS_S, house.bench.let_go, LEFT)


def never_there(house: House) -> None:
    for rom in BENCH:
        house.bench.hold(rom)
        house.bus.vanish(rom)
        comes_back(house, rom)


def bus_gone(house: House) -> None:
    devices = house.bus.folder
    house.bench.hold(LEFT, RIGHT, OUTDOORS)
    house.at(BREAKS_S, lambda: devices.rename(devices.with_name("gone")))
    house.at(MENDS_S, lambda: devices.with_name("gone").rename(devices))
    house.at(MENDS_S, house.bench.let_go, LEFT, RIGHT, OUTDOORS)


def converting_for_ever(house: House) -> None:
    house.at(BREAKS_S, house.bus.bulk_file, "-1\n")
    house.at(MENDS_S, house.bus.bulk_file, "0\n")


def bulk_is_no_number(house: House) -> None:
    house.at(BREAKS_S, house.bus.bulk_file, "\x00?\n")


def no_heat_on_a_power_on_value(house: House, course: Course) -> None:
    """A power-on value is no temperature: nothing runs on it."""
    assert not course.heating_at(MENDS_S + 25.0)


ONE = (LEFT,)
FAULTS = (
    Fault("probe-unplugged", "a bench probe's plug is pulled", on(*ONE, does="vanish"),
          Heat.GOES_ON, ("probe-missing",)),
    Fault("probe-damaged", "a bench probe's data arrive damaged", on(*ONE, does="crc_no"),
          Heat.GOES_ON, ("probe-checksum",)),
    Fault("probe-power-on-value", "a probe says 85.000 °C, unmeasured", on(*ONE, does="power_on"),
          Heat.GOES_ON, ("probe-power-on",)),
    Fault("probe-conversion-failed", "a probe says 127.9375 °C",
          on(*ONE, does="conversion_failed"), Heat.GOES_ON, ("probe-conversion",)),
    Fault("probe-all-zero", "nine zero bytes with a right checksum", on(*ONE, does="all_zero"),
          Heat.GOES_ON, ("probe-all-zero",)),
    Fault("probe-all-ones", "nobody pulls the line down", on(*ONE, does="all_ones"),
          Heat.GOES_ON, ("probe-missing",)),
    Fault("probe-empty-answer", "its kernel file is empty", on(*ONE, does="empty"),
          Heat.GOES_ON, ("probe-missing",)),
    Fault("probe-half-answer", "its kernel file ends after one line", on(*ONE, does="short"),
          Heat.GOES_ON, ("probe-unreadable",)),
    Fault("probe-nonsense", "its kernel file holds some text", on(*ONE, does="garbage"),
          Heat.GOES_ON, ("probe-unreadable",)),
    Fault("probe-not-even-text", "its kernel file holds random bytes", on(*ONE, does="rubbish"),
          Heat.GOES_ON, ("probe-unreadable",)),
    Fault("probe-out-of-range", "a probe says -50 °C", says(-50.0, LEFT),
          Heat.GOES_ON, ("probe-out-of-range",)),
    Fault("probe-flapping", "every other reading is damaged", flapping, Heat.GOES_ON),
    Fault("outdoor-probe-unplugged", "the outdoor probe is gone", on(OUTDOORS, does="vanish"),
          Heat.GOES_ON, ("probe-missing",)),
    Fault("all-probes-unplugged", "both bench probes are pulled", on(*BENCH, does="vanish"),
          Heat.PAUSES, ("probe-missing", "zone-blind"),
          also=no_heat_on_a_power_on_value),
    Fault("all-probes-damaged", "a motor disturbs every reading", on(*BENCH, does="crc_no"),
          Heat.PAUSES, ("probe-checksum", "zone-blind")),
    Fault("all-probes-power-on", "the probes' supply blinks", on(*BENCH, does="power_on"),
          Heat.PAUSES, ("probe-power-on", "zone-blind")),
    Fault("bus-shorted", "the data wire touches ground",
          on(*BENCH, OUTDOORS, does="all_zero"), Heat.PAUSES, ("probe-all-zero", "zone-blind")),
    Fault("bus-open", "the data wire is cut at the Pi",
          on(*BENCH, OUTDOORS, does="all_ones"), Heat.PAUSES, ("probe-missing", "zone-blind")),
    Fault("bus-gone", "the kernel has lost the whole bus", bus_gone,
          Heat.PAUSES, ("probe-missing", "zone-blind")),
    Fault("bus-hangs", "a kernel file does not answer", hang,
          Heat.PAUSES, ("probe-stale", "zone-blind")),
    Fault("bus-converts-for-ever", "the bus never says it is ready", converting_for_ever,
          Heat.GOES_ON),
    Fault("bus-state-is-no-number", "the bus's state is rubbish", bulk_is_no_number,
          Heat.GOES_ON),
    Fault("start-without-probes", "no bench probe is there at first", never_there,
          Heat.WAITS, ("probe-missing", "zone-blind")),
    Fault("probe-driver-raises", "the driver has a bug", driver(raises),
          Heat.PAUSES, ("probe-unreadable", "zone-blind")),
    Fault("probe-driver-says-nothing", "the driver gives no readings",
          driver(lambda house, read: {}), Heat.PAUSES, ("probe-unreadable", "zone-blind")),
    Fault("probe-driver-gives-rubbish", "the driver gives None", driver(lambda house, read: None),
          Heat.PAUSES, ("probe-unreadable", "zone-blind")),
    Fault("probe-not-a-number", "the driver's numbers are NaN",
          driver(each(lambda house, r: r._replace(temp_c=math.nan))),
          Heat.PAUSES, ("probe-out-of-range", "zone-blind")),
    Fault("probe-infinite", "the driver's numbers are infinite",
          driver(each(lambda house, r: r._replace(temp_c=-math.inf))),
          Heat.PAUSES, ("probe-out-of-range", "zone-blind")),
    Fault("probe-from-the-future", "readings are stamped an hour ahead",
          driver(each(lambda house, r: r._replace(taken_s=r.taken_s + 3600.0))),
          Heat.PAUSES, ("probe-unreadable", "zone-blind")),
    Fault("probe-from-the-past", "readings are all an hour old",
          driver(each(lambda house, r: r._replace(taken_s=r.taken_s - 3600.0))),
          Heat.PAUSES, ("probe-stale", "zone-blind")),
    Fault("probe-says-both", "a number and a fault in one reading",
          driver(each(lambda house, r: r._replace(fault=Bad.CHECKSUM))),
          Heat.PAUSES, ("probe-checksum", "zone-blind")),
)  # fmt: skip
