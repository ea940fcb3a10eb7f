"""A vent that opens by itself: a cylinder of wax that swells as it warms.

Lives here: how far it is open. Does not live here: what an open vent does (network.py).
"""

import math
from typing import NamedTuple

# The wax is minutes behind the air, which is why such a vent is late in spring sun.
# 10 to 20 minutes: common practice, no source.
_LAG_S = 900.0

# So finely the opening is told apart: a house needs only a few sets of weights.
_STEPS = 10.0


class Wax(NamedTuple):
    """Shut below from_c of the wax, open above open_c, and in between in proportion."""

    from_c: float
    open_c: float

    def follow(self, wax_c: float, air_c: float, dt_s: float = 60.0) -> float:
        """The wax's temperature a little later."""
        return air_c + (wax_c - air_c) * math.exp(-dt_s / _LAG_S)

    def opened(self, wax_c: float) -> float:
        """From 0, shut, to 1, in tenths."""
        share = (wax_c - self.from_c) / (self.open_c - self.from_c)
        return round(min(1.0, max(0.0, share)) * _STEPS) / _STEPS


NO_WAX = Wax(math.inf, math.inf)
