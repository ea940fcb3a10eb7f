"""Is the journal whole, and was the keeper always there?

Lives here: the questions of `greenkeeper journal check` and their answers in words. A
gap that a clean stop or a set clock explains is no finding. Does not live here: repair.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from greenkeeper.journal.answers import RunRecord, StepRecord
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import HOUR_S, MINUTE_S, hour_of, minute_of, utc_text

# A tick a minute may just miss a minute; more than two in a row is nobody watching.
_GAP_S = 3 * MINUTE_S


class Gap(NamedTuple):
    """A stretch without a record, seen in rows that stand for width_s each."""

    from_utc_s: int
    to_utc_s: int
    width_s: int


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
    return [Gap(before + width_s, after, width_s) for before, after in rows]


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
    """Of this run; to the hour where its minutes are gone."""
    start = minute_of(run.started_utc_s)
    minutes_end = minute_of(following.started_utc_s)
    hours_end = hour_of(following.started_utc_s)  # this one is the next run's as well
    for table, end in (("minute", minutes_end), ("hour", hours_end)):
        rows = journal.query(
            f"SELECT max(id) / 1000 FROM {table} WHERE id >= :from * 1000 AND id < :to * 1000",  # noqa: S608 - own words
            {"from": start, "to": end},
        )
        if rows[0][0] is not None:
            return utc_text(rows[0][0])
    return "unknown"


def _explained(gap: Gap, runs: Sequence[RunRecord], steps: Sequence[StepRecord]) -> bool:
    """A new start ends it (a rough end before that is a finding of its own), or a set clock."""
    restarted = any(
        gap.from_utc_s - MINUTE_S <= run.started_utc_s < gap.to_utc_s + gap.width_s for run in runs
    )
    return restarted or any(
        step.before_utc_s <= gap.from_utc_s + gap.width_s and step.after_utc_s >= gap.to_utc_s
        for step in steps
    )


def _told(gap: Gap) -> str:
    return (
        f"nothing is recorded from {utc_text(gap.from_utc_s)} to {utc_text(gap.to_utc_s)},"
        " although the keeper ran"
    )
