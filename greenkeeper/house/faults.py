"""What may truly be broken in a modelled house.

Lives here: the kinds of damage, as plain values. Does not live here: what they do to the
house (simulated.py), and any guess at them from outside (control).
"""

from typing import NamedTuple

Hook = tuple[str, int]  # a place and which probe there, as in SimulatedHouse.probe_c


class Faults(NamedTuple):
    """Everything whole unless said otherwise."""

    element_share: float = 1.0  # of its power every heater still draws and gives: 0 is dead
    cold: frozenset[str] = frozenset()  # heaters by name that draw nothing and give nothing
    welded_w: float = 0.0  # a contact welded shut: so much is drawn whatever is commanded
    breaker_out: bool = False  # nothing electrical has power
    door_w_per_k: float = 0.0  # what an open door adds to the loss
    fallen_outdoors: frozenset[Hook] = frozenset()  # probes that hang outside now
    in_plume: frozenset[Hook] = frozenset()  # probes in the heater's stream
    plume_k_per_w: float = 0.0  # how much warmer than the air that stream is


WHOLE = Faults()
