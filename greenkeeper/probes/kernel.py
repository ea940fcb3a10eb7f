"""Probes that are chips with a driver of the kernel's own, one group for each chip.

Lives here: the group that the collector gives a thread. A chip may hang: then it blinds
itself alone. Does not live here: the kernel's files (chips.py).
"""

from collections.abc import Mapping

from greenkeeper.clock import Clock
from greenkeeper.model import Reading
from greenkeeper.probes.chips import ChipFault, Folders, Quantity, Wanted, measured
from greenkeeper.probes.sysfs import Files, KernelFiles


class KernelGroup:
    """The temperatures of one chip; usually a single one.

    Its number under /sys changes from one start to the next and when it comes back, so
    that it is looked for at every read.
    """

    blocking = True

    def __init__(
        self,
        probes: Mapping[str, Wanted],
        folders: Folders,
        clock: Clock,
        files: Files | None = None,
    ) -> None:
        self._probes = dict(probes)
        self._folders = folders
        self._clock = clock
        self._files = files or KernelFiles()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._probes)

    def read(self) -> Mapping[str, Reading]:
        return {name: self._take(wanted) for name, wanted in self._probes.items()}

    def close(self) -> None:
        """Nothing is held open between two reads."""

    def _take(self, wanted: Wanted) -> Reading:
        # Before the read: one that hung for minutes gives a value as old as that.
        taken_s = self._clock.mono_s()
        found = measured(wanted, Quantity.TEMPERATURE, self._folders, self._files)
        if isinstance(found, ChipFault):
            return Reading(taken_s, None, found.fault, found.detail)
        return Reading(taken_s, found)


def kernel_groups(
    probes: Mapping[str, Wanted], folders: Folders, clock: Clock, files: Files | None = None
) -> list[KernelGroup]:
    """One group for each chip, so that a hung one does not hold up another."""
    chips: dict[tuple[str, str | None], dict[str, Wanted]] = {}
    for name, wanted in probes.items():
        chips.setdefault((wanted.name, wanted.at), {})[name] = wanted
    return [KernelGroup(mine, folders, clock, files) for mine in chips.values()]
