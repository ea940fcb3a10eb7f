"""The year's wave in the soil, against published soil temperatures."""

import cmath
import math

import pytest

from greenkeeper.house import soil
from tests.support import tables

# The soil of that file: 2.3225760E-03 m2 an hour (its comment says a day, which no soil is),
# 0.0557 m2 a day; d = sqrt(2 a / omega).
DAMPING_M = math.sqrt(2.0 * 0.0557 * 365.0 / math.tau)
SLICES = 2000


def mean_down_to(depth_m: float) -> complex:
    """The wave as a complex factor on the surface's, averaged from there to this depth."""
    total = 0j
    for i in range(SLICES):
        share, later = soil.at_depth((i + 0.5) / SLICES * depth_m, DAMPING_M)
        total += cmath.rect(share, -later)
    return total / SLICES


def surface_wave(row: dict[str, str]) -> complex:
    """What the surface must do for the soil to be as this row says."""
    months = [float(row[name]) for name in list(row)[1:]]
    wave = sum(
        temp_c * cmath.exp(-1j * math.tau * (month + 0.5) / 12.0)
        for month, temp_c in enumerate(months)
    )
    return wave / 6.0 / mean_down_to(float(row["depth_m"]))


def test_soil_at_three_published_depths_belongs_to_one_surface() -> None:
    waves = [surface_wave(row) for row in tables.rows("soil_temperatures")]
    assert len(waves) == 3
    for wave in waves:
        assert abs(wave) == pytest.approx(abs(waves[0]), rel=0.02)
        assert cmath.phase(wave / waves[0]) / math.tau * 365.0 == pytest.approx(0.0, abs=2.0)


def test_the_surface_swings_as_was_worked_out_from_the_same_numbers() -> None:
    # 6.7 K, from the half-ranges of the three depths, by other means.
    for row in tables.rows("soil_temperatures"):
        assert abs(surface_wave(row)) == pytest.approx(6.7, abs=0.15)


@pytest.mark.parametrize(("spreads_m2_d", "damping_m"), [(0.0173, 1.42), (0.0432, 2.24)])
def test_a_damping_depth_down_a_third_is_left_two_months_later(
    spreads_m2_d: float, damping_m: float
) -> None:
    # Hillel 1982, as taught by Oklahoma State University; the depths worked by hand.
    assert math.sqrt(2.0 * spreads_m2_d * 365.0 / math.tau) == pytest.approx(damping_m, abs=0.005)
    share, later = soil.at_depth(damping_m, damping_m)
    assert share == pytest.approx(1.0 / math.e)
    assert later / math.tau * 12.0 == pytest.approx(1.91, abs=0.01)


def test_at_three_damping_depths_a_twentieth_is_left() -> None:
    assert soil.at_depth(3.0 * soil.YEAR_DAMPING_M).share == pytest.approx(0.05, abs=0.001)
