"""What must hold for every house, in every state and weather."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.house.model import Parameters, State, advance, settled
from greenkeeper.house.weather import Surroundings
from greenkeeper.settings.house import House
from tests.support.houses import BARE, PARAMETERS, STATES, SURROUNDINGS, TEMPERATURES, uniform

POWERS = st.floats(0.0, 3000.0)
DEFAULT = Parameters.from_settings(House())


def _close(state: State, other: State, within: float = 1e-9) -> bool:
    return all(
        abs(a - b) <= within * max(1.0, abs(a), abs(b)) for a, b in zip(state, other, strict=True)
    )


@settings(deadline=None, max_examples=150)
@given(PARAMETERS, STATES, SURROUNDINGS, POWERS, st.booleans())
def test_six_short_steps_are_one_long_step(
    p: Parameters, state: State, around: Surroundings, power_w: float, fan_on: bool
) -> None:
    stepped = state
    for _ in range(6):
        stepped = advance(p, stepped, around, power_w, fan_on, 10.0)
    assert _close(stepped, advance(p, state, around, power_w, fan_on, 60.0))


@settings(deadline=None, max_examples=100)
@given(PARAMETERS, STATES, SURROUNDINGS, POWERS, st.floats(0.001, 7200.0), st.floats(0.001, 7200.0))
def test_any_two_steps_are_one_step_of_their_sum(
    p: Parameters,
    state: State,
    around: Surroundings,
    power_w: float,
    first_s: float,
    second_s: float,
) -> None:
    halfway = advance(p, state, around, power_w, False, first_s)
    apart = advance(p, halfway, around, power_w, False, second_s)
    assert _close(apart, advance(p, state, around, power_w, False, first_s + second_s))


@settings(deadline=None, max_examples=150)
@given(PARAMETERS, STATES, TEMPERATURES, st.booleans(), st.floats(0.001, 1e5))
def test_without_heat_and_sun_no_temperature_leaves_the_range_it_came_from(
    p: Parameters, state: State, outdoor_c: float, fan_on: bool, dt_s: float
) -> None:
    state = state._replace(element_w=0.0, ridge_above_k=0.0)
    # The fan brings in outside air: outside is within the range anyway.
    known = (state.air_c, state.mass_c, state.bench_c, state.outdoor_probe_c, outdoor_c)
    later = advance(p, state, Surroundings(outdoor_c, 0.0), 0.0, fan_on, dt_s)
    for temp_c in (later.air_c, later.mass_c, later.bench_c, later.outdoor_probe_c):
        assert min(known) - 1e-8 <= temp_c <= max(known) + 1e-8  # sums of weights are rounded


@settings(deadline=None, max_examples=150)
@given(
    PARAMETERS, STATES, SURROUNDINGS, st.floats(0.0, 10.0), POWERS, POWERS, st.floats(0.001, 1e5)
)
def test_hotter_outside_or_more_heat_never_gives_colder_inside(
    p: Parameters,
    state: State,
    around: Surroundings,
    hotter_k: float,
    power_w: float,
    more_w: float,
    dt_s: float,
) -> None:
    before = advance(p, state, around, power_w, False, dt_s)
    hotter = around._replace(outdoor_c=around.outdoor_c + hotter_k)
    after = advance(p, state, hotter, power_w + more_w, False, dt_s)
    for a, b in zip(before, after, strict=True):
        assert b >= a - 1e-9


@settings(deadline=None, max_examples=60)
@given(PARAMETERS, SURROUNDINGS)
def test_a_settled_house_stays_as_it_is(p: Parameters, around: Surroundings) -> None:
    state = settled(p, around)
    assert _close(state, advance(p, state, around, 0.0, False, 3600.0))


@settings(deadline=None, max_examples=60)
@given(PARAMETERS, TEMPERATURES, POWERS)
def test_steady_heat_ends_at_outside_plus_heat_over_loss(
    p: Parameters, outdoor_c: float, power_w: float
) -> None:
    slowest_s = (p.air_j_per_k + p.mass_j_per_k) * (1.0 / p.loss_w_per_k + 1.0 / p.mass_w_per_k)
    long_s = 30.0 * (slowest_s + p.element_lag_s + p.probe_lag_s)
    held = advance(p, uniform(outdoor_c), Surroundings(outdoor_c, 0.0), power_w, False, long_s)
    rise_k = power_w / p.loss_w_per_k
    assert held.air_c == pytest.approx(outdoor_c + rise_k, rel=1e-6, abs=1e-6)
    assert held.mass_c == pytest.approx(outdoor_c + rise_k, rel=1e-6, abs=1e-6)
    assert held.ridge_c - held.bench_c == pytest.approx(
        p.ridge_k_per_w * power_w, rel=1e-6, abs=1e-6
    )


@settings(deadline=None, max_examples=12)
@given(
    PARAMETERS,
    STATES,
    st.lists(st.tuples(SURROUNDINGS, POWERS, st.booleans()), min_size=2, max_size=4),
)
def test_energy_balance_closes(
    p: Parameters, state: State, stretches: list[tuple[Surroundings, float, bool]]
) -> None:
    """Heat in = heat lost + heat stored in element, air and mass.

    The loss is the one term the model does not state: it is summed by Simpson's rule.
    """
    most_w_per_k = p.loss_w_per_k + p.fan_w_per_k + p.mass_w_per_k
    first, steps = state, 240
    step_s = min(5.0, 0.25 * p.air_j_per_k / most_w_per_k)  # fine enough for Simpson's rule
    in_j = lost_j = turnover_j = 0.0
    for around, power_w, fan_on in stretches:
        loss = p.loss_w_per_k + (p.fan_w_per_k if fan_on else 0.0)
        above_k = [state.air_c - around.outdoor_c]
        for _ in range(steps):
            state = advance(p, state, around, power_w, fan_on, step_s)
            above_k.append(state.air_c - around.outdoor_c)
        simpson_k = above_k[0] + 4.0 * sum(above_k[1::2]) + 2.0 * sum(above_k[2:-1:2]) + above_k[-1]
        lost_j += loss * simpson_k * step_s / 3.0
        in_j += (power_w + p.sun_m2 * around.sun_w_m2) * step_s * steps
        turnover_j += loss * sum(abs(k) for k in above_k) * step_s
    stored_j = (
        p.element_lag_s * (state.element_w - first.element_w)
        + p.air_j_per_k * (state.air_c - first.air_c)
        + p.mass_j_per_k * (state.mass_c - first.mass_c)
    )
    assert in_j == pytest.approx(lost_j + stored_j, abs=1e-4 * (in_j + turnover_j) + 1e-3)


def test_no_time_changes_nothing() -> None:
    state = State(700.0, 4.0, 6.0, 4.5, 0.4, -3.0)
    assert advance(DEFAULT, state, Surroundings(-5.0, 200.0), 1200.0, True, 0.0) == state


def test_time_never_runs_backwards() -> None:
    with pytest.raises(ValueError, match="backwards"):
        advance(DEFAULT, uniform(0.0), Surroundings(0.0, 0.0), 0.0, False, -1.0)


def test_a_house_that_cannot_settle_is_refused() -> None:
    with pytest.raises(ValueError, match="settles"):
        settled(BARE, Surroundings(0.0, 0.0))


def test_without_lags_everything_follows_at_once() -> None:
    p = DEFAULT._replace(element_lag_s=0.0, probe_lag_s=0.0)
    power_w = 20.0 * p.loss_w_per_k  # holds the house 20 K above outside
    later = advance(p, uniform(5.0), Surroundings(-5.0, 0.0), power_w, False, 10.0)
    assert later.element_w == power_w
    assert later.bench_c == later.air_c
    assert later.outdoor_probe_c == -5.0
    assert later.ridge_above_k == pytest.approx(1.0)


def test_a_vanishing_lag_is_nearly_none() -> None:
    """The two ways of following, at once and very soon, meet."""
    around = Surroundings(-5.0, 150.0)
    soon = DEFAULT._replace(element_lag_s=0.1, probe_lag_s=0.1)
    at_once = DEFAULT._replace(element_lag_s=0.0, probe_lag_s=0.0)
    for dt_s in (10.0, 600.0):
        a = advance(soon, uniform(5.0), around, 1000.0, False, dt_s)
        b = advance(at_once, uniform(5.0), around, 1000.0, False, dt_s)
        assert _close(a, b, within=3e-3)


def test_the_element_keeps_giving_heat_after_it_is_off() -> None:
    p = DEFAULT
    hot = advance(p, uniform(5.0), Surroundings(5.0, 0.0), 1200.0, False, 600.0)
    after = advance(p, hot, Surroundings(5.0, 0.0), 0.0, False, 30.0)
    assert after.element_w > 0.7 * hot.element_w
    assert after.air_c > hot.air_c


def test_the_probe_runs_behind_the_air() -> None:
    warming = advance(DEFAULT, uniform(5.0), Surroundings(5.0, 0.0), 1200.0, False, 300.0)
    assert 5.0 < warming.bench_c < warming.air_c


def test_winter_sun_warms_the_house_by_some_degrees_within_hours() -> None:
    """300 W/m2 is a bright winter noon. An unheated small house then runs 5 to 15 K up:
    common practice, no source."""
    dull = advance(DEFAULT, uniform(5.0), Surroundings(5.0, 0.0), 0.0, False, 3 * 3600.0)
    bright = advance(DEFAULT, uniform(5.0), Surroundings(5.0, 300.0), 0.0, False, 3 * 3600.0)
    assert dull.air_c == pytest.approx(5.0)
    assert 3.0 < bright.air_c - dull.air_c < 15.0


def test_the_fan_brings_the_house_towards_outside() -> None:
    hot = settled(DEFAULT, Surroundings(18.0, 700.0))
    still = advance(DEFAULT, hot, Surroundings(18.0, 700.0), 0.0, False, 1800.0)
    aired = advance(DEFAULT, hot, Surroundings(18.0, 700.0), 0.0, True, 1800.0)
    assert still.air_c > 35.0
    assert 18.0 < aired.air_c < still.air_c - 8.0


def test_settings_become_si_units() -> None:
    house = House(
        length_m=3.0, width_m=2.0, sun_share=0.5, air_kj_per_k=80.0, mass_kj_per_k=900.0,
        loss_w_per_k=60.0, ridge_k=1.2, element_lag_s=0.04,
    )  # fmt: skip
    p = Parameters.from_settings(house)
    assert p.sun_m2 == 3.0
    assert (p.air_j_per_k, p.mass_j_per_k) == (80e3, 900e3)
    assert p.ridge_k_per_w * 60.0 * 20.0 == pytest.approx(1.2)  # at heat for 20 K
    assert p.element_lag_s == 0.0
