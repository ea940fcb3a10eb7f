"""Hysteresis at one sensor step below, at and above each switching point."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.control.thermostat import call_for_cooling, call_for_heat

STEP_K = 1 / 16


@pytest.mark.parametrize(
    ("temp_c", "was_on", "on"),
    [
        (5.0 - STEP_K, False, True),
        (5.0, False, True),
        (5.0 + STEP_K, False, False),
        (5.0 + STEP_K, True, True),
        (5.5 - STEP_K, True, True),
        (5.5, True, False),
        (5.5 + STEP_K, True, False),
    ],
)
def test_heat_is_on_at_the_setpoint_and_off_a_hysteresis_above(temp_c, was_on, on):
    assert call_for_heat(temp_c, "p", 5.0, 0.5, was_on).on is on


@pytest.mark.parametrize(
    ("temp_c", "was_on", "on"),
    [
        (26.0 + STEP_K, False, True),
        (26.0, False, True),
        (26.0 - STEP_K, False, False),
        (26.0 - STEP_K, True, True),
        (24.5 + STEP_K, True, True),
        (24.5, True, False),
        (24.5 - STEP_K, True, False),
    ],
)
def test_cooling_is_on_at_the_setpoint_and_off_a_hysteresis_below(temp_c, was_on, on):
    assert call_for_cooling(temp_c, "p", 26.0, 1.5, was_on).on is on


def test_the_reason_is_what_a_grower_would_say():
    assert call_for_heat(4.9, "bench-left", 5.0, 0.5, False).reason == (
        "bench-left 4.9 °C is at or below 5.0 °C"
    )
    assert call_for_heat(5.2, "bench-left", 5.0, 0.5, True).reason == (
        "bench-left 5.2 °C, warming to 5.5 °C"
    )
    assert call_for_cooling(27.0, "ridge", 26.0, 1.5, False).reason == (
        "ridge 27.0 °C is at or above 26.0 °C"
    )


@given(st.floats(-30, 60), st.floats(-10, 35), st.floats(0.1, 5), st.booleans(), st.floats(0.5, 20))
def test_heat_and_cooling_never_both_call_when_the_deadband_lies_between(
    temp_c, setpoint_c, hysteresis_k, was_on, gap_k
):
    cool_c = setpoint_c + hysteresis_k + gap_k
    heat = call_for_heat(temp_c, "p", setpoint_c, hysteresis_k, was_on)
    cool = call_for_cooling(temp_c, "p", cool_c, gap_k, not was_on)
    assert not (heat.on and cool.on)
