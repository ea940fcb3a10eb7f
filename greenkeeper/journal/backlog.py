"""What waits for the card, bounded.

Lives here: the order of waiting, and what is dropped first when it grows too long. Pure.

Invariants: never more than `limit` rows wait; as long as one minute waits, no note
(switching, event, change) is dropped; whatever is dropped is counted.
"""

from collections import deque
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from greenkeeper.journal.rows import Minute, Note, moment


class Lost(NamedTuple):
    """What was dropped, and the first and last moment it was about."""

    minutes: int
    notes: int
    first_utc_s: float
    last_utc_s: float


class Backlog:
    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._minutes: deque[Minute] = deque()
        self._notes: deque[Note] = deque()
        self.lost: Lost | None = None  # since it was last set to None

    def __len__(self) -> int:
        return len(self._minutes) + len(self._notes)

    def add(self, minutes: Iterable[Minute], notes: Iterable[Note]) -> None:
        self._minutes.extend(minutes)
        self._notes.extend(notes)
        self._trim()

    def take_notes(self) -> list[Note]:
        notes = list(self._notes)
        self._notes.clear()
        return notes

    def take_minutes(self) -> list[Minute]:
        minutes = list(self._minutes)
        self._minutes.clear()
        return minutes

    def put_back(self, minutes: Sequence[Minute], notes: Sequence[Note]) -> None:
        """They could not be written: they come before all that waits."""
        self._minutes.extendleft(reversed(minutes))
        self._notes.extendleft(reversed(notes))
        self._trim()

    def give_up(self, minutes: Iterable[Minute], notes: Iterable[Note]) -> None:
        """They never can be written: count them as lost."""
        for minute in minutes:
            self._lose(minute.utc_s, minutes=1)
        for note in notes:
            self._lose(moment(note), notes=1)

    def _trim(self) -> None:
        while len(self) > self._limit:
            if self._minutes:
                self._lose(self._minutes.popleft().utc_s, minutes=1)
            else:
                self._lose(moment(self._notes.popleft()), notes=1)

    def _lose(self, utc_s: float, *, minutes: int = 0, notes: int = 0) -> None:
        if self.lost is None:
            self.lost = Lost(minutes, notes, utc_s, utc_s)
            return
        self.lost = Lost(
            self.lost.minutes + minutes,
            self.lost.notes + notes,
            min(self.lost.first_utc_s, utc_s),
            max(self.lost.last_utc_s, utc_s),
        )
