"""Reading some probes round after round, for the checks that take their time.

Lives here: which probes, and their readings so far. Does not live here: what the readings
say and when it is enough (probes_ice.py, probes_lag.py).
"""

import threading
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from greenkeeper.clock import Clock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Reading
from greenkeeper.probes.sample import Sample
from greenkeeper.probes.survey import Surveyor

ROUND_S = 2.0


class Subject(NamedTuple):
    """One probe under a check."""

    rom: str
    name: str | None  # in the settings; None: it has none
    offset_k: float | None  # in the settings

    @property
    def word(self) -> str:
        return self.name or self.rom


class Seen(NamedTuple):
    subject: Subject
    samples: list[Sample]  # of good readings, oldest first; it grows from round to round
    last: Reading  # its newest, good or not
    step_k: float


def subjects(
    wanted: Iterable[str], known: Mapping[str, Subject], on_the_bus: Iterable[str]
) -> list[Subject]:
    """The probes to check: those named, by name or id, or else all there are.

    known: by id, the probes of the settings. Raises GreenkeeperError for a name that is
    neither there nor on the bus.
    """
    all_of_them = {**known, **{r: Subject(r, None, None) for r in on_the_bus if r not in known}}
    wanted = list(wanted)
    if not wanted:
        return list(all_of_them.values())
    by_word = {**all_of_them, **{s.name: s for s in known.values() if s.name is not None}}
    strange = [word for word in wanted if word not in by_word]
    if strange:
        words = sorted(each.word for each in all_of_them.values())
        there = f"there is {', '.join(words)}" if words else "there is none at all"
        raise GreenkeeperError(f"no probe is called {', '.join(strange)}: {there}")
    return list(dict.fromkeys(by_word[word] for word in wanted))


def rounds(
    surveyor: Surveyor, subjects: list[Subject], clock: Clock
) -> Iterator[tuple[list[Seen], float]]:
    """All of them, read every ROUND_S, and how many seconds it has taken. It has no end."""
    began_s = clock.mono_s()
    samples: dict[str, list[Sample]] = {each.rom: [] for each in subjects}
    while True:
        round_s = clock.mono_s()
        seen = [_read(surveyor, each, samples[each.rom]) for each in subjects]
        yield seen, clock.mono_s() - began_s
        clock.wait_until(round_s + ROUND_S, threading.Event())


def _read(surveyor: Surveyor, subject: Subject, samples: list[Sample]) -> Seen:
    found = surveyor.one(subject.rom)
    if found.reading.temp_c is not None:
        samples.append(Sample(found.reading.taken_s, found.reading.temp_c))
    return Seen(subject, samples, found.reading, found.step_k)
