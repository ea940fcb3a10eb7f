"""Several rehearsals at once, each in a process of its own.

Lives here: handing out the work, and one share for all of it. Does not live here: what is
rehearsed (run.py), and why (compare.py, sweep.py).
"""

import multiprocessing
import os
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from multiprocessing.sharedctypes import Synchronized
from typing import NamedTuple

from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.run import AS_SET, Span, Stage, Way, rehearse
from greenkeeper.settings.schema import Settings

_LOOK_EVERY_S = 0.25

_share: "Synchronized[float] | None" = None  # of a worker, set once when it starts


class Task(NamedTuple):
    settings: Settings
    stage: Stage
    span: Span
    way: Way = AS_SET
    leave_out: frozenset[int] = frozenset()


def all_of(
    tasks: Sequence[Task], progress: Callable[[float], None], *, workers: int | None = None
) -> list[Result]:
    """Their results in the order of the tasks. progress is told the share of all of them.

    workers: how many processes; without it, one for every core. One task, or one worker,
    runs here. Raises what a rehearsal raises, once the others have been let go.
    """
    workers = min(len(tasks), workers or os.cpu_count() or 1)
    if workers <= 1:
        return [_run(task, _part(i, len(tasks), progress)) for i, task in enumerate(tasks)]
    # Spawned, not forked: a forked thread's lock may be held for ever.
    context = multiprocessing.get_context("spawn")
    share = context.Value("d", 0.0)
    with ProcessPoolExecutor(workers, context, initializer=_begin, initargs=(share,)) as pool:
        futures = [pool.submit(_in_worker, task) for task in tasks]
        try:
            _watch(futures, share, len(tasks), progress)
            return [future.result() for future in futures]
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _watch(
    futures: Sequence[Future[Result]],
    share: "Synchronized[float]",
    count: int,
    progress: Callable[[float], None],
) -> None:
    left = set(futures)
    while left:
        done, left = wait(left, _LOOK_EVERY_S, FIRST_COMPLETED)
        for future in done:
            future.result()  # raises at once what one of them met
        progress(min(1.0, share.value / count))


def _part(index: int, count: int, progress: Callable[[float], None]) -> Callable[[float], None]:
    return lambda done: progress((index + done) / count)


def _begin(share: "Synchronized[float]") -> None:
    global _share
    _share = share


def _in_worker(task: Task) -> Result:
    told = 0.0

    def tell(done: float) -> None:
        nonlocal told
        if _share is not None:
            with _share.get_lock():
                _share.value += done - told
        told = done

    result = _run(task, tell)
    tell(1.0)
    return result


def _run(task: Task, progress: Callable[[float], None]) -> Result:
    return rehearse(
        task.settings, task.stage, task.span, task.way,
        leave_out=task.leave_out, progress=progress,
    )  # fmt: skip
