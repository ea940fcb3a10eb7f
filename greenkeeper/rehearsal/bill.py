"""What the rehearsed heat costs, hour by hour by the tariff.

Lives here: sums of money. Does not live here: prices (settings/prices.py), energy (run.py).
"""

from collections.abc import Callable, Mapping

from greenkeeper.settings.prices import prices_of
from greenkeeper.settings.schema import Settings

_JOULES_PER_KWH = 3.6e6
_HOUR_S = 3600.0


class Bill:
    """All is None where there is no tariff."""

    def __init__(self, settings: Settings, powers_w: Mapping[str, float]) -> None:
        self._prices, self._powers_w = prices_of(settings), powers_w
        self.forget()

    def forget(self) -> None:
        """The span begins: what was used so far does not count."""
        self._sum = 0.0
        self._by_output = dict.fromkeys(self._powers_w, 0.0)
        self._counted_s = dict.fromkeys(self._powers_w, 0.0)

    def hour(
        self, from_utc_s: float, used_kwh: float, on_s: Callable[[str], float]
    ) -> float | None:
        """What the house used in this hour costs. on_s: how long an output was on so far."""
        if self._prices is None:
            return None
        price = self._prices.mean(from_utc_s, from_utc_s + _HOUR_S)
        for name, power_w in self._powers_w.items():
            so_far_s = on_s(name)
            kwh = (so_far_s - self._counted_s[name]) * power_w / _JOULES_PER_KWH
            self._by_output[name] += kwh * price
            self._counted_s[name] = so_far_s
        self._sum += used_kwh * price
        return used_kwh * price

    @property
    def cost(self) -> float | None:
        return None if self._prices is None else self._sum

    def of(self, output: str) -> float | None:
        """None for what is no heater, too."""
        return None if self._prices is None else self._by_output.get(output)
