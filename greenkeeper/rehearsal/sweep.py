"""One setting at several values, and what each of them makes of the same weather.

Lives here: settings with one key changed, checked as a file would be, and their
rehearsals. Does not live here: a single rehearsal (run.py), and words.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.parallel import Task, all_of
from greenkeeper.rehearsal.run import Span
from greenkeeper.rehearsal.run import Stage as Stage
from greenkeeper.settings.schema import Settings


class Swept(NamedTuple):
    value: str  # as it was written
    result: Result


def sweep(
    values: Sequence[str],
    settings: Sequence[Settings],
    stages: Sequence[Stage],
    span: Span,
    progress: Callable[[float], None],
    *,
    workers: int | None = None,
) -> list[Swept]:
    """values, with the settings and the stage that each of them makes."""
    tasks = [Task(each, stage, span) for each, stage in zip(settings, stages, strict=True)]
    results = all_of(tasks, progress, workers=workers)
    return [Swept(value, result) for value, result in zip(values, results, strict=True)]
