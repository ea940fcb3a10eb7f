"""How a year's warmth goes down into the soil.

Lives here: what is left of the year's wave at a depth, and how much later it comes. Does
not live here: the wave at the surface (records/record.py, invented_year.py), and a floor
that a house warms (network.py).
"""

import math
from typing import NamedTuple

# In so many metres the wave falls to 1/e: d = sqrt(2 a / omega), for a soil that spreads
# warmth over a = 0.0432 m2 a day. Hillel 1982, as taught by Oklahoma State University.
YEAR_DAMPING_M = 2.24

# How deep "the ground" under a house's floor is.
GROUND_DEPTH_M = 1.0


class Wave(NamedTuple):
    share: float  # of the swing at the surface
    later: float  # radians of the year


def at_depth(depth_m: float, damping_m: float = YEAR_DAMPING_M) -> Wave:
    """T = mean + swing exp(-z/d) cos(omega t - z/d): Hillel 1982, as above. Held in
    tests/house/test_soil.py against published soil temperatures at three depths."""
    deep = depth_m / damping_m
    return Wave(math.exp(-deep), deep)
