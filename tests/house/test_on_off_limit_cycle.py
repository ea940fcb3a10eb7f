"""On/off control of a first-order house with dead time, against its closed formulas.

With K = P/UA, a = on - To, b = off - To, tau = C/UA and dead time L, the exponential
response gives the limit cycle exactly (elementary):
  peak = To + K - (K - b) exp(-L/tau)          trough = To + a exp(-L/tau)
  t_on = L + tau ln((K - (trough - To))/(K - b))    t_off = L + tau ln((peak - To)/a)
The loop below is a plain one over the model; the keeper's own thermostat has its tests.
"""

import math
from collections import deque
from typing import NamedTuple

import pytest

from greenkeeper.house.model import advance
from greenkeeper.house.weather import Surroundings
from tests.support import tables
from tests.support.houses import BARE, uniform

POWER_W, ON_C, OFF_C = 2000.0, 5.0, 6.0
RISE_K = POWER_W / BARE.loss_w_per_k
TAU_S = BARE.air_j_per_k / BARE.loss_w_per_k


class Cycle(NamedTuple):
    peak_c: float
    trough_c: float
    on_s: float
    off_s: float

    @property
    def period_s(self) -> float:
        return self.on_s + self.off_s

    @property
    def duty(self) -> float:
        return self.on_s / self.period_s

    @property
    def cycles_per_h(self) -> float:
        return 3600.0 / self.period_s


def _by_formula(outdoor_c: float, dead_s: float, on_c: float = ON_C, off_c: float = OFF_C) -> Cycle:
    a, b, decay = on_c - outdoor_c, off_c - outdoor_c, math.exp(-dead_s / TAU_S)
    peak_k, trough_k = RISE_K - (RISE_K - b) * decay, a * decay
    on_s = dead_s + TAU_S * math.log((RISE_K - trough_k) / (RISE_K - b))
    off_s = dead_s + TAU_S * math.log(peak_k / a)
    return Cycle(outdoor_c + peak_k, outdoor_c + trough_k, on_s, off_s)


def _by_model(
    outdoor_c: float, dead_s: float, on_c: float = ON_C, off_c: float = OFF_C, step_s: float = 0.5
) -> Cycle:
    """The third cycle of a thermostat whose switchings reach the house dead_s later."""
    state, around = uniform((on_c + off_c) / 2.0), Surroundings(outdoor_c, 0.0)
    on, under_way = False, deque([False] * round(dead_s / step_s))
    starts: list[int] = []
    seen: list[tuple[float, bool]] = []
    while len(starts) < 4:
        wanted = state.air_c <= on_c or (on and state.air_c < off_c)
        if wanted and not on:
            starts.append(len(seen))
        on = wanted
        under_way.append(on)
        seen.append((state.air_c, on))
        state = advance(BARE, state, around, POWER_W * under_way.popleft(), False, step_s)
    cycle = seen[starts[2] : starts[3]]
    on_s = step_s * sum(on for _, on in cycle)
    temps_c = [temp_c for temp_c, _ in cycle]
    return Cycle(max(temps_c), min(temps_c), on_s, step_s * len(cycle) - on_s)


ROWS = tables.rows("on_off_limit_cycle")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['outdoor_c']}-{row['dead_s']}")
def test_formulas_give_the_computed_table(row: dict[str, str]) -> None:
    cycle = _by_formula(float(row["outdoor_c"]), float(row["dead_s"]))
    assert cycle.peak_c == pytest.approx(float(row["peak_c"]), abs=0.0006)
    assert cycle.trough_c == pytest.approx(float(row["trough_c"]), abs=0.0006)
    assert cycle.on_s == pytest.approx(float(row["on_s"]), abs=0.06)
    assert cycle.off_s == pytest.approx(float(row["off_s"]), abs=0.06)
    assert cycle.period_s == pytest.approx(float(row["period_s"]), abs=0.06)
    assert cycle.duty == pytest.approx(float(row["duty"]), abs=0.0006)
    assert cycle.cycles_per_h == pytest.approx(float(row["cycles_per_h"]), abs=0.006)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['outdoor_c']}-{row['dead_s']}")
def test_the_model_cycles_as_the_formulas_say(row: dict[str, str]) -> None:
    outdoor_c, dead_s = float(row["outdoor_c"]), float(row["dead_s"])
    cycle, expected = _by_model(outdoor_c, dead_s), _by_formula(outdoor_c, dead_s)
    assert cycle.peak_c == pytest.approx(expected.peak_c, abs=0.01)
    assert cycle.trough_c == pytest.approx(expected.trough_c, abs=0.01)
    assert cycle.period_s == pytest.approx(expected.period_s, rel=0.004)
    assert cycle.duty == pytest.approx(expected.duty, abs=0.004)


@pytest.mark.parametrize("row", tables.rows("duty_rate"), ids=lambda row: row["duty"])
def test_switchings_per_hour_follow_the_duty_parabola_loosely(row: dict[str, str]) -> None:
    duty = float(row["duty"])
    middle_c = (ON_C + OFF_C) / 2.0
    cycle = _by_model(middle_c - duty * RISE_K, dead_s=120.0)
    most = _by_model(middle_c - 0.5 * RISE_K, dead_s=120.0).cycles_per_h
    expected = float(row["cycles_per_h"]) / 6.0
    within = 0.10 if 0.2 < duty < 0.8 else 0.30
    assert cycle.duty == pytest.approx(duty, abs=0.03)
    assert cycle.cycles_per_h / most == pytest.approx(expected, rel=within)


@pytest.mark.parametrize("row", tables.rows("symmetric_relay"), ids=lambda row: row["dead_by_tau"])
def test_a_relay_without_a_band_swings_as_the_textbooks_say(row: dict[str, str]) -> None:
    """Half the heater's power balances the loss, so that it works as far up as it rests down."""
    dead_s = float(row["dead_by_tau"]) * TAU_S
    step_k = RISE_K / 2.0  # what the textbooks call K d
    outdoor_c = ON_C - step_k
    for cycle in (
        _by_formula(outdoor_c, dead_s, ON_C, ON_C),
        _by_model(outdoor_c, dead_s, ON_C, ON_C, step_s=dead_s / 400.0),
    ):
        amplitude = float(row["amplitude_by_step"])
        assert (cycle.peak_c - ON_C) / step_k == pytest.approx(amplitude, abs=0.003)
        assert (ON_C - cycle.trough_c) / step_k == pytest.approx(amplitude, abs=0.003)
        assert cycle.period_s / TAU_S == pytest.approx(float(row["period_by_tau"]), rel=0.01)
        assert cycle.duty == pytest.approx(0.5, abs=0.01)
