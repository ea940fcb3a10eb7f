"""`greenkeeper probes --ice`: reading the probes in their ice until each has come to rest.

Lives here: which probes, the waiting and its end. Does not live here: when a probe is at
rest and what that says (probes/icepoint.py), and the words (probes_ice_sheet.py).
"""

import threading
from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

from greenkeeper.clock import Clock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Reading
from greenkeeper.probes.icepoint import GIVE_UP_S, STEADY_S, Finding, Sample, Standing, finding
from greenkeeper.probes.survey import Surveyor

ROUND_S = 2.0


class Subject(NamedTuple):
    """One probe in the ice."""

    rom: str
    name: str | None  # in the settings; None: it has none
    offset_k: float | None  # in the settings


class Checked(NamedTuple):
    subject: Subject
    finding: Finding
    last: Reading  # its newest, good or not
    step_k: float

    @property
    def well(self) -> bool:
        return self.finding.standing is Standing.SOUND


Progress = Callable[[list[Checked], float], None]


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
        words = sorted(each.name or each.rom for each in all_of_them.values())
        there = f"there is {', '.join(words)}" if words else "there is none at all"
        raise GreenkeeperError(f"no probe is called {', '.join(strange)}: {there}")
    return list(dict.fromkeys(by_word[word] for word in wanted))


def check(
    surveyor: Surveyor,
    subjects: list[Subject],
    clock: Clock,
    progress: Progress,
    give_up_s: float = GIVE_UP_S,
) -> list[Checked]:
    """Read until all are at rest, or until it is no use. One result for each, in order.

    progress: told after every round how all stand and how long it has taken.
    """
    began_s = clock.mono_s()
    samples: dict[str, list[Sample]] = {each.rom: [] for each in subjects}
    while True:
        round_s = clock.mono_s()
        results = [_looked_at(surveyor, each, samples[each.rom], clock) for each in subjects]
        taken_s = clock.mono_s() - began_s
        progress(results, taken_s)
        if taken_s >= give_up_s or all(_done(each, taken_s) for each in results):
            return results
        clock.wait_until(round_s + ROUND_S, threading.Event())


def _done(checked: Checked, taken_s: float) -> bool:
    """One that says nothing holds the others up no longer than they take at least."""
    silent = checked.finding.standing is Standing.SILENT
    return checked.finding.at_rest or (silent and taken_s > STEADY_S)


def _looked_at(
    surveyor: Surveyor, subject: Subject, samples: list[Sample], clock: Clock
) -> Checked:
    found = surveyor.one(subject.rom)
    temp_c = found.reading.temp_c
    if temp_c is not None:
        samples.append(Sample(found.reading.taken_s, temp_c))
    result = finding(samples, clock.mono_s(), found.step_k)
    return Checked(subject, result, found.reading, found.step_k)


def document(results: Iterable[Checked]) -> dict[str, Any]:
    """The results for programs; °C and kelvin, null for unknown."""
    results = list(results)
    return {
        "probes": [
            {
                "rom": each.subject.rom,
                "name": each.subject.name,
                "standing": each.finding.standing.value,
                "mean_c": each.finding.mean_c,
                "lowest_c": each.finding.lowest_c,
                "highest_c": each.finding.highest_c,
                "offset_k": each.finding.offset_k,
                "offset_k_in_settings": each.subject.offset_k,
            }
            for each in results
        ],
        "well": bool(results) and all(each.well for each in results),
    }
