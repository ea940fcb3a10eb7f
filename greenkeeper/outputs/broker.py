"""Switches on the broker: told again and again, and believed only when they answer.

Lives here: one driver for a ready-made switch that takes commands on one topic and reports
its state on another. Does not live here: the connection (the broker's room).

What a wire does by itself, a radio must prove. An order is repeated for as long as it
holds, so that the switch's own timer, which lets go without it, is always wound up. Every
order must be answered within confirm_s by a report that agrees; without that the state is
unknown, and unknown is not off: whatever must not meet this output waits, and it is an
alarm. A report that the broker kept (retained) answers nothing.
"""

import json
import threading
from collections.abc import Callable
from typing import NamedTuple, Protocol

from greenkeeper import pointer
from greenkeeper.clock import Clock
from greenkeeper.outputs import OutputError
from greenkeeper.settings.switches import HOLD

LARGEST_PAYLOAD = 16 * 1024
_LEAVING_S = 2.0  # real seconds for the last OFF to be answered


class Post(Protocol):
    """What the broker's room offers to whoever switches over it."""

    def subscribe(
        self, topic: str, reader: Callable[[bytes, bool], None]
    ) -> Callable[[], None]: ...

    def send(self, topic: str, payload: bytes) -> bool:
        """False: nothing will be sent."""


class Words(NamedTuple):
    """What is said to a switch, and what it says."""

    topic: str
    on: str
    off: str
    answers: str  # its topic
    answer_at: tuple[str, ...]  # where in its JSON the state stands; empty: the whole text
    says_on: str
    says_off: str
    hold_s: float


class BrokerSwitch:
    """Thread-safe: the loop, the thread that ends permissions and the client's all call."""

    def __init__(
        self,
        name: str,
        words: Words,
        post: Post,
        clock: Clock,
        *,
        confirm_s: float,
        repeat_s: float,
    ) -> None:
        """confirm_s: for an order to be answered. repeat_s: from one order to the next."""
        self._name = name
        self._words = words
        self._post = post
        self._clock = clock
        self._confirm_s = confirm_s
        self._repeat_s = repeat_s
        self._changed = threading.Condition()
        # Invariant: all below are touched only while _changed is held.
        self._wanted: bool | None = None  # None: nothing ordered yet
        self._sent_s: float | None = None
        self._open_since_s: float | None = None  # the first order that was not answered yet
        self._seen: bool | None = None  # its newest report; None: there was none
        self._seen_s: float | None = None
        self._agreed = False  # its newest report is what is wanted, and came since it is
        self._end: Callable[[], None] | None = post.subscribe(words.answers, self._answer)

    @property
    def name(self) -> str:
        return self._name

    @property
    def certain(self) -> bool:
        """Its newest report agrees with what is wanted, and no answer is overdue."""
        with self._changed:
            return self._agreed and not self._overdue(self._clock.mono_s())

    def switch(self, *, on: bool) -> None:
        """Order it, or order it again. Raises OutputError once it has not answered for
        confirm_s."""
        with self._changed:
            now_s = self._clock.mono_s()
            if on is not self._wanted:
                self._want(on, now_s)
            elif self._sent_s is None or now_s - self._sent_s >= self._repeat_s:
                self._say(now_s)
            self._complain(now_s)

    renew = switch

    def close(self) -> None:
        """Order it off, and wait a moment for the answer. Raises OutputError without one."""
        with self._changed:
            if self._end is None:
                return
            now_s = self._clock.mono_s()
            if self._wanted is not False or not self._agreed:
                self._want(False, now_s)
            answered = self._changed.wait_for(lambda: self._agreed, _LEAVING_S)
            end, self._end = self._end, None
        end()
        if not answered:
            raise OutputError(f"{self._unconfirmed(self._clock.mono_s())}; its timer must end it")

    def _want(self, on: bool, now_s: float) -> None:
        self._wanted, self._agreed, self._open_since_s = on, False, now_s
        self._say(now_s)

    def _say(self, now_s: float) -> None:
        text = self._words.on if self._wanted else self._words.off
        payload = text.replace(HOLD, f"{self._words.hold_s:.0f}").encode()
        self._post.send(self._words.topic, payload)  # False: then no answer comes either
        self._sent_s = now_s
        if self._open_since_s is None:
            self._open_since_s = now_s

    def _complain(self, now_s: float) -> None:
        if self._overdue(now_s):
            raise OutputError(self._unconfirmed(now_s))

    def _overdue(self, now_s: float) -> bool:
        return self._open_since_s is not None and now_s - self._open_since_s >= self._confirm_s

    def _unconfirmed(self, now_s: float) -> str:
        ordered = "on" if self._wanted else "off"
        if self._seen is None or self._seen_s is None:
            said = "it has said nothing yet"
        else:
            state = "on" if self._seen else "off"
            said = f"it said {state} {now_s - self._seen_s:.0f} s ago"
        return f"output {self._name}: ordered {ordered} and not confirmed, {said}"

    # --- the client's thread ---------------------------------------------------------------

    def _answer(self, payload: bytes, retained: bool) -> None:
        state = self._state(payload)
        if retained or state is None:
            return  # old news, or none: no answer, which is told when it is missed
        with self._changed:
            now_s = self._clock.mono_s()
            self._seen, self._seen_s = state, now_s
            self._agreed = state is self._wanted
            if self._agreed:
                self._open_since_s = None
            elif self._open_since_s is None:
                # Somebody else switched it, or its own timer did.
                self._open_since_s = now_s
                self._sent_s = None
            self._changed.notify_all()

    def _state(self, payload: bytes) -> bool | None:
        if len(payload) > LARGEST_PAYLOAD:
            return None
        try:
            said = self._said(payload)
        except (ValueError, LookupError, RecursionError):
            return None
        return {self._words.says_on: True, self._words.says_off: False}.get(said)

    def _said(self, payload: bytes) -> str:
        text = payload.decode("utf-8")
        if not self._words.answer_at:
            return text
        found = pointer.value_at(json.loads(text), self._words.answer_at)
        return found if isinstance(found, str) else json.dumps(found)
