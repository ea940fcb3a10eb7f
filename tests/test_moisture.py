"""Moist air, against computed tables and an independent library."""

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper import moisture
from tests.support.tables import rows

TEMPS_C = st.floats(-40.0, 50.0)
RH_PCT = st.floats(1.0, 100.0)
TABLE = rows("moist_air")


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['temp_c']} C {row['rh_pct']} %")
def test_vapour_pressure_and_dew_point_agree_with_the_table(row: dict[str, str]) -> None:
    temp_c, rh_pct = float(row["temp_c"]), float(row["rh_pct"])
    assert moisture.saturation_hpa(temp_c) * rh_pct / 100.0 == pytest.approx(
        float(row["e_hpa"]), abs=5e-5
    )
    assert moisture.dew_point_c(temp_c, rh_pct) == pytest.approx(float(row["td_c"]), abs=5e-4)
    if row["psychrolib_td_c"]:
        expected_c = float(row["psychrolib_td_c"])
        assert moisture.dew_point_c(temp_c, rh_pct) == pytest.approx(expected_c, abs=0.06)


@pytest.mark.parametrize("temp_c", [1.0, 5.0, 12.0, 20.0, 35.0])
@pytest.mark.parametrize("rh_pct", [40.0, 70.0, 90.0, 100.0])
def test_the_dew_point_agrees_with_an_independent_library(temp_c: float, rh_pct: float) -> None:
    """psychrolib 2.5.0 (ASHRAE). Only dew points above 0 °C: below, it means frost points."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected_c = psychrolib.GetTDewPointFromRelHum(temp_c, rh_pct / 100.0)
    if expected_c > 0.0:
        assert moisture.dew_point_c(temp_c, rh_pct) == pytest.approx(expected_c, abs=0.06)


@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "water_g_m3"),
    [(5.0, 85.0, 5.772), (10.0, 90.0, 8.444), (20.0, 50.0, 8.621)],
)
def test_absolute_humidity_agrees_with_computed_values(
    temp_c: float, rh_pct: float, water_g_m3: float
) -> None:
    """216.679 e / T, worked out by hand from the table's vapour pressures."""
    assert moisture.water_g_m3(temp_c, rh_pct) == pytest.approx(water_g_m3, abs=0.0006)


@given(temp_c=TEMPS_C, rh_pct=RH_PCT)
def test_the_dew_point_is_where_this_vapour_saturates(temp_c: float, rh_pct: float) -> None:
    dew_c = moisture.dew_point_c(temp_c, rh_pct)
    assert dew_c <= temp_c + 1e-9
    assert moisture.saturation_hpa(dew_c) == pytest.approx(
        moisture.saturation_hpa(temp_c) * rh_pct / 100.0, rel=1e-9
    )


@given(temp_c=TEMPS_C, rh_pct=RH_PCT, warmer_k=st.floats(0.1, 10.0))
def test_damper_air_has_the_higher_dew_point_and_warmer_air_holds_more(
    temp_c: float, rh_pct: float, warmer_k: float
) -> None:
    assert moisture.dew_point_c(temp_c, rh_pct) <= moisture.dew_point_c(temp_c, 100.0) + 1e-9
    assert moisture.water_g_m3(temp_c + warmer_k, rh_pct) > moisture.water_g_m3(temp_c, rh_pct)


def test_bone_dry_air_has_a_dew_point_too() -> None:
    """A broken chip may say 0: no reading may end in a logarithm of nothing."""
    assert moisture.dew_point_c(20.0, 0.0) < -60.0
