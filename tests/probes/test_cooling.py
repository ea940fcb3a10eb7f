"""A probe's lag from its own cooling: Newton's law, in steps, with a hand and draughts."""

import math

import pytest

from greenkeeper.probes.cooling import Finding, Standing, finding
from greenkeeper.probes.sample import Sample

AIR_C, HAND_C = 14.0, 31.0
WAITED_S, HELD_S = 20.0, 90.0


def step(temp_c: float) -> float:
    return round(temp_c * 16.0) / 16.0


def lived(
    lag_s: float, seconds: float, *, hand_c: float = HAND_C, drift_k_per_s: float = 0.0
) -> list[Sample]:
    """A probe that hangs, is held in a hand, and is let go; each reading in steps of 12 bits."""
    found, probe_c = [], AIR_C
    for second in range(int(seconds)):
        held = WAITED_S <= second < WAITED_S + HELD_S
        around_c = hand_c if held else AIR_C + drift_k_per_s * max(0.0, second - WAITED_S - HELD_S)
        # In the hand it follows six times as quickly: skin touches, air does not.
        probe_c = around_c + (probe_c - around_c) * math.exp(
            -1.0 / (lag_s / 6.0 if held else lag_s)
        )
        if second % 2 == 0:
            found.append(Sample(1000.0 + second, step(probe_c)))
    return found


@pytest.mark.parametrize("lag_s", [40.0, 95.0, 180.0, 300.0])
def test_the_lag_is_found_from_steps_of_a_sixteenth(lag_s: float) -> None:
    found = finding(lived(lag_s, WAITED_S + HELD_S + 2.0 * lag_s))
    assert found.standing is Standing.DONE
    assert found.lag_s == pytest.approx(lag_s, rel=0.06)


def test_it_says_how_far_it_is() -> None:
    whole = lived(120.0, 600.0)

    def by(seconds: float) -> Finding:
        return finding([each for each in whole if each.mono_s <= 1000.0 + seconds])

    assert by(2.0).standing is Standing.SILENT
    assert by(18.0).standing is Standing.COLD
    assert by(100.0).standing is Standing.WARM
    halfway = by(WAITED_S + HELD_S + 60.0)
    assert halfway.standing is Standing.COOLING
    assert 0.3 < halfway.share < 0.7
    assert halfway.lag_s is None
    assert by(599.0).standing is Standing.DONE


def test_a_hand_that_hardly_warms_it_is_not_enough() -> None:
    assert finding(lived(120.0, 900.0, hand_c=20.0)).standing is Standing.COLD


def test_what_was_touched_again_is_no_measure() -> None:
    whole = lived(120.0, 600.0)
    touched = [
        each._replace(temp_c=each.temp_c + 4.0) if 1160.0 < each.mono_s < 1200.0 else each
        for each in whole
    ]
    assert finding(touched).standing is Standing.ROUGH


def test_air_that_changed_meanwhile_is_no_measure() -> None:
    drifting = lived(120.0, 900.0, drift_k_per_s=-0.03)
    assert finding(drifting).standing is Standing.ROUGH


def test_it_comes_close_through_noise_and_a_slow_change_of_the_air() -> None:
    noisy = [
        each._replace(temp_c=each.temp_c + (0.06 if at % 3 else -0.12))
        for at, each in enumerate(lived(120.0, 500.0, drift_k_per_s=0.001))
    ]
    found = finding(noisy)
    assert found.lag_s == pytest.approx(120.0, rel=0.2)
