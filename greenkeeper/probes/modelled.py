"""Probes that hang in the modelled house instead of a real one.

Lives here: the driver alone, chosen like any other; it never fails, as nothing can
break in it (scripted.py is for breaking things). Does not live here: lag, resolution
and differences between probes; the house has those.
"""

from collections import Counter
from collections.abc import Mapping

from greenkeeper.clock import Clock
from greenkeeper.house.simulated import PLACES, SimulatedHouse
from greenkeeper.model import Reading


class ModelledGroup:
    """All probes of one modelled house."""

    def __init__(self, house: SimulatedHouse, places: Mapping[str, str], clock: Clock) -> None:
        """places: for each probe's name the place it hangs at, one of PLACES.

        Raises ValueError for another place.
        """
        self._house = house
        self._clock = clock
        self._hung: dict[str, tuple[str, int]] = {}
        at_place: Counter[str] = Counter()
        for name, place in places.items():
            if place not in PLACES:
                allowed = ", ".join(PLACES)
                raise ValueError(f"probe {name!r} hangs at {place!r}; the house has {allowed}")
            self._hung[name] = (place, at_place[place])
            at_place[place] += 1

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._hung)

    @property
    def blocking(self) -> bool:
        return False

    def read(self) -> Mapping[str, Reading]:
        now = self._clock.now()
        self._house.advance_to(now)
        return {
            name: Reading(now.mono_s, self._house.probe_c(place, index))
            for name, (place, index) in self._hung.items()
        }

    def close(self) -> None:
        """It holds nothing."""
