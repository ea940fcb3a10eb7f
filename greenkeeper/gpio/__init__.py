"""GPIO lines: what outputs drive and contacts read, whichever library reaches them.

Lives here: finding the chip, claiming its lines as outputs or inputs, and the one error
of all that. Does not live here: what a level means to a relay (outputs/gpio.py) or to a
contact (probes/contact.py), and when to switch.
"""

from greenkeeper.errors import GreenkeeperError


class LineError(GreenkeeperError):
    """A line or its chip could not be had or used; the message says which and why."""
