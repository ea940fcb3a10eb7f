"""A heater or a fan in the modelled house instead of a relay.

Lives here: the driver alone, chosen like any other. Does not live here: what heat and
air do (house/model.py), and any permission (control/guard.py).
"""

from typing import Literal

from greenkeeper.clock import Clock
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.outputs import OutputError


class ModelledDriver:
    """One switch of the modelled house. Off at first, off once closed."""

    def __init__(
        self,
        name: str,
        house: SimulatedHouse,
        drives: Literal["heater", "fan"],
        power_w: float | None,
        clock: Clock,
    ) -> None:
        """power_w: what a heater draws when on; a fan's heat is too little to count.

        Raises OutputError for a heater without power.
        """
        if drives == "heater" and power_w is None:
            raise OutputError(
                f"output {name}: a modelled heater needs its power_w, for example 1200"
            )
        self._name = name
        self._house = house
        self._heater_w = power_w if drives == "heater" else None
        self._clock = clock
        self._closed = False

    @property
    def name(self) -> str:
        return self._name

    def switch(self, *, on: bool) -> None:
        if self._closed:
            raise OutputError(f"output {self._name} is closed and can no longer be switched")
        self._drive(on=on)

    def close(self) -> None:
        if not self._closed:
            self._closed = True
            self._drive(on=False)

    def _drive(self, *, on: bool) -> None:
        """The house first lives up to this moment, as it was switched until now."""
        self._house.advance_to(self._clock.now())
        if self._heater_w is None:
            self._house.set_fan(on=on, name=self._name)
        else:
            self._house.set_heater(self._heater_w if on else 0.0, name=self._name)
