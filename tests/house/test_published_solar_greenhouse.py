"""A published worked example, reproduced by the model in its single-mass limit.

Source: N. Pine's 8 x 16 ft house; see the head of tests/tables/solar_greenhouse_8x16.csv.
The example's air has no heat capacity, so the model's is made next to nothing.
"""

import math

import pytest

from greenkeeper.house.model import Parameters, State, advance, settled
from greenkeeper.house.weather import Surroundings
from tests.support import tables
from tests.support.houses import uniform

# 1 Btu is 1055.056 J (international table); 1 °F of difference is 5/9 K.
J_PER_BTU = 1055.056
W_PER_BTU_H = J_PER_BTU / 3600.0
W_PER_K = W_PER_BTU_H * 1.8  # per Btu/(h °F)
M2_PER_FT2 = 0.3048**2

GIVEN = tables.values("solar_greenhouse_8x16")
PARTS = ("film", "north", "ends")

HOUSE = Parameters(
    loss_w_per_k=sum(GIVEN[f"{part}_ft2"] / GIVEN[f"{part}_r"] for part in PARTS) * W_PER_K,
    air_j_per_k=100.0,
    mass_j_per_k=GIVEN["water_btu_per_f"] * J_PER_BTU * 1.8,
    mass_w_per_k=GIVEN["water_btu_per_h_f"] * W_PER_K,
    element_lag_s=0.0,
    probe_lag_s=0.0,
    sun_m2=GIVEN["south_ft2"] * M2_PER_FT2 * GIVEN["sun_transmission"],
    fan_w_per_k=0.0,
    ridge_k_per_w=0.0,
)
OUTDOOR_C = (GIVEN["outdoor_f"] - 32.0) / 1.8
NO_SUN = Surroundings(OUTDOOR_C, 0.0)
# While it shines.
SUN_W_M2 = GIVEN["sun_btu_per_ft2"] / GIVEN["sun_hours"] * W_PER_BTU_H / M2_PER_FT2


def _fahrenheit(celsius: float) -> float:
    return celsius * 1.8 + 32.0


def test_a_degree_costs_the_published_total() -> None:
    power_w = GIVEN["total_btu_per_h_f"] * W_PER_K
    held = advance(HOUSE, uniform(OUTDOOR_C), NO_SUN, power_w, False, 100 * 86400.0)
    total = power_w / (held.air_c - OUTDOOR_C) / W_PER_K
    assert total == pytest.approx(GIVEN["total_btu_per_h_f"], abs=0.5)


def test_sun_brings_the_published_power() -> None:
    held = settled(HOUSE, Surroundings(OUTDOOR_C, SUN_W_M2))
    sun_btu_per_h = (held.air_c - OUTDOOR_C) * HOUSE.loss_w_per_k / W_PER_BTU_H
    assert sun_btu_per_h == pytest.approx(GIVEN["sun_power_btu_per_h"], abs=0.5)


def test_without_mass_the_day_reaches_the_published_heat() -> None:
    no_mass = HOUSE._replace(mass_w_per_k=0.0)
    power_w = GIVEN["sun_power_btu_per_h"] * W_PER_BTU_H
    day = advance(no_mass, uniform(OUTDOOR_C), NO_SUN, power_w, False, 6 * 3600.0)
    assert _fahrenheit(day.air_c) == pytest.approx(GIVEN["no_mass_temperature_f"], abs=0.5)


def test_with_endless_mass_it_holds_the_published_mean() -> None:
    mean_sun_w_m2 = SUN_W_M2 * GIVEN["sun_hours"] / 24.0
    held = settled(HOUSE, Surroundings(OUTDOOR_C, mean_sun_w_m2))
    mean_btu_per_h = (held.air_c - OUTDOOR_C) * HOUSE.loss_w_per_k / W_PER_BTU_H
    assert mean_btu_per_h == pytest.approx(GIVEN["mean_sun_btu_per_h"], abs=0.5)
    assert _fahrenheit(held.air_c) == pytest.approx(GIVEN["endless_mass_temperature_f"], abs=0.5)


def test_water_cools_with_the_published_time_constant() -> None:
    first = advance(HOUSE, uniform(OUTDOOR_C + 10.0), NO_SUN, 0.0, False, 3600.0)
    later = advance(HOUSE, first, NO_SUN, 0.0, False, 3600.0)
    time_constant_h = -1.0 / math.log((later.mass_c - OUTDOOR_C) / (first.mass_c - OUTDOOR_C))
    series = GIVEN["water_btu_per_f"] / time_constant_h
    assert time_constant_h == pytest.approx(GIVEN["time_constant_h"], abs=0.5)
    assert series == pytest.approx(GIVEN["series_btu_per_h_f"], abs=0.5)


# The two drums as the model's water store, and of other mass next to none.
DRUMS = HOUSE._replace(
    mass_j_per_k=1.0,
    mass_w_per_k=0.01,
    store_j_per_k=HOUSE.mass_j_per_k,
    store_w_per_k=HOUSE.mass_w_per_k,
)


def sunny_day(state: State) -> tuple[State, State]:
    """At the end of the sun, and of the night after it. Sun in the example warms the air alone."""
    sun_s = GIVEN["sun_hours"] * 3600.0
    sun_w = GIVEN["sun_power_btu_per_h"] * W_PER_BTU_H
    evening = advance(DRUMS, state, NO_SUN, sun_w, False, sun_s)
    return evening, advance(DRUMS, evening, NO_SUN, 0.0, False, 86_400.0 - sun_s)


def test_two_drums_of_water_swing_through_the_published_day() -> None:
    morning = uniform(OUTDOOR_C)
    for _ in range(20):  # a day is 1.3 time constants
        evening, morning = sunny_day(morning)
    assert _fahrenheit(evening.air_c) == pytest.approx(GIVEN["air_peak_f"], abs=0.5)
    assert _fahrenheit(evening.store_c) == pytest.approx(GIVEN["water_high_f"], abs=0.5)
    assert _fahrenheit(morning.store_c) == pytest.approx(GIVEN["water_low_f"], abs=3.5)
