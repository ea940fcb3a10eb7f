"""Is this number a temperature? One probe at a time.

Lives here: range, jump and age; what a driver already called a fault stays one. Does
not live here: reading (probes) and what to do without a temperature (guard).

A single failed reading does not lose a probe: its last good one counts until it is
stale_s old. A jump does: while it waits to be confirmed neither the old value nor the
new one is believed, because one of them is wrong and nobody knows which. Nor is a single
reading believed that has nothing recent to be compared with.
"""

from greenkeeper.control import flaky
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
        if (temp_c := _follows(reading, memory, plan, now_s)) is not None:
            memory = _good(temp_c, reading.taken_s, memory)
            if reading.taken_s == now_s:  # as nearly always, and nothing else is left to ask
                return Good(temp_c, 0.0), memory
        else:
            memory = _take_in(reading, memory, plan, now_s)
            if memory.last_fault is not None or memory.doubt_c is not None:
                memory = _failure_counted(memory, plan, now_s)
    return _verdict(memory, plan, now_s), memory


def _follows(reading: Reading, memory: ProbeMemory, plan: ProbePlan, now_s: float) -> float | None:
    """Its temperature, offset applied, if it is near the last good one and that is recent.

    So it is nearly always. After a jump it means that the jump was the error.
    """
    taken_s, raw_c, fault, _ = reading
    if raw_c is None or fault is not None or memory.good_c is None or memory.good_s is None:
        return None
    temp_c = raw_c + plan.offset_k
    follows = (
        abs(temp_c - memory.good_c) <= plan.jump_k
        and plan.lowest_c <= temp_c <= plan.highest_c
        and taken_s - memory.good_s <= plan.stale_s
        and taken_s <= now_s + _CLOCK_SLACK_S
    )
    return temp_c if follows else None


def _good(temp_c: float, taken_s: float, before: ProbeMemory) -> ProbeMemory:
    # By position: this is made for every probe in every tick.
    return ProbeMemory(temp_c, taken_s, taken_s, None, None, None, None, "", before.failures)


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
    if _borne_out(temp_c, reading.taken_s, memory, plan):
        return _good(temp_c, reading.taken_s, memory)
    return _doubted(temp_c, reading.taken_s, memory, plan)


def _faulty(memory: ProbeMemory, seen_s: float | None, fault: Fault, detail: str) -> ProbeMemory:
    return memory._replace(seen_s=seen_s, last_fault=fault, last_detail=detail)


def _failure_counted(memory: ProbeMemory, plan: ProbePlan, now_s: float) -> ProbeMemory:
    """A reading that was doubted counts as failed: most that jump are errors of the wire."""
    fault = memory.last_fault or Fault.JUMPED
    return memory._replace(failures=flaky.counted(memory.failures, fault, now_s, plan.flaky_from))


def _borne_out(temp_c: float, taken_s: float, memory: ProbeMemory, plan: ProbePlan) -> bool:
    """What does not follow the last good one was seen before, and for long enough.

    The first reading of all, and the first after a silence, wait for a second that agrees:
    clones of the usual chip say 25 °C, or their last value, straight after power-up
    (C. Petrich, "Your DS18B20 temperature sensor is likely a fake, counterfeit, clone").
    One that comes back far from where it was must stand as long as any jump.
    """
    if memory.doubt_since_s is None or not _stands(temp_c, taken_s, memory, plan):
        return False
    far = memory.good_c is not None and abs(temp_c - memory.good_c) > plan.jump_k
    confirm_s = plan.jump_confirm_s if far else 0.0
    return taken_s - memory.doubt_since_s >= confirm_s


def _stands(temp_c: float, taken_s: float, memory: ProbeMemory, plan: ProbePlan) -> bool:
    """Whether it bears out the doubtful reading before it."""
    if memory.doubt_c is None or memory.doubt_seen_s is None:
        return False
    recent = taken_s - memory.doubt_seen_s <= plan.stale_s
    return recent and abs(temp_c - memory.doubt_c) <= plan.jump_k


def _doubted(temp_c: float, taken_s: float, memory: ProbeMemory, plan: ProbePlan) -> ProbeMemory:
    return memory._replace(
        seen_s=taken_s,
        doubt_c=temp_c,
        doubt_since_s=(memory.doubt_since_s if _stands(temp_c, taken_s, memory, plan) else taken_s),
        doubt_seen_s=taken_s,
        last_fault=None,
        last_detail="",
    )


def _verdict(memory: ProbeMemory, plan: ProbePlan, now_s: float) -> Verdict:
    if memory.doubt_c is not None and memory.doubt_seen_s is not None:
        if now_s - memory.doubt_seen_s <= plan.stale_s:
            if memory.good_c is None:
                seen = f"first reading {shown_c(memory.doubt_c)}, not yet confirmed"
                return Bad(Fault.STALE, seen)
            return Bad(Fault.JUMPED, f"now reads {shown_c(memory.doubt_c)}, not yet confirmed")
    elif memory.good_c is not None and memory.good_s is not None:
        age_s = now_s - memory.good_s
        if age_s <= plan.stale_s:
            return Good(memory.good_c, age_s if age_s > 0.0 else 0.0)
    if memory.last_fault is not None:
        return Bad(memory.last_fault, memory.last_detail)
    return Bad(Fault.STALE, _quiet_for(memory, now_s))


def _quiet_for(memory: ProbeMemory, now_s: float) -> str:
    if memory.seen_s is None:
        return "no reading yet"
    return f"nothing new for {now_s - memory.seen_s:.0f} s"
