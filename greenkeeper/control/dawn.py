"""The last heat before a sunny dawn: a setpoint lowered a little until the sun is up.

Lives here: for which zones, when and how far. Does not live here: what the morning will be
(a forecast's word, kept by `greenkeeper tonight`), and how a setpoint is held.

What is let go is warmth in reserve: half of what the setpoint has above the plants' minimum, and
no more than MOST_K. The other half stays, because under the clear sky that is foretold leaves
are colder than the air about them. So no plant depends on the forecast: if fog comes instead of
the sun, the heater holds the lower setpoint, which is above every minimum.

Bounds that hold whatever the forecast and the probes say, each with a property test:
  - a setpoint is never raised, lowered by MOST_K at most, and stays above the plants' minimum;
  - a blind zone's is not lowered, nor one's in which a probe stands alone, nor one without
    plants, nor more than BEFORE_S before and AFTER_S after the sunrise that is foretold.
"""

from collections.abc import Mapping

from greenkeeper.control import ahead, proportion, schedule
from greenkeeper.control.plan import Plan, ZonePlan
from greenkeeper.control.storing import QUARTER_S
from greenkeeper.model import Memory, Morning, Now, Overrides, Shifted, Verdict

# Heat from before is gone by the time the sun is worth something; by this time after its rise
# it either is or will not be. Own judgement, and what bench_dawn tries.
BEFORE_S = 2 * 3600.0
AFTER_S = 2 * 3600.0
MOST_K = 0.5
_SHARE = 0.5
_LEAST_K = 0.05  # less is not worth a word
# Foretold clear: at most so much of the sky clouded. Own judgement.
CLEAR_SHARE = 0.3
# At the sunrise that it tells of, a forecast is this old at most: as the outlook has it.
_OLDEST_S = 12 * 3600.0
# A heater that is on for more of the time than this is soon at its limit: nothing is given away.
_MOST_DUTY = 0.75


def follow(
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    memory: Memory,
    ordered: Overrides,
    now: Now,
    alone: Mapping[str, str],
    morning: Morning,
) -> Mapping[str, Shifted]:
    """The zones that are lowered now. It is looked at anew with every quarter of an hour.

    alone: zone -> its probe that stands alone: nothing is given away on its word."""
    if not is_time(morning, now):
        return {}
    quarter = int(now.utc_s // QUARTER_S)
    night = schedule.is_night(plan, now)
    found: dict[str, Shifted] = {}
    for zone in plan.zones:
        if (
            not zone.leaves_dawn
            or zone.name in alone
            or not ahead.may_be_moved(zone, verdicts, ordered)
        ):
            continue
        by_k = spare_k(zone, night=night)
        was = memory.shifted.get(zone.name)
        if was is not None and was.quarter == quarter and 0.0 < -was.by_k <= by_k:
            found[zone.name] = was
        elif by_k >= _LEAST_K and _has_power_to_spare(zone, memory, night=night):
            found[zone.name] = Shifted(quarter, -by_k, _words(by_k))
    return found


def is_time(morning: Morning, now: Now) -> bool:
    """Whether a sunrise is near that a forecast, not too old by then, has in a clear sky."""
    to_sunrise_s = morning.sunrise_utc_s - now.utc_s
    age_s = morning.sunrise_utc_s - morning.made_utc_s
    return (
        -AFTER_S < to_sunrise_s <= BEFORE_S
        and 0.0 <= age_s <= _OLDEST_S
        and morning.made_utc_s <= now.utc_s
        and morning.cloud_share <= CLEAR_SHARE
    )


def spare_k(zone: ZonePlan, *, night: bool) -> float:
    """How far this zone's setpoint may be lowered as it is set."""
    if zone.heat is None or zone.minimum_c is None:
        return 0.0
    setpoint_c = schedule.setpoint_c(zone.heat, night, clock_trusted=True)
    return max(0.0, min(MOST_K, _SHARE * (setpoint_c - zone.minimum_c)))


def _has_power_to_spare(zone: ZonePlan, memory: Memory, *, night: bool) -> bool:
    known = memory.pulsing.get(zone.name)
    if zone.heat is None or zone.pulses is None or known is None or known.behind is None:
        return False
    setpoint_c = schedule.setpoint_c(zone.heat, night, clock_trusted=True)
    duty = proportion.duty(known.behind.rest_c, setpoint_c, zone.pulses.figures.gain_k)
    return duty <= _MOST_DUTY


def _words(by_k: float) -> str:
    return f"{by_k:.2f} K lower until the sun is up, a clear morning is foretold"
