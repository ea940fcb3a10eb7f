"""Who decides in a rehearsal: control.step, asked whenever its answer could be another.

Lives here: asking, and doing what it says. Does not live here: any decision, and when time
passes (run.py).

In three ticks of four nothing moves, and control itself says for how long it would answer
alike (control/calm.py). Those ticks are not put to it, and what they leave behind is made up
before the next one that is: tests/rehearsal/test_keeper.py lays both ways side by side.
"""

from collections.abc import Callable

from greenkeeper import control
from greenkeeper.control import Plan, calm
from greenkeeper.model import Event, Memory, Morning, Now, Request
from greenkeeper.rehearsal.rig import Rig


class Keeper:
    def __init__(
        self,
        plan: Plan,
        rig: Rig,
        memory: Memory,
        by_hand: str = "",
        mornings: Callable[[float], Morning | None] | None = None,
    ) -> None:
        """by_hand: an output that something else switches. mornings: what is foretold of the next,
        or the last, to one who asks at a POSIX second."""
        self._mornings = mornings
        self._plan, self._rig, self._by_hand = plan, rig, by_hand
        self._memory = memory
        self._said: tuple[float, ...] | None = None
        self._alike_until_s = float("-inf")
        self._calm = False  # whether the last tick asked for said that there are some alike
        self._passed_s: tuple[float, float] | None = None  # the last tick not asked for
        self._requests: list[Request] = []

    @property
    def memory(self) -> Memory:
        """What the last tick left."""
        if self._passed_s is not None:
            self._memory = calm.carried(self._memory, Now(*self._passed_s, True))
            self._passed_s = None
        return self._memory

    @memory.setter
    def memory(self, memory: Memory) -> None:
        """Something happened to it that no tick did: the next one is asked for."""
        self._left(memory, float("-inf"), calm=False)

    def clear(self, latch: str) -> None:
        """A person's word, for the next tick."""
        self._requests.append(Request(clear=latch))
        self._calm = False

    def tick(self, mono_s: float, utc_s: float) -> tuple[Event, ...]:
        """Decide, switch, and say what there is to tell. The house has lived up to now."""
        said = self._rig.said()
        if self._calm and said == self._said:
            if mono_s < self._alike_until_s:
                self._passed_s = mono_s, utc_s
                return ()
            now = Now(mono_s, utc_s, True)
            if (looked := calm.looked(self._memory, self._plan, now)) is not None:
                self._left(looked, calm.lasts_until_s(looked, now), calm=True)
                return ()
        now = Now(mono_s, utc_s, True)
        decided = control.step(
            self._rig.readings(said, mono_s), self.memory, self._plan, now,
            requests=self._requests,
            morning=None if self._mornings is None else self._mornings(utc_s),
        )  # fmt: skip
        self._requests = []
        alike_until_s = calm.lasts_until_s(decided.memory, now)
        self._left(decided.memory, alike_until_s, calm=alike_until_s > mono_s)
        self._said = said
        self._rig.apply(decided.commands, mono_s, self._by_hand)
        return decided.events

    def _left(self, memory: Memory, alike_until_s: float, *, calm: bool) -> None:
        self._memory, self._passed_s = memory, None
        self._alike_until_s, self._calm = alike_until_s, calm
