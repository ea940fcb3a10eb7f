"""One good reading, for the checks that take many of them (icepoint.py, cooling.py)."""

from typing import NamedTuple


class Sample(NamedTuple):
    mono_s: float
    temp_c: float  # as the probe says it, no offset
