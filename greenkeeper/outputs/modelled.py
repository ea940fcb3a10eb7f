"""A heater, a fan, a vent or an isolator in the modelled house instead of a relay.

Lives here: the driver alone, chosen like any other. Does not live here: what heat and
air do (house/model.py), and any permission (control/guard.py).
"""

from collections.abc import Collection
from typing import Literal

from greenkeeper.clock import Clock
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.outputs import OutputError

Drives = Literal["heater", "fan", "circulation", "isolator", "vent-open", "vent-close"]


class ModelledDriver:
    """One switch of the modelled house. Off at first, off once closed."""

    def __init__(
        self,
        name: str,
        house: SimulatedHouse,
        drives: Drives,
        power_w: float | None,
        clock: Clock,
        *,
        moves: Collection[str] = (),
        in_tent: bool = False,
    ) -> None:
        """power_w: what a heater draws when on; a fan's heat is too little to count.
        moves: the heaters behind an isolator, or the vent this relay opens or closes.
        in_tent: a heater under the house's inner cover.

        Raises OutputError for a heater without power.
        """
        if drives == "heater" and power_w is None:
            raise OutputError(
                f"output {name}: a modelled heater needs its power_w, for example 1200"
            )
        self._name = name
        self._house = house
        self._drives = drives
        self._power_w = power_w or 0.0
        self._moves = frozenset(moves)
        self._in_tent = in_tent
        self._clock = clock
        self._closed = False
        self._drive(on=False)  # an isolator is open before anybody switches it

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
        match self._drives:
            case "heater":
                power_w = self._power_w if on else 0.0
                self._house.set_heater(power_w, name=self._name, tent=self._in_tent)
            case "fan":
                self._house.set_fan(on=on, name=self._name)
            case "isolator":
                self._house.set_isolator(self._moves, closed=on, name=self._name)
            case "vent-open" | "vent-close" if on:  # at rest a vent stays where it is
                for vent in self._moves:
                    self._house.set_vent(is_open=self._drives == "vent-open", name=vent)
            case "circulation":
                self._house.set_stirring(on=on, name=self._name)
            case _:
                pass  # a vent's relay that goes off: the vent stays where it is
