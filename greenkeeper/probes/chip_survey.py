"""Which chips the kernel shows just now, known to the settings or not, and what they say.

Lives here: reading every quantity of every chip once, each chip with a thread of its own,
so that a hung one hides no other. Does not live here: the kernel's files (chips.py), and
how a survey looks to people.
"""

from contextlib import ExitStack
from typing import NamedTuple

from greenkeeper.clock import Clock
from greenkeeper.model import HumidityReading, Reading
from greenkeeper.probes.chips import Folders, Quantity, Wanted, listed
from greenkeeper.probes.collector import Collector, HygrometerCollector
from greenkeeper.probes.kernel import KernelGroup, KernelHumidityGroup
from greenkeeper.probes.sysfs import KernelFiles

# The board's own and the 1-Wire bus's, which measure no air or are listed already.
_NOT_OF_AIR = {"cpu_thermal", "rp1_adc", "w1_slave_temp", "coretemp", "nvme"}
_DEADLINE_S = 3.0


class FoundChip(NamedTuple):
    """One measuring place of one chip. None: it does not measure that."""

    wanted: Wanted  # how the settings would mean it
    temperature: Reading | None
    humidity: HumidityReading | None

    @property
    def well(self) -> bool:
        faults = [each.fault for each in (self.temperature, self.humidity) if each is not None]
        return all(fault is None for fault in faults)


def look(folders: Folders, clock: Clock, deadline_s: float = _DEADLINE_S) -> list[FoundChip]:
    """Every chip that measures air, in the order of names and places."""
    temps, humids = _places(folders)
    names = {wanted: str(number) for number, wanted in enumerate([*temps, *humids])}
    with ExitStack() as end:
        thermometers = Collector(
            [KernelGroup({names[each]: each}, folders, clock) for each in temps],
            clock,
            deadline_s,
        )
        end.callback(thermometers.close)
        hygrometers = HygrometerCollector(
            [KernelHumidityGroup({names[each]: each}, folders, clock) for each in humids],
            clock,
            deadline_s,
        )
        end.callback(hygrometers.close)
        hygrometers.ask()
        temperatures, humidities = thermometers.collect(), hygrometers.answers()
    every = sorted({*temps, *humids}, key=lambda each: (each.name, each.at, each.channel or 0))
    return [
        FoundChip(
            each,
            temperatures[names[each]] if each in temps else None,
            humidities[names[each]] if each in humids else None,
        )
        for each in every
    ]


def _places(folders: Folders) -> tuple[list[Wanted], list[Wanted]]:
    """Where temperatures and where humidities can be had, each once."""
    found: dict[Quantity, dict[Wanted, None]] = {quantity: {} for quantity in Quantity}
    for chip in listed(folders, KernelFiles()):
        if chip.name in _NOT_OF_AIR:
            continue
        for quantity, places in found.items():
            for channel in chip.channels(quantity):
                places[Wanted(chip.name, chip.at, channel)] = None
    return list(found[Quantity.TEMPERATURE]), list(found[Quantity.HUMIDITY])
