"""A probe that is still trusted, though its readings fail again and again.

Lives here: counting failed readings, and when they are too many. Checksum errors and
empty answers that come and go are how a bad joint, a long cable or a weak pull-up
resistor begins; judge bridges them, and somebody should know before it no longer can.
Does not live here: whether a reading failed (judge).

The counts fade with a time constant of an hour instead of being kept one by one. That
costs nothing while readings are good, and a steady share of failures settles at what the
last hour would have counted.
"""

import math
from collections.abc import Iterator, Mapping

from greenkeeper.control.plan import Plan
from greenkeeper.model import Condition, Failures, Fault, Good, ProbeMemory, Verdict

CODE = "probe-flaky"
HOUR_S = 3600.0
# Once told it holds until the share is down to this part of the limit: a share that
# hovers about the limit must not be told anew every few minutes.
HOLDS_TO = 0.5


def counted(failures: Failures | None, fault: Fault, at_s: float, limit: float) -> Failures:
    """One failed reading more. limit: as many in an hour are too many."""
    counts = {} if failures is None else _faded(failures, at_s)
    told = failures is not None and failures.told and sum(counts.values()) >= HOLDS_TO * limit
    counts[fault] = counts.get(fault, 0.0) + 1.0
    return Failures(counts, at_s, told or sum(counts.values()) > limit)


def conditions(
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    probes: Mapping[str, ProbeMemory],
    now_s: float,
) -> list[Condition]:
    """The trusted probes that fail too often. One that is not trusted has its own code."""
    found: list[Condition] = []
    for name, memory in probes.items():
        failures = memory.failures
        if failures is not None and failures.told and isinstance(verdicts[name], Good):
            found += _told(plan, name, failures, now_s)
    return found


def _told(plan: Plan, name: str, failures: Failures, now_s: float) -> Iterator[Condition]:
    counts = _faded(failures, now_s)
    failed = sum(counts.values())
    if failed < HOLDS_TO * plan.probes[name].flaky_from:
        return
    commonest = max(counts, key=lambda fault: counts[fault])
    text = (
        f"in the last hour about {failed:.0f} of {HOUR_S / plan.poll_s:.0f} readings failed, "
        f"most often: {commonest.value}"
    )
    yield Condition(CODE, name, text)


def _faded(failures: Failures, at_s: float) -> dict[Fault, float]:
    left = math.exp(-max(0.0, at_s - failures.at_s) / HOUR_S)
    return {fault: count * left for fault, count in failures.counts.items()}
