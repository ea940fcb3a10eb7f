"""The enable line: it goes up and down for as long as the loop vouches for itself.

Lives here: claiming the line, moving it, and letting it stand still. Behind it a charge
pump or a retriggerable monostable holds a master contactor only while it moves
(hardware-notes/wiring.md), so that a line stuck at either level, a crash, a hang and a
stop all drop it. Does not live here: deciding whether the keeper is well; the loop says so
at the end of every round it finished, and this thread knows nothing else.
"""

import threading

from greenkeeper.clock import Clock
from greenkeeper.gpio import LineError
from greenkeeper.gpio.lines import Lines
from greenkeeper.model import Condition
from greenkeeper.outputs import OutputError
from greenkeeper.settings.switches import Enable

NAME = "enable"
FAILED = "output-failed"

_STILL = float("-inf")


class EnableLine:
    """Claimed low when made. Low means nothing here but rest: what counts is movement.

    Raises OutputError when the line cannot be claimed; later on what fails is a Condition.
    """

    def __init__(self, enable: Enable, lines: Lines, clock: Clock) -> None:
        self._pin = enable.pin
        self._lines = lines
        self._clock = clock
        self._turn_s = 0.5 / enable.hz
        self._until_s = _STILL
        self._high = False
        self._failure = ""
        self._closed = False
        try:
            lines.claim(enable.pin, False)
        except LineError as error:
            raise OutputError(f"{NAME}: {error}") from error
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._move, name=NAME, daemon=True)
        self._thread.start()

    def vouch(self, until_s: float) -> None:
        """A round of the loop is finished: go on moving until this monotonic second."""
        self._until_s = until_s

    def still(self) -> None:
        """Stand still from the next turn on. Waits for nothing."""
        self._until_s = _STILL

    def conditions(self) -> tuple[Condition, ...]:
        return (Condition(FAILED, NAME, self._failure),) if self._failure else ()

    def close(self) -> tuple[Condition, ...]:
        """Still, low and let go. Safe to call twice. Returns what fails."""
        if not self._closed:
            self.still()
            self._stop.set()
            self._thread.join(timeout=10.0 * self._turn_s)
            self._turn(high=False)
            self._let_go()
        return self.conditions()

    def _let_go(self) -> None:
        try:
            self._lines.release(self._pin)
        except LineError as error:
            self._failure = f"{NAME}: {error}"
        else:
            self._closed = True

    def _move(self) -> None:
        # Real time, as in the switchboard: waiting on a hand-driven clock would turn it.
        while not self._stop.wait(self._turn_s):
            if self._clock.mono_s() <= self._until_s:
                self._turn(high=not self._high)
            elif self._high:
                self._turn(high=False)

    def _turn(self, *, high: bool) -> None:
        try:
            self._lines.drive(self._pin, high)
        except LineError as error:
            self._failure = f"{NAME}: {error}"
        else:
            self._high, self._failure = high, ""
