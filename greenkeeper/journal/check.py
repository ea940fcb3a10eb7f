"""Is the journal whole, and was the keeper always there?

Lives here: the questions of `greenkeeper journal check` and their answers in words. A
gap that a clean stop or a set clock explains is no finding. Does not live here: repair.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from greenkeeper.journal.answers import RunRecord, StepRecord
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import HOUR_S, MINUTE_S, utc_text

# A tick a minute may just miss a minute; more than two in a row is nobody watching.
_GAP_S = 3 * MINUTE_S

# What a run's start and its first minute may lie apart.
_NEAR_S = 2 * MINUTE_S


class Gap(NamedTuple):
    from_utc_s: int
    to_utc_s: int


def findings(journal: Journal) -> list[str]:
    """One sentence for each; empty when all is well. Raises JournalError."""
    runs, steps = journal.runs(), journal.clock_steps()
    return [
        *_damage(journal),
        *_rough_ends(journal, runs),
        *(_told(gap) for gap in gaps(journal) if not _explained(gap, runs, steps)),
    ]


def gaps(journal: Journal) -> list[Gap]:
    """Every stretch without a record, by hours where the minutes are gone."""
    first = journal.query("SELECT min(id) / 1000 FROM minute")[0][0]
    minutes_from = float("inf") if first is None else float(first)
    by_hour = [gap for gap in _jumps(journal, "hour", HOUR_S) if gap.to_utc_s <= minutes_from]
    return by_hour + _jumps(journal, "minute", MINUTE_S)


def _jumps(journal: Journal, table: str, width_s: int) -> list[Gap]:
    rows = journal.query(
        "SELECT before / 1000, id / 1000 FROM"  # noqa: S608 - own words
        f" (SELECT id, lag(id) OVER (ORDER BY id) AS before FROM {table})"
        " WHERE id / 1000 - before / 1000 > :most",
        {"most": max(_GAP_S, width_s)},
    )
    return [Gap(before + width_s, after) for before, after in rows]


def _damage(journal: Journal) -> Iterator[str]:
    for (text,) in journal.query("PRAGMA integrity_check(20)"):
        if text != "ok":
            yield f"damaged: {text}"


def _rough_ends(journal: Journal, runs: Sequence[RunRecord]) -> Iterator[str]:
    """Runs that did not stop as asked. The newest may be still running."""
    for run, following in pairwise(runs):
        begun = f"the run begun {utc_text(run.started_utc_s)}"
        if run.stopped_utc_s is None:
            yield (
                f"{begun} ended without a goodbye, by a power cut or a kill; last record"
                f" {_last_record(journal, run, following)},"
                f" next start {utc_text(following.started_utc_s)}"
            )
        elif run.clean is False:
            yield f"{begun} was ended by a fault of its own at {utc_text(run.stopped_utc_s)}"


def _last_record(journal: Journal, run: RunRecord, following: RunRecord) -> str:
    rows = journal.query(
        "SELECT max(utc_s) FROM"
        " (SELECT max(id) / 1000 AS utc_s FROM minute WHERE id >= :from * 1000 AND id < :to * 1000"
        " UNION ALL"
        " SELECT max(id) / 1000 FROM hour WHERE id >= :from * 1000 AND id < :to * 1000)",
        {
            "from": int(run.started_utc_s) - MINUTE_S,
            "to": int(following.started_utc_s) - MINUTE_S,
        },
    )
    return "unknown" if rows[0][0] is None else utc_text(rows[0][0])


def _explained(gap: Gap, runs: Sequence[RunRecord], steps: Sequence[StepRecord]) -> bool:
    """A rough end explains its gap too: it is a finding of its own already."""
    restarted = any(
        gap.from_utc_s - _NEAR_S <= run.started_utc_s <= gap.to_utc_s + _NEAR_S for run in runs
    )
    return restarted or any(
        step.before_utc_s <= gap.from_utc_s + _NEAR_S and step.after_utc_s >= gap.to_utc_s
        for step in steps
    )


def _told(gap: Gap) -> str:
    return (
        f"nothing is recorded from {utc_text(gap.from_utc_s)} to {utc_text(gap.to_utc_s)},"
        " although the keeper ran"
    )
