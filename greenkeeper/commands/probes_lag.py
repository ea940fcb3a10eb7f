"""`greenkeeper probes --lag`: watching probes cool that a warm hand has let go.

Lives here: the waiting, its end, and the one figure for the settings. Does not live here: the
rounds (probes_rounds.py), what a cooling says (probes/cooling.py), and the words
(probes_lag_sheet.py).
"""

from collections.abc import Callable, Iterable
from statistics import median
from typing import Any, NamedTuple

from greenkeeper.clock import Clock
from greenkeeper.commands.probes_rounds import Subject, rounds
from greenkeeper.model import Reading
from greenkeeper.probes.cooling import GIVE_UP_S, Finding, Standing, finding
from greenkeeper.probes.survey import Surveyor

_SILENT_S = 60.0  # one that says nothing holds the others up no longer


class Watched(NamedTuple):
    subject: Subject
    finding: Finding
    last: Reading  # its newest, good or not

    @property
    def well(self) -> bool:
        return self.finding.standing is Standing.DONE


Progress = Callable[[list[Watched], float], None]


def watch(
    surveyor: Surveyor, subjects: list[Subject], clock: Clock, progress: Progress
) -> list[Watched]:
    """Read until all have cooled, or until it is no use. One result for each, in order.

    progress: told after every round how all stand and how long it has taken.
    """
    results: list[Watched] = []
    for seen, taken_s in rounds(surveyor, subjects, clock):
        results = [Watched(each.subject, finding(each.samples), each.last) for each in seen]
        progress(results, taken_s)
        if taken_s >= GIVE_UP_S or all(_over(each, taken_s) for each in results):
            break
    return results


def _over(watched: Watched, taken_s: float) -> bool:
    standing = watched.finding.standing
    silent = standing is Standing.SILENT and taken_s > _SILENT_S
    return silent or standing in (Standing.DONE, Standing.ROUGH)


def for_settings_s(results: Iterable[Watched]) -> float | None:
    """The house has one figure for its probes: the middle one. None: none has cooled."""
    lags_s = [each.finding.lag_s for each in results if each.finding.lag_s is not None]
    return float(round(median(lags_s))) if lags_s else None


def document(results: Iterable[Watched]) -> dict[str, Any]:
    """The results for programs; seconds, null for unknown."""
    results = list(results)
    return {
        "probes": [
            {
                "rom": each.subject.rom,
                "name": each.subject.name,
                "standing": each.finding.standing.value,
                "lag_s": None if each.finding.lag_s is None else round(each.finding.lag_s, 1),
            }
            for each in results
        ],
        "probe_lag_s": for_settings_s(results),
        "well": bool(results) and all(each.well for each in results),
    }
