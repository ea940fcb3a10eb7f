"""One lesson: from the evidence of some nights to what is learned.

Lives here: how many nights are taken, and what is asked of them. Does not live here: where
evidence comes from (reports/learning_data.py), the file it ends in.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from greenkeeper.house.learning.dawn import Dawn, dawn_offset_s
from greenkeeper.house.learning.drift import Newest, drift
from greenkeeper.house.learning.figures import figures
from greenkeeper.house.learning.nights import Evidence, Night, Skipped, prepared
from greenkeeper.learned import Learned, Past

NIGHTS = 14
LATELY = 7  # enough to notice a change soon


def _alone(_share: float) -> None:
    """Nobody watches."""


class Subject(NamedTuple):
    """Whose nights they are."""

    zone: str
    heater: str
    power_w: float | None


class Lesson(NamedTuple):
    learned: Learned
    skipped: tuple[Skipped, ...]  # nights that could teach nothing, and why; oldest first


def lesson(
    subject: Subject,
    evidence: Iterable[Evidence | Skipped],
    dawns: Sequence[Dawn],
    past: Sequence[Past],
    now_utc_s: float,
    progress: Callable[[float], None] = _alone,
) -> Lesson:
    """evidence: the newest night first; no more of it is taken than needed."""
    nights, skipped = _taken(evidence, lambda share: progress(0.3 * share))
    found: dict[str, Any] = dict(figures(nights, subject.power_w))
    progress(0.7)
    learned = Learned(
        now_utc_s,
        nights[0].from_utc_s if nights else now_utc_s,
        nights[-1].to_utc_s if nights else now_utc_s,
        len(nights),
        *subject,
        **found,
        dawn_offset_s=dawn_offset_s(dawns),
    )
    notice = drift(_newest(learned, nights, subject), past)
    progress(1.0)
    return Lesson(learned._replace(notices=() if notice is None else (notice,)), tuple(skipped))


def _newest(learned: Learned, nights: Sequence[Night], subject: Subject) -> list[Newest]:
    spans = [Newest(learned.from_utc_s, learned.loss_w_per_k, learned.rise_k)]
    if len(nights) > LATELY:
        lately = nights[-LATELY:]
        found = figures(lately, subject.power_w)
        spans.insert(0, Newest(lately[0].from_utc_s, found["loss_w_per_k"], found["rise_k"]))
    return spans


def _taken(
    evidence: Iterable[Evidence | Skipped], progress: Callable[[float], None]
) -> tuple[list[Night], list[Skipped]]:
    """Oldest first."""
    nights: list[Night] = []
    skipped: list[Skipped] = []
    for each in evidence:
        found = each if isinstance(each, Skipped) else prepared(each)
        if isinstance(found, Skipped):
            skipped.append(found)
            continue
        nights.append(found)
        progress(len(nights) / NIGHTS)
        if len(nights) == NIGHTS:
            break
    return nights[::-1], skipped[::-1]
