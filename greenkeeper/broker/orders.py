"""Orders that came over the broker: which are believed, and the desk they wait on for control.

    payload -> Desk of Orders -> control, at its next tick

Lives here: every reason not to believe a command, and how many are passed on. Does not
live here: what a property's payload means (keeper.py), whether the zone allows it
(control/overrides.py, which asks once more), and MQTT (link.py).

Shut here, by what is known of MQTT (5.0, 3.3.1.3 and 3.8.3.1) and of brokers in use:
  - a command that the broker kept (retained) is old, or its sender does not know better;
  - one that comes within SETTLING_S of the subscription may have waited somewhere;
  - one that is long, is no text, or does not say exactly what the property takes;
  - many at once: the newest of each property counts, and MOST_AT_ONCE with REFILL_S for
    each further one are passed on, so that nobody wears out card, journal or relays.
"""

import threading
import time
from collections.abc import Callable, Mapping
from typing import NamedTuple

from greenkeeper.model import Condition, Order

REFUSED = "order-refused"
SUBJECT = "broker"

LONGEST_PAYLOAD = 64  # bytes; a number or a word
SETTLING_S = 1.0
MOST_AT_ONCE = 20
REFILL_S = 120.0
OLDEST_S = 120.0  # two of the longest polls: what control has not taken by then is old
TOLD_S = 60.0  # how long a refusal stands among the conditions

# What a property's payload orders. Raises ValueError with the reason in plain words.
Reads = Callable[[str], Order]


class Arrived(NamedTuple):
    """One message on a command topic."""

    topic: str
    payload: bytes
    kept: bool  # retained, by the broker or by the wish of its sender
    settled: bool  # the subscription has stood for SETTLING_S


class Orders:
    """What was believed and waits for control, and what was not. Safe from any thread."""

    def __init__(
        self, commands: Mapping[str, Reads], time_s: Callable[[], float] = time.monotonic
    ) -> None:
        """commands: topic -> what its payload orders. time_s: real seconds."""
        self._commands = commands
        self._topics = frozenset(commands)
        self._time_s = time_s
        self._lock = threading.Lock()
        self._waiting: dict[str, tuple[float, Order]] = {}  # Invariant: the newest of each topic
        self._tokens, self._filled_s = float(MOST_AT_ONCE), time_s()
        self._refused: tuple[float, str] | None = None
        self._count = 0  # of refusals while that one stands

    @property
    def topics(self) -> frozenset[str]:
        """Where something can be ordered."""
        return self._topics

    def take_in(self, arrived: Arrived) -> str | None:
        """Believe it, or say why not. Raises nothing."""
        try:
            order = self._understand(arrived)
        except ValueError as error:
            why = f"{arrived.topic}: {error}"
            self._note(why)
            return why
        if order is not None:
            with self._lock:
                # Taken out first, so that the newest is the last in order.
                self._waiting.pop(arrived.topic, None)
                self._waiting[arrived.topic] = (self._time_s(), order)
        return None

    def take_out(self) -> tuple[Order, ...]:
        """What came since the last call, oldest first, each property once."""
        if not self._waiting:
            return ()
        with self._lock:
            oldest_s = self._time_s() - OLDEST_S
            waiting = tuple(each for came_s, each in self._waiting.values() if came_s >= oldest_s)
            self._waiting = {}
            passed = waiting[: self._allowance(len(waiting))]
        if len(passed) < len(waiting):
            self._note(
                f"{len(waiting) - len(passed)} dropped: more than {MOST_AT_ONCE} at once, then "
                f"one in {REFILL_S:g} s, are not taken"
            )
        return passed

    def conditions(self) -> tuple[Condition, ...]:
        with self._lock:
            if self._refused is None or self._time_s() - self._refused[0] > TOLD_S:
                return ()
            more = f" ({self._count} in all)" if self._count > 1 else ""
            return (Condition(REFUSED, SUBJECT, f"{self._refused[1]}{more}"),)

    # --- inside ----------------------------------------------------------------------

    def _understand(self, arrived: Arrived) -> Order | None:
        """None: not worth a word. Raises ValueError."""
        reads = self._commands.get(arrived.topic)
        if reads is None:
            raise ValueError("nothing can be ordered there")
        if not arrived.payload:
            return None  # a retained one being deleted
        if arrived.kept:
            raise ValueError("it is retained, and may be old: commands must not be")
        if not arrived.settled:
            raise ValueError(f"it came within {SETTLING_S:g} s of the connection, and may be old")
        if len(arrived.payload) > LONGEST_PAYLOAD:
            raise ValueError(f"{len(arrived.payload)} bytes, {LONGEST_PAYLOAD} is the most")
        try:
            text = arrived.payload.decode("utf-8")
        except UnicodeDecodeError:
            raise ValueError("it is no UTF-8 text") from None
        return reads(text)

    def _allowance(self, wanted: int) -> int:
        now_s = self._time_s()
        earned = max(0.0, now_s - self._filled_s) / REFILL_S
        self._tokens = min(float(MOST_AT_ONCE), self._tokens + earned)
        self._filled_s = now_s
        granted = min(wanted, int(self._tokens))
        self._tokens -= granted
        return granted

    def _note(self, why: str) -> None:
        now_s = self._time_s()
        with self._lock:
            stands = self._refused is not None and now_s - self._refused[0] <= TOLD_S
            self._count = self._count + 1 if stands else 1
            # The first of a burst stays: a text that changed at every message would be news
            # at every tick.
            if not stands:
                self._refused = (now_s, why)
