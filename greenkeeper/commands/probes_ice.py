"""`greenkeeper probes --ice`: reading the probes in their ice until each has come to rest.

Lives here: the waiting and its end. Does not live here: the rounds (probes_rounds.py), when a
probe is at rest and what that says (probes/icepoint.py), and the words (probes_ice_sheet.py).
"""

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from greenkeeper.clock import Clock
from greenkeeper.commands.probes_rounds import Seen, Subject, rounds
from greenkeeper.model import Reading
from greenkeeper.probes.icepoint import GIVE_UP_S, STEADY_S, Finding, Standing, finding
from greenkeeper.probes.survey import Surveyor


class Checked(NamedTuple):
    subject: Subject
    finding: Finding
    last: Reading  # its newest, good or not
    step_k: float

    @property
    def well(self) -> bool:
        return self.finding.standing is Standing.SOUND


Progress = Callable[[list[Checked], float], None]


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
    results: list[Checked] = []
    for seen, taken_s in rounds(surveyor, subjects, clock):
        results = [_judged(each, clock) for each in seen]
        progress(results, taken_s)
        if taken_s >= give_up_s or all(_done(each, taken_s) for each in results):
            break
    return results


def _done(checked: Checked, taken_s: float) -> bool:
    """One that says nothing holds the others up no longer than they take at least."""
    silent = checked.finding.standing is Standing.SILENT
    return checked.finding.at_rest or (silent and taken_s > STEADY_S)


def _judged(seen: Seen, clock: Clock) -> Checked:
    result = finding(seen.samples, clock.mono_s(), seen.step_k)
    return Checked(seen.subject, result, seen.last, seen.step_k)


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
