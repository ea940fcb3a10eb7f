"""The whole of control, on a first-order house with dead time, against closed formulas.

The table's head says where its figures come from. Control ticks once a second here and
switches on what it last read, which adds half a tick to the dead time on average: that,
and the tick itself, make up the allowed difference.
"""

import math
from collections import deque

import pytest

from greenkeeper.control import make_plan
from tests.control.houses import Player, on, settings, zone
from tests.support import tables

POWER_W, LOSS_W_PER_K, CAPACITY_J_PER_K = 2000.0, 100.0, 180_000.0
TICK_S = 1.0
CYCLES = 4


def house():
    """On at 5 °C, off at 6 °C, nothing held by minimum times, and no second thoughts."""
    quick = {"kind": "modelled", "drives": "heater", "min_on_s": 0.0, "min_off_s": 0.0}
    heat = {"output": "heater", "setpoint_c": 5.0, "hysteresis_k": 1.0}
    return settings(
        poll_s=1.0, outputs={"heater": quick}, zones=zone(heat=heat, cool=None), plants=[]
    )


def played(outdoor_c: float, dead_s: float) -> list[tuple[float, bool]]:
    """(air temperature, heater on) for every tick of some cycles, the last one whole."""
    player = Player(make_plan(house()))
    under_way = deque([False] * round(dead_s / TICK_S))
    decay = math.exp(-TICK_S * LOSS_W_PER_K / CAPACITY_J_PER_K)
    air_c, was_on, starts = 5.5, False, 0
    seen: list[tuple[float, bool]] = []
    while starts < CYCLES:
        heating = on(player.bench(air_c, after_s=TICK_S), "heater")
        starts += heating and not was_on
        was_on = heating
        seen.append((air_c, heating))
        under_way.append(heating)
        settles_c = outdoor_c + POWER_W / LOSS_W_PER_K * under_way.popleft()
        air_c = settles_c + (air_c - settles_c) * decay
    return seen


def last_cycle(seen: list[tuple[float, bool]]) -> list[tuple[float, bool]]:
    begins = [i for i in range(1, len(seen)) if seen[i][1] and not seen[i - 1][1]]
    return seen[begins[-2] : begins[-1]]


@pytest.mark.parametrize(
    "row", tables.rows("on_off_limit_cycle"), ids=lambda row: f"{row['outdoor_c']}-{row['dead_s']}"
)
def test_control_cycles_as_the_formulas_of_on_off_control_say(row):
    cycle = last_cycle(played(float(row["outdoor_c"]), float(row["dead_s"])))
    temps_c = [temp_c for temp_c, _ in cycle]
    # Two ticks of the steepest slope: heating at full power from the lowest temperature.
    slope_k = POWER_W / CAPACITY_J_PER_K * TICK_S
    assert max(temps_c) == pytest.approx(float(row["peak_c"]), abs=2 * slope_k)
    assert min(temps_c) == pytest.approx(float(row["trough_c"]), abs=2 * slope_k)
    assert len(cycle) * TICK_S == pytest.approx(float(row["period_s"]), rel=0.015)
    duty = sum(heating for _, heating in cycle) / len(cycle)
    assert duty == pytest.approx(float(row["duty"]), abs=0.01)
