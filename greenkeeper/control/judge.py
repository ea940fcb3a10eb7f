"""Is this number a temperature? One probe at a time.

Lives here: range, jump and age; what a driver already called a fault stays one. Does
not live here: reading (probes) and what to do without a temperature (guard).

A single failed reading does not lose a probe: its last good one counts until it is
stale_s old. A jump does: while it waits to be confirmed neither the old value nor the
new one is believed, because one of them is wrong and nobody knows which.
"""

from greenkeeper.control.plan import ProbePlan
from greenkeeper.model import Bad, Fault, Good, ProbeMemory, Reading, Verdict
from greenkeeper.units import shown_c

# A reading stamped further ahead than this was not made by the keeper's own clock.
_CLOCK_SLACK_S = 1.0


def judge(
    reading: Reading | None, memory: ProbeMemory, plan: ProbePlan, now_s: float
) -> tuple[Verdict, ProbeMemory]:
    """The verdict on one probe, and what to remember of it.

    reading is the newest the driver has, possibly the same as last tick's. Raises
    nothing for any reading whatever.
    """
    if reading is not None and reading.taken_s != memory.seen_s:
        memory = _take_in(reading, memory, plan, now_s)
    return _verdict(memory, plan, now_s), memory


def _take_in(reading: Reading, memory: ProbeMemory, plan: ProbePlan, now_s: float) -> ProbeMemory:
    # Written so that NaN fails too.
    if not reading.taken_s <= now_s + _CLOCK_SLACK_S:
        return _faulty(memory, memory.seen_s, Fault.UNREADABLE, "stamped in the future")
    if reading.fault is not None or reading.temp_c is None:
        fault = reading.fault or Fault.MISSING
        return _faulty(memory, reading.taken_s, fault, reading.detail)
    temp_c = reading.temp_c + plan.offset_k
    if not plan.lowest_c <= temp_c <= plan.highest_c:
        seen = f"reads {shown_c(temp_c)}, beyond {plan.lowest_c:g} to {plan.highest_c:g} °C"
        return _faulty(memory, reading.taken_s, Fault.OUT_OF_RANGE, seen)
    if _believable(temp_c, reading.taken_s, memory, plan):
        return ProbeMemory(good_c=temp_c, good_s=reading.taken_s, seen_s=reading.taken_s)
    return _doubted(temp_c, reading.taken_s, memory, plan)


def _faulty(memory: ProbeMemory, seen_s: float | None, fault: Fault, detail: str) -> ProbeMemory:
    return memory._replace(seen_s=seen_s, last_fault=fault, last_detail=detail)


def _believable(temp_c: float, taken_s: float, memory: ProbeMemory, plan: ProbePlan) -> bool:
    """Near enough to the last good one, a jump that has stood long enough, or the first."""
    if memory.doubt_c is None or memory.doubt_since_s is None:
        if memory.good_c is None or memory.good_s is None:
            return True
        if taken_s - memory.good_s > plan.stale_s:
            return True  # nothing recent enough to compare with
        return abs(temp_c - memory.good_c) <= plan.jump_k
    if memory.good_c is not None and abs(temp_c - memory.good_c) <= plan.jump_k:
        return True  # back where it was: the jump was the error
    stands = abs(temp_c - memory.doubt_c) <= plan.jump_k
    return stands and taken_s - memory.doubt_since_s >= plan.jump_confirm_s


def _doubted(temp_c: float, taken_s: float, memory: ProbeMemory, plan: ProbePlan) -> ProbeMemory:
    goes_on = memory.doubt_c is not None and abs(temp_c - memory.doubt_c) <= plan.jump_k
    return memory._replace(
        seen_s=taken_s,
        doubt_c=temp_c,
        doubt_since_s=memory.doubt_since_s if goes_on else taken_s,
        doubt_seen_s=taken_s,
        last_fault=None,
        last_detail="",
    )


def _verdict(memory: ProbeMemory, plan: ProbePlan, now_s: float) -> Verdict:
    if memory.doubt_c is not None and memory.doubt_seen_s is not None:
        if now_s - memory.doubt_seen_s <= plan.stale_s:
            return Bad(Fault.JUMPED, f"jumped to {shown_c(memory.doubt_c)}, not yet confirmed")
    elif memory.good_c is not None and memory.good_s is not None:
        age_s = max(0.0, now_s - memory.good_s)
        if age_s <= plan.stale_s:
            return Good(memory.good_c, age_s)
    if memory.last_fault is not None:
        return Bad(memory.last_fault, memory.last_detail)
    return Bad(Fault.STALE, _quiet_for(memory, now_s))


def _quiet_for(memory: ProbeMemory, now_s: float) -> str:
    if memory.seen_s is None:
        return "no reading yet"
    return f"nothing new for {now_s - memory.seen_s:.0f} s"
