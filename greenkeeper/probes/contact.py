"""Contacts on GPIO lines: looked at for a quarter of a second, and what is made of it.

Lives here: claiming the inputs, the samples of one look, and telling a level that stands
from pulses and from bouncing. Does not live here: the lines (gpio/lines.py), and what a
contact means for the heat (control/watching/contacts.py).

One look is longer than any contact bounces (some milliseconds), and as long as twelve
turns of 50 Hz mains. Detectors of mains or of current may pulse: without smoothing, an
opto-coupler conducts around the crests of one half-wave or of both. So pulses that fill a
fifth of the time count as "it is so" with those, and only their lack as "it is not"; a
mechanical contact must stand.
"""

import contextlib
import time
from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from greenkeeper.clock import Clock
from greenkeeper.gpio import LineError
from greenkeeper.gpio.lines import Lines
from greenkeeper.model import ContactReading
from greenkeeper.pins import Level
from greenkeeper.settings.switches import GpioInput

SAMPLES = 84

# From 1 to 5 ms, a quarter of a second in all. Uneven, because even ones could meet every
# pulse's pause: these never fall into step with anything (a golden-section chirp).
GAPS_S = tuple(0.001 + 0.004 * (n * n * 0.6180339887 % 1.0) for n in range(SAMPLES))

# So many samples at the other level are a disturbance: a contactor's spark, say.
NOISE = SAMPLES // 20

# A contact that bounces keeps its last state for so long, until the next look or two.
UNSETTLED_S = 2.0

_PULSING = ("mains-present", "heater-current")


class _Contact(NamedTuple):
    pin: int
    active_is_high: bool
    pulses: bool


class GpioContacts:
    """All contacts on the board's lines. A line that cannot be had or read is unknown, and
    is tried again at every look. Raises nothing."""

    blocking = True

    def __init__(
        self,
        inputs: Mapping[str, GpioInput],
        lines: Lines,
        clock: Clock,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        """pause: waits in real time between two samples."""
        self._inputs = dict(inputs)
        self._contacts = {
            name: _Contact(each.pin, each.active is Level.HIGH, each.tells in _PULSING)
            for name, each in inputs.items()
        }
        self._clock = clock
        self._pause = pause
        self._lines = lines
        self._troubles: dict[str, str] = {}  # by contact: why it is not read in this look
        self._claimed: set[str] = set()
        self._standing: dict[str, ContactReading] = {}
        self._unsettled_since_s: dict[str, float] = {}
        self._claim()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._inputs)

    def read(self) -> Mapping[str, ContactReading]:
        self._claim()
        active = self._look()
        now_s = self._clock.mono_s()
        return {
            name: ContactReading(now_s, None, self._troubles[name])
            if name in self._troubles
            else self._made_of(name, active[name], now_s)
            for name in self._inputs
        }

    def close(self) -> None:
        # An input that cannot be let go drives nothing.
        with contextlib.suppress(LineError):
            self._lines.close()
        self._claimed.clear()

    def _claim(self) -> None:
        """What is not claimed yet; another program may have let go of it meanwhile."""
        self._troubles = {}
        for name, each in self._inputs.items():
            if name in self._claimed:
                continue
            try:
                self._lines.claim_input(each.pin, each.pull)
                self._claimed.add(name)
            except LineError as error:
                self._troubles[name] = str(error)

    def _look(self) -> Mapping[str, int]:
        """How many of its samples each contact was active in."""
        active = dict.fromkeys(self._claimed, 0)
        for gap_s in GAPS_S if active else ():
            for name in active:
                if name not in self._troubles:
                    active[name] += self._sample(name)
            self._pause(gap_s)
        return active

    def _sample(self, name: str) -> bool:
        contact = self._contacts[name]
        try:
            return self._lines.read(contact.pin) is contact.active_is_high
        except LineError as error:
            self._troubles[name] = str(error)
            return False

    def _made_of(self, name: str, active: int, now_s: float) -> ContactReading:
        if self._contacts[name].pulses or not NOISE < active < SAMPLES - NOISE:
            self._unsettled_since_s.pop(name, None)
            self._standing[name] = ContactReading(now_s, active > NOISE)
            return self._standing[name]
        since_s = self._unsettled_since_s.setdefault(name, now_s)
        last = self._standing.get(name)
        if last is not None and now_s - since_s < UNSETTLED_S:
            return last
        text = f"its level does not settle: active in {active} of {SAMPLES} samples"
        return ContactReading(now_s, None, text)


class UnreachableContacts:
    """Contacts of a board that cannot be reached at all: unknown, each for that reason."""

    blocking = False

    def __init__(self, names: Iterable[str], why: LineError, clock: Clock) -> None:
        self._names = tuple(names)
        self._why = str(why)
        self._clock = clock

    @property
    def names(self) -> tuple[str, ...]:
        return self._names

    def read(self) -> Mapping[str, ContactReading]:
        return dict.fromkeys(self._names, ContactReading(self._clock.mono_s(), None, self._why))

    def close(self) -> None:
        """It holds nothing."""
