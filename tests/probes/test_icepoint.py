"""At rest in ice, or not: and what a probe's offset then is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.probes.icepoint import FEWEST, STEADY_S, Finding, Standing, finding
from greenkeeper.probes.sample import Sample

STEP_K = 1 / 16


def after(*temps: float, every_s: float = 10.0) -> Finding:
    """How a probe stands that has said these, one after the other."""
    samples = [Sample(number * every_s, temp_c) for number, temp_c in enumerate(temps)]
    return finding(samples, (len(temps) - 1) * every_s)


def test_nothing_read_yet_is_silent():
    assert finding([], 0.0) == Finding(Standing.SILENT, None, None, None, 0.0)


@pytest.mark.parametrize(("more", "standing"), [(0, Standing.UNSTEADY), (1, Standing.SOUND)])
def test_it_must_have_rested_for_the_whole_time(more, standing):
    assert after(*[-0.1875] * (12 + more)).standing is standing


@pytest.mark.parametrize(
    ("other_c", "standing"),
    [
        (STEP_K, Standing.SOUND),
        (2 * STEP_K, Standing.SOUND),
        (3 * STEP_K, Standing.UNSTEADY),
        (-3 * STEP_K, Standing.UNSTEADY),
    ],
)
def test_it_rests_while_it_moves_by_no_more_than_two_steps(other_c, standing):
    assert after(*[0.0] * 7, other_c, *[0.0] * 6).standing is standing


def test_what_it_said_on_its_way_into_the_ice_does_not_count():
    result = after(18.0, 9.0, 4.0, 2.0, 1.0, 0.5, *[-0.25] * 14)
    assert (result.standing, result.mean_c, result.offset_k) == (Standing.SOUND, -0.25, 0.25)
    assert (result.lowest_c, result.highest_c) == (-0.25, -0.25)


def test_a_slow_creep_is_no_rest():
    creeping = [1.0 - number * STEP_K / 2 for number in range(30)]
    assert after(*creeping).standing is Standing.UNSTEADY


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(
    ("size_k", "standing"),
    [
        (0.5 - STEP_K, Standing.SOUND),
        (0.5, Standing.SOUND),
        (0.5 + STEP_K, Standing.OFF),
        (4.0 - STEP_K, Standing.OFF),
        (4.0, Standing.OFF),
        (4.0 + STEP_K, Standing.NOT_ICE),
        (21.0, Standing.NOT_ICE),
    ],
)
def test_sound_off_or_no_ice(sign, size_k, standing):
    result = after(*[sign * size_k] * 13)
    assert result.standing is standing
    given_k = None if standing is Standing.NOT_ICE else pytest.approx(-sign * size_k, abs=0.005)
    assert result.offset_k == given_k


def test_an_offset_is_rounded_to_a_hundredth_and_never_minus_zero():
    assert after(*[-0.1875] * 13).offset_k == 0.19
    assert str(after(*[0.0] * 13).offset_k) == "0.0"
    # Ten of 13 in the last two minutes at 1/16, the rest at 0: a mean of 0.048.
    assert after(*[STEP_K] * 10, 0.0, 0.0, 0.0).offset_k == -0.05


def test_a_probe_that_stopped_answering_is_silent_though_it_had_rested():
    samples = [Sample(10.0 * number, 0.0) for number in range(13)]
    assert finding(samples, 120.0).standing is Standing.SOUND
    assert finding(samples, 120.0 + STEADY_S).standing is Standing.SILENT


@pytest.mark.parametrize(
    ("readings", "standing"), [(FEWEST - 1, Standing.SILENT), (FEWEST, Standing.SOUND)]
)
def test_few_readings_prove_nothing(readings, standing):
    assert after(*[0.0] * readings, every_s=STEADY_S / (readings - 1)).standing is standing


def test_a_coarse_probe_may_stand_on_the_edge_of_a_step():
    samples = [Sample(10.0 * number, 0.5 * (number % 2)) for number in range(14)]
    assert finding(samples, 130.0, step_k=0.5).standing is Standing.SOUND
    assert finding(samples, 130.0).standing is Standing.UNSTEADY


temps = st.one_of(st.sampled_from([0.0, STEP_K, -STEP_K, -2.0, 12.0]), st.floats(-55.0, 125.0))


@given(st.lists(st.tuples(st.floats(0.0, 60.0), temps), max_size=40), st.floats(0.0, 300.0))
def test_an_offset_is_given_only_to_what_rests_near_ice(course, quiet_s):
    samples, now_s = [], 0.0
    for after_s, temp_c in course:
        now_s += after_s
        samples.append(Sample(now_s, temp_c))
    result = finding(samples, now_s + quiet_s)
    assert result.steady_s >= 0.0
    if result.offset_k is not None:
        assert result.at_rest
        assert result.lowest_c is not None
        assert result.highest_c is not None
        assert result.highest_c - result.lowest_c <= 0.125
        assert abs(result.offset_k) <= 4.0
