"""Is this number a relative humidity, and how damp is the air there?

Lives here: range, age and standing still of one hygrometer at a time; and its dew point,
where a trusted probe hangs beside it. Does not live here: temperatures (judge.py), and
what damp means to plants.

Another kind than a temperature, so another judge. It may jump: a vent that opens takes it
from 95 to 60 per cent in a minute. It may stand still for a night: in fog, or once every
pane drips. What it cannot do is stand still while the air beside it warms by many degrees,
unless it is at its upper end: air that takes up no water dries by a twentieth of its
relative humidity for each kelvin, and more.
"""

from collections.abc import Mapping

from greenkeeper import moisture
from greenkeeper.control.plan import HygrometerPlan, Plan
from greenkeeper.model import (
    Bad,
    Damp,
    DampVerdict,
    Fault,
    Good,
    HumidityReading,
    HygrometerMemory,
    Verdict,
)
from greenkeeper.units import shown_c, shown_pct

# A wet chip may say a little more than there can be; it counts as 100.
_SLACK_PCT = 5.0
_CLOCK_SLACK_S = 1.0  # as in judge.py
# From here on it may stand still for good reasons, however warm it gets.
_NEARLY_FULL_PCT = 95.0
_MOVED_K = 3.0  # air whose temperature went so far cannot have kept its relative humidity


def judge_all(
    plan: Plan,
    readings: Mapping[str, HumidityReading],
    verdicts: Mapping[str, Verdict],
    memory: Mapping[str, HygrometerMemory],
    now_s: float,
) -> tuple[dict[str, DampVerdict], dict[str, HygrometerMemory]]:
    """The verdict on every hygrometer, and what to remember. verdicts: on the probes."""
    damp: dict[str, DampVerdict] = {}
    after: dict[str, HygrometerMemory] = {}
    for name, hygrometer in plan.hygrometers.items():
        beside = None if hygrometer.beside is None else verdicts.get(hygrometer.beside)
        temp_c = beside.temp_c if isinstance(beside, Good) else None
        known = memory.get(name, HygrometerMemory())
        damp[name], after[name] = judge(readings.get(name), known, hygrometer, temp_c, now_s)
    return damp, after


def judge(
    reading: HumidityReading | None,
    memory: HygrometerMemory,
    plan: HygrometerPlan,
    temp_c: float | None,
    now_s: float,
) -> tuple[DampVerdict, HygrometerMemory]:
    """temp_c: of the air beside it; None: not known. Raises nothing whatever is read."""
    if reading is not None and reading.taken_s != memory.seen_s:
        memory = _take_in(reading, memory, plan, temp_c, now_s)
    if memory.still_since_s is not None and temp_c is not None:
        memory = _beside(memory, temp_c)
    return _verdict(memory, plan, temp_c, now_s), memory


def _take_in(
    reading: HumidityReading,
    memory: HygrometerMemory,
    plan: HygrometerPlan,
    temp_c: float | None,
    now_s: float,
) -> HygrometerMemory:
    # Written so that NaN fails too.
    if not reading.taken_s <= now_s + _CLOCK_SLACK_S:
        return memory._replace(last_fault=Fault.UNREADABLE, last_detail="stamped in the future")
    if reading.fault is not None or reading.rh_pct is None:
        return memory._replace(
            seen_s=reading.taken_s,
            last_fault=reading.fault or Fault.MISSING,
            last_detail=reading.detail,
        )
    rh_pct = reading.rh_pct + plan.offset_pct
    if not plan.lowest_pct <= rh_pct <= 100.0 + _SLACK_PCT:
        seen = f"reads {rh_pct:.0f} %, beyond {plan.lowest_pct:g} to 100 %"
        return memory._replace(
            seen_s=reading.taken_s, last_fault=Fault.OUT_OF_RANGE, last_detail=seen
        )
    rh_pct = min(rh_pct, 100.0)
    taken_s = reading.taken_s
    if rh_pct != memory.good_pct:
        return HygrometerMemory(rh_pct, taken_s, taken_s, None, "", taken_s, temp_c)
    # Written out, because _replace costs ten times as much and this is done at every tick.
    return HygrometerMemory(
        rh_pct,
        taken_s,
        taken_s,
        None,
        "",
        memory.still_since_s,
        memory.still_temp_c,
        memory.moved_beside,
    )


def _beside(memory: HygrometerMemory, temp_c: float) -> HygrometerMemory:
    """The same, with the proof that the air beside it has moved meanwhile, if it has.

    The proof stands until the hygrometer moves: the air may come back to where it was.
    """
    if memory.still_temp_c is None:
        return memory._replace(still_temp_c=temp_c)
    if memory.moved_beside or abs(temp_c - memory.still_temp_c) < _MOVED_K:
        return memory
    moved = f"from {shown_c(memory.still_temp_c)} to {shown_c(temp_c)}"
    return memory._replace(moved_beside=moved)


def _verdict(
    memory: HygrometerMemory, plan: HygrometerPlan, temp_c: float | None, now_s: float
) -> DampVerdict:
    if memory.good_pct is None or memory.good_s is None:
        return _bad(memory, now_s)
    age_s = max(0.0, now_s - memory.good_s)
    if age_s > plan.stale_s:
        return _bad(memory, now_s)
    if (frozen := _frozen(memory, plan)) is not None:
        return frozen
    if temp_c is None:
        return Damp(memory.good_pct, age_s)
    return Damp(
        memory.good_pct,
        age_s,
        temp_c,
        moisture.dew_point_c(temp_c, memory.good_pct),
        moisture.water_g_m3(temp_c, memory.good_pct),
    )


def _frozen(memory: HygrometerMemory, plan: HygrometerPlan) -> Bad | None:
    if not memory.moved_beside or not plan.frozen_s or memory.good_pct is None:
        return None
    stood_s = (memory.good_s or 0.0) - (memory.still_since_s or 0.0)
    if memory.good_pct >= _NEARLY_FULL_PCT or stood_s < plan.frozen_s:
        return None
    text = f"exactly {shown_pct(memory.good_pct)} for {stood_s / 3600.0:.1f} h, while"
    return Bad(Fault.FROZEN, f"{text} {plan.beside} went {memory.moved_beside}")


def _bad(memory: HygrometerMemory, now_s: float) -> Bad:
    if memory.last_fault is not None:
        return Bad(memory.last_fault, memory.last_detail)
    if memory.seen_s is None:
        return Bad(Fault.STALE, "no reading yet")
    return Bad(Fault.STALE, f"nothing new for {now_s - memory.seen_s:.0f} s")
