"""What a fan takes out of the modelled house, against the balance and rules that are published.

The program sizes no fan. What is held here is that the model's own (fan_w_per_k) does in it
what air of that amount does, and that the default one is a fan somebody would have bought.
"""

import pytest

from greenkeeper.house.envelope import envelope
from greenkeeper.house.model import Parameters, State, advance
from greenkeeper.house.weather import Surroundings
from greenkeeper.settings.house import House
from tests.support import tables

J_PER_M3_K = 1.2 * 1006.0
M3_S_PER_CFM = 0.4719e-3
M2_PER_FT2 = 0.09290304

# Thermal balance of ventilation, V = tau f A I / (rho c dT): 3.6 x 2.4 m of floor under
# 800 W/m2, 0.7 of it let in, half of that felt as warmth, 5 K above outside. Worked by hand.
FLOOR_M2, SUN_W_M2, LET_IN, FELT, RISE_K = 3.6 * 2.4, 800.0, 0.7, 0.5, 5.0
FLOW_M3_S = 0.401


def rise_k(
    fan_w_per_k: float, floor_m2: float = FLOOR_M2, let_in_w_m2: float = SUN_W_M2 * LET_IN
) -> float:
    """How far a house that loses by its fan alone stands above outside, in that sun."""
    house = Parameters(
        loss_w_per_k=1e-6, air_j_per_k=90e3, mass_j_per_k=1e6, mass_w_per_k=200.0,
        element_lag_s=0.0, probe_lag_s=0.0, sun_m2=floor_m2 * FELT,
        fan_w_per_k=fan_w_per_k, ridge_k_per_w=0.0,
    )  # fmt: skip
    around = Surroundings(20.0, let_in_w_m2)
    ends = advance(house, State(0.0, 20.0, 20.0, 20.0, 0.0, 20.0), around, 0.0, True, 30 * 86_400.0)
    return ends.air_c - 20.0


def test_the_published_flow_holds_the_published_rise() -> None:
    assert pytest.approx(1443.0, abs=1.0) == FLOW_M3_S * 3600.0
    assert rise_k(FLOW_M3_S * J_PER_M3_K) == pytest.approx(RISE_K, rel=0.002)


def test_half_the_fan_is_twice_the_rise() -> None:
    assert rise_k(0.5 * FLOW_M3_S * J_PER_M3_K) == pytest.approx(2.0 * RISE_K, rel=0.002)


@pytest.mark.parametrize("row", tables.rows("ventilation"), ids=lambda row: row["source"])
def test_the_rules_give_what_was_published(row: dict[str, str]) -> None:
    if row["volume_ft3"]:
        assert 1.5 * float(row["volume_ft3"]) == pytest.approx(float(row["cfm"]))
        return
    floor_ft2 = float(row["length_ft"]) * float(row["width_ft"])
    cfm = floor_ft2 * float(row["cfm_per_ft2"]) * (1.0 - float(row["shade"]))
    assert cfm == pytest.approx(float(row["cfm"]), rel=0.01 if row["source"] == "pine95" else 0.0)


# The factor method (NGMA, ASHRAE: from memory): 8 cfm for each ft2, times the larger of two.
# One is 1 at sea level for 5,000 foot-candles inside and 7 °F of rise; the other, for air that
# must move fast enough to reach the far end, is 10 / sqrt(feet from inlet to fan).
FACTOR_FLOOR_FT2, FACTOR_RUN_FT, FACTOR_RISE_F = 20.0 * 50.0, 50.0, 7.0
FACTOR_CFM = 11_314.0  # worked by hand
# 5,000 lm/ft2 of daylight, of which a watt is some 110 lm (common practice).
FACTOR_LET_IN_W_M2 = 5000.0 / M2_PER_FT2 / 110.0


def test_the_factor_methods_fan_keeps_the_rise_it_is_made_for() -> None:
    """The rule counts less of the light as warmth than the half of the balance above, so its
    bare 8 cfm for each ft2 let the model rise a little further than 7 °F."""
    by_light_cfm = 8.0 * FACTOR_FLOOR_FT2
    assert by_light_cfm * max(1.0, 10.0 / FACTOR_RUN_FT**0.5) == pytest.approx(FACTOR_CFM, abs=0.5)
    floor_m2 = FACTOR_FLOOR_FT2 * M2_PER_FT2
    by_light_f, chosen_f = (
        1.8 * rise_k(cfm * M3_S_PER_CFM * J_PER_M3_K, floor_m2, FACTOR_LET_IN_W_M2)
        for cfm in (by_light_cfm, FACTOR_CFM)
    )
    assert FACTOR_RISE_F <= by_light_f <= 1.35 * FACTOR_RISE_F
    assert chosen_f <= FACTOR_RISE_F


def test_the_default_houses_fan_lies_between_the_rules() -> None:
    """8 cfm for each ft2 of floor is for large houses, 12 for small ones; beyond 0.05 m3/(s m2)
    more air gains little (Willits 2003)."""
    house = House()
    floor_m2 = house.length_m * house.width_m
    moved_m3_s_m2 = house.fan_w_per_k / J_PER_M3_K / floor_m2
    rules = [
        float(row["cfm_per_ft2"]) * M3_S_PER_CFM / M2_PER_FT2
        for row in tables.rows("ventilation")
        if row["cfm_per_ft2"]
    ]
    assert min(rules) <= moved_m3_s_m2 <= max(rules)
    assert moved_m3_s_m2 <= 0.05


def test_the_default_houses_open_vent_changes_its_air_as_a_fifth_of_the_floor_does() -> None:
    """RHS: roof vents of 20 % of the floor make about thirty changes an hour in larger houses;
    small ones need more in proportion. Half to three times that is the same thing here."""
    house = House()
    changes_per_h = house.vent_w_per_k / J_PER_M3_K * 3600.0 / envelope(house).volume_m3
    assert 15.0 <= changes_per_h <= 90.0
