"""What the guard has before it while it decides one tick.

Lives here: what all zones together want of one thing, and the values that guard.py
shares with isolators.py, companions.py and vents.py. Does not live here: any rule.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from greenkeeper.control.plan import Circuit
from greenkeeper.model import BLIND_K, Now, OutputMemory, Wish

Ruling = tuple[bool, str]  # on or off, and why


class Want(NamedTuple):
    """What all zones together want of one output, or of one vent."""

    on: bool
    reason: str
    blind: str | None  # the reason of a zone that cannot see, if one of them cannot
    seeing: bool  # at least one of them can


class Scene(NamedTuple):
    before: Mapping[str, OutputMemory]  # every output as it really is, lapses seen to
    wants: Mapping[str, Want]
    ruled: dict[str, Ruling]  # fills up while the tick is decided
    locked: str | None  # why no heater may run
    heat_asked: bool  # some heater is wanted, and none is locked out
    failed: frozenset[str]  # outputs that could not be switched as last told
    now: Now
    circuit: Circuit | None = None  # None: nobody says what it bears

    def stood_s(self, output: str) -> float:
        """How long it has been as it was before this tick."""
        return self.now.mono_s - self.before[output].since_s

    def off_s(self, heaters: Sequence[str]) -> float:
        """How long the last of these heaters has been off; 0 while one has yet to go."""
        return min(0.0 if self.before[each].on else self.stood_s(each) for each in heaters)


def combine(output: str, wishes: Sequence[Wish]) -> Want:
    """The most urgent zone speaks for all that want the same thing."""
    spokesman, blind = None, None
    for wish in wishes:
        if wish.output == output:
            if wish.urgency_k == BLIND_K:
                blind = blind or wish.reason
            if spokesman is None or _urgency(wish) > _urgency(spokesman):
                spokesman = wish
    if spokesman is None:
        return Want(on=False, reason="no zone asks for it", blind=None, seeing=False)
    # Whoever sees is more urgent than whoever does not.
    return Want(spokesman.on, spokesman.reason, blind, spokesman.urgency_k != BLIND_K)


def _urgency(wish: Wish) -> tuple[bool, float]:
    return wish.on, wish.urgency_k
