"""Rivals: outputs that must not be on together, as the switchboard has to know them.

Lives here: which they are, from the settings, and how long one waits for another that
could not be driven off. Does not live here: holding back (switchboard.py); and control
never asks for both: this is for relays that do not do as they are told.
"""

from collections.abc import Iterable
from typing import NamedTuple

from greenkeeper.settings import derived
from greenkeeper.settings.schema import Settings


class Rivals(NamedTuple):
    """While one of these may be on, none of those comes on, and the other way round.

    patience_s: how long one waits; None: for as long as it takes.
    """

    these: frozenset[str]
    those: frozenset[str]
    patience_s: float | None

    def of(self, output: str) -> frozenset[str]:
        if output in self.these:
            return self.those
        return self.these if output in self.those else frozenset()


def rivals_of(settings: Settings) -> tuple[Rivals, ...]:
    """Heat against cooling, and the two relays of every vent.

    Two relays of a vent may short their supply: one waits for ever. Heat and cooling wait
    for one lease only, in which a relay that merely hiccuped is off. After that plants go
    before electricity: with a fan that will not stop heat still helps, and with a heater
    that will not stop a fan helps even more.
    """
    moving = derived.ventilators(settings)
    fans = frozenset(name for name in moving if name in settings.outputs)
    heaters = frozenset(derived.heaters(settings))
    pairs = [
        Rivals(frozenset((vent.open,)), frozenset((vent.close,)), None)
        for vent in settings.vents.values()
    ]
    if heaters and fans:
        pairs.append(Rivals(heaters, fans, settings.lease_s))
    return tuple(pairs)


def names_of(rivals: Iterable[Rivals], output: str) -> tuple[tuple[str, float | None], ...]:
    """The rivals of one output, each with the patience shown to it."""
    return tuple((name, pair.patience_s) for pair in rivals for name in sorted(pair.of(output)))
