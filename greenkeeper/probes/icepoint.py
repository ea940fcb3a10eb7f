"""The ice point: what a probe says in crushed ice and water, and what follows from it.

Lives here: when it has come to rest, whether that was ice at all, and its offset, as pure
functions of samples. Does not live here: reading (survey.py) and words (commands).

Crushed ice in water that is stirred is at 0 °C: the check that every thermometer's maker
and every trade's handbook asks for (common practice).
"""

from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from greenkeeper.probes.sample import Sample

# At rest: all readings of so long lie so close together. A probe in stirred ice water follows
# with a time constant of about half a minute (from memory): one that still creeps through
# STEADY_K in STEADY_S then has less than a twentieth of a kelvin to go.
STEADY_S = 120.0
STEADY_K = 0.125  # two steps of 12 bits
FEWEST = 10  # readings in that time
GIVE_UP_S = 900.0

SOUND_K = 0.5  # DS18B20 data sheet, -10 to +85 °C
# The farthest known copy reads 3.5 K low at the ice point (C. Petrich, "Your DS18B20
# temperature sensor is likely a fake, counterfeit, clone", 2024). Further off is no ice.
NEAR_K = 4.0


class Standing(StrEnum):
    SOUND = "sound"
    OFF = "off"  # at rest near the ice point, further from it than its data sheet allows
    NOT_ICE = "not-ice"  # at rest, and far from it
    UNSTEADY = "unsteady"
    SILENT = "silent"  # hardly a good reading


class Finding(NamedTuple):
    """How one probe stands. Temperatures in °C; None: nothing to say it of."""

    standing: Standing
    mean_c: float | None
    lowest_c: float | None
    highest_c: float | None
    steady_s: float  # how long it has been at rest

    @property
    def at_rest(self) -> bool:
        return self.standing in (Standing.SOUND, Standing.OFF, Standing.NOT_ICE)

    @property
    def offset_k(self) -> float | None:
        """What to add to its readings, to a hundredth; None unless it rests near ice."""
        if self.mean_c is None or self.standing not in (Standing.SOUND, Standing.OFF):
            return None
        return round(-self.mean_c, 2) + 0.0  # never -0.0


def finding(samples: Sequence[Sample], now_s: float, step_k: float = 0.0625) -> Finding:
    """samples: oldest first. step_k: one step of the probe, 0.0625 at 12 bits."""
    lately = [sample.temp_c for sample in samples if sample.mono_s >= now_s - STEADY_S]
    if len(lately) < FEWEST:
        return _found(Standing.SILENT, lately, 0.0)
    # A probe of coarse steps may stand on the edge of one.
    steady_s = _steady_s(samples, max(STEADY_K, step_k))
    if steady_s < STEADY_S:
        return _found(Standing.UNSTEADY, lately, steady_s)
    mean_c = sum(lately) / len(lately)
    if abs(mean_c) > NEAR_K:
        return _found(Standing.NOT_ICE, lately, steady_s)
    return _found(Standing.SOUND if abs(mean_c) <= SOUND_K else Standing.OFF, lately, steady_s)


def _steady_s(samples: Sequence[Sample], limit_k: float) -> float:
    """How long before the newest sample all readings have lain within the limit."""
    newest = samples[-1]
    lowest_c = highest_c = newest.temp_c
    since_s = newest.mono_s
    for mono_s, temp_c in reversed(samples):
        lowest_c, highest_c = min(lowest_c, temp_c), max(highest_c, temp_c)
        if highest_c - lowest_c > limit_k:
            break
        since_s = mono_s
    return newest.mono_s - since_s


def _found(standing: Standing, temps: Sequence[float], steady_s: float) -> Finding:
    if not temps:
        return Finding(standing, None, None, None, steady_s)
    return Finding(standing, sum(temps) / len(temps), min(temps), max(temps), steady_s)
