"""Probes that are chips with a driver of the kernel's own, one group for each chip.

Lives here: the groups that the collectors give a thread each. A chip may hang: then it
blinds itself alone. Does not live here: the kernel's files (chips.py).
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Generic, TypeVar

from greenkeeper.clock import Clock
from greenkeeper.model import Fault, HumidityReading, Reading
from greenkeeper.probes.chips import ChipFault, Folders, Quantity, Wanted, measured
from greenkeeper.probes.sysfs import Files, KernelFiles

R = TypeVar("R")
Written = Callable[[float, float | None, Fault | None, str], R]


class _Group(Generic[R]):
    """One quantity of one chip; of some chips at several places.

    A chip's number under /sys changes from one start to the next and when it comes back, so
    that it is looked for at every read.
    """

    blocking = True

    def __init__(
        self,
        probes: Mapping[str, Wanted],
        folders: Folders,
        clock: Clock,
        files: Files | None,
        quantity: Quantity,
        written: Written[R],
    ) -> None:
        self._probes = dict(probes)
        self._folders = folders
        self._clock = clock
        self._files = files or KernelFiles()
        self._quantity = quantity
        self._written = written

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._probes)

    def read(self) -> Mapping[str, R]:
        return {name: self._take(wanted) for name, wanted in self._probes.items()}

    def close(self) -> None:
        """Nothing is held open between two reads."""

    def _take(self, wanted: Wanted) -> R:
        # Before the read: one that hung for minutes gives a value as old as that.
        taken_s = self._clock.mono_s()
        found = measured(wanted, self._quantity, self._folders, self._files)
        if isinstance(found, ChipFault):
            return self._written(taken_s, None, found.fault, found.detail)
        return self._written(taken_s, found, None, "")


class KernelGroup(_Group[Reading]):
    """The temperatures of one chip."""

    def __init__(
        self,
        probes: Mapping[str, Wanted],
        folders: Folders,
        clock: Clock,
        files: Files | None = None,
    ) -> None:
        super().__init__(probes, folders, clock, files, Quantity.TEMPERATURE, Reading)


class KernelHumidityGroup(_Group[HumidityReading]):
    """The relative humidities of one chip."""

    def __init__(
        self,
        probes: Mapping[str, Wanted],
        folders: Folders,
        clock: Clock,
        files: Files | None = None,
    ) -> None:
        super().__init__(probes, folders, clock, files, Quantity.HUMIDITY, HumidityReading)


def kernel_groups(
    probes: Mapping[str, Wanted], folders: Folders, clock: Clock, files: Files | None = None
) -> list[KernelGroup]:
    """One group for each chip, so that a hung one does not hold up another."""
    return [KernelGroup(mine, folders, clock, files) for mine in _by_chip(probes)]


def kernel_humidity_groups(
    probes: Mapping[str, Wanted], folders: Folders, clock: Clock, files: Files | None = None
) -> list[KernelHumidityGroup]:
    """Likewise."""
    return [KernelHumidityGroup(mine, folders, clock, files) for mine in _by_chip(probes)]


def _by_chip(probes: Mapping[str, Wanted]) -> Iterator[dict[str, Wanted]]:
    chips: dict[tuple[str, str | None], dict[str, Wanted]] = {}
    for name, wanted in probes.items():
        chips.setdefault((wanted.name, wanted.at), {})[name] = wanted
    yield from chips.values()
