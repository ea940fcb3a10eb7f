"""The parts a house may have besides air and mass: what they do, against an integrator and
against the balance of energy.

The right-hand side below shares no line with the rate matrix it checks.
"""

import math
from collections.abc import Sequence
from datetime import UTC, datetime
from random import Random

import pytest
import scipy.integrate
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.house.glass import Glass, Pane
from greenkeeper.house.model import State, follow, inputs_of, settled
from greenkeeper.house.network import Inputs, Parameters, weights
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.house.wax import Wax
from greenkeeper.house.weather import Surroundings
from greenkeeper.model import Now
from tests.support.houses import FURNISHED, STATES, SURROUNDINGS, uniform

# Invented: 3.6 x 2.4 m of glass, with barrels, an earth floor and a tent over one bench.
FULL = Parameters(
    loss_w_per_k=200.0,
    air_j_per_k=300e3,
    mass_j_per_k=900e3,
    mass_w_per_k=120.0,
    element_lag_s=150.0,
    probe_lag_s=90.0,
    sun_m2=6.0,
    fan_w_per_k=480.0,
    ridge_k_per_w=0.0004,
    vent_w_per_k=300.0,
    heat_to_air=0.9,
    sky_w_per_k=20.0,
    store_j_per_k=840e3,
    store_w_per_k=21.0,
    floor_j_per_k=5e6,
    floor_w_per_k=30.0,
    ground_w_per_k=9.0,
    tent_j_per_k=150e3,
    tent_w_per_k=12.0,
    tent_sun_share=0.1,
)
NIGHT = Surroundings(-6.0, 0.0, 1.0, sky_c=-22.0, ground_c=7.0)
MORNING = Surroundings(2.0, 250.0, 3.0, sky_c=-10.0, ground_c=7.0)


def stepped(p: Parameters, state: State, inputs: Inputs, dt_s: float, **switches: bool) -> State:
    step = weights(p, switches.get("fan_on", False), switches.get("stirred", False), dt_s)
    return follow(step, step.added(inputs), state)


def slopes(y: Sequence[float], p: Parameters, on: Inputs, fan_on: bool) -> list[float]:
    element, air, mass, bench, ridge, outdoor, store, floor, tent, tent_probe = y
    loss = p.loss_w_per_k + (p.fan_w_per_k if fan_on else 0.0)
    to_mass, to_store = p.mass_w_per_k * (air - mass), p.store_w_per_k * (air - store)
    to_floor, to_tent = p.floor_w_per_k * (air - floor), p.tent_w_per_k * (air - tent)
    open_sun = on.sun_w * (1.0 - p.tent_sun_share)
    into_air = (
        0.9 * element + 0.5 * open_sun + p.sky_w_per_k * on.sky_k - loss * (air - on.outdoor_c)
    )
    return [
        (on.power_w - element) / p.element_lag_s,
        (into_air - to_mass - to_store - to_floor - to_tent) / p.air_j_per_k,
        (to_mass + 0.5 * open_sun) / p.mass_j_per_k,
        (air - bench) / p.probe_lag_s,
        (p.ridge_k_per_w * element - ridge) / p.probe_lag_s,
        (on.outdoor_c - outdoor) / p.probe_lag_s,
        to_store / p.store_j_per_k,
        (to_floor - p.ground_w_per_k * (floor - on.ground_c)) / p.floor_j_per_k,
        (to_tent + on.tent_w + p.tent_sun_share * on.sun_w) / p.tent_j_per_k,
        (tent - tent_probe) / p.probe_lag_s,
    ]


@pytest.mark.parametrize("fan_on", [False, True])
@pytest.mark.parametrize("dt_s", [10.0, 600.0, 6 * 3600.0])
def test_a_full_house_agrees_with_scipys_integrator(fan_on: bool, dt_s: float) -> None:
    chance = Random(int(dt_s))
    state = State(*(chance.uniform(-5.0, 15.0) for _ in range(10)))
    inputs = inputs_of(FULL, MORNING, 1500.0, tent_w=60.0)
    run = scipy.integrate.solve_ivp(
        lambda _t, y: slopes(y, FULL, inputs, fan_on),
        (0.0, dt_s), list(state), method="LSODA", rtol=1e-11, atol=1e-11,
    )  # fmt: skip
    assert run.success
    found = stepped(FULL, state, inputs, dt_s, fan_on=fan_on)
    assert list(found) == pytest.approx([float(end) for end in run.y[:, -1]], abs=1e-6)


@settings(deadline=None, max_examples=20)
@given(FURNISHED, STATES, SURROUNDINGS, st.floats(0.0, 3000.0))
def test_six_short_steps_are_one_long_step(
    p: Parameters, state: State, around: Surroundings, power_w: float
) -> None:
    inputs, short = inputs_of(p, around, power_w, tent_w=50.0), state
    for _ in range(6):
        short = stepped(p, short, inputs, 10.0)
    long = stepped(p, state, inputs, 60.0)
    assert list(short) == pytest.approx(list(long), abs=1e-8, rel=1e-9)


@settings(deadline=None, max_examples=20)
@given(FURNISHED, SURROUNDINGS)
def test_a_settled_house_stays_as_it_is(p: Parameters, around: Surroundings) -> None:
    state = settled(p, around)
    later = stepped(p, state, inputs_of(p, around, 0.0), 3600.0)
    assert list(later) == pytest.approx(list(state), abs=1e-6, rel=1e-6)


def test_the_balance_of_energy_closes_to_a_thousandth() -> None:
    """A day and a night: heat in = heat stored + heat lost, each term from the states alone."""
    p, state, first = FULL, uniform(5.0), uniform(5.0)
    step_s, steps = 5.0, 4320
    in_j = out_j = 0.0
    for around, power_w, tent_w in ((NIGHT, 1500.0, 40.0), (MORNING, 0.0, 0.0)):
        inputs = inputs_of(p, around, power_w, tent_w=tent_w)
        for _ in range(steps):
            before, state = state, stepped(p, state, inputs, step_s)
            air_c = (before.air_c + state.air_c) / 2.0
            floor_c = (before.floor_c + state.floor_c) / 2.0
            element_w = (before.element_w + state.element_w) / 2.0
            in_j += step_s * (power_w + tent_w + inputs.sun_w)
            out_j += step_s * (
                p.loss_w_per_k * (air_c - around.outdoor_c)
                - p.sky_w_per_k * inputs.sky_k
                + (1.0 - p.heat_to_air) * element_w
                + p.ground_w_per_k * (floor_c - inputs.ground_c)
            )
    stored_j = sum(
        capacity * (after - before)
        for capacity, after, before in (
            (p.element_lag_s, state.element_w, first.element_w),
            (p.air_j_per_k, state.air_c, first.air_c),
            (p.mass_j_per_k, state.mass_c, first.mass_c),
            (p.store_j_per_k, state.store_c, first.store_c),
            (p.floor_j_per_k, state.floor_c, first.floor_c),
            (p.tent_j_per_k, state.tent_c, first.tent_c),
        )
    )
    assert in_j - out_j == pytest.approx(stored_j, abs=1e-3 * in_j)


# --- what each part is there for ------------------------------------------------------------


def night_through(p: Parameters, state: State, around: Surroundings, **switches: bool) -> State:
    return stepped(p, state, inputs_of(p, around, 0.0), 12 * 3600.0, **switches)


def test_water_holds_a_house_up_through_the_night() -> None:
    dry = night_through(FULL._replace(store_j_per_k=0.0), uniform(10.0), NIGHT)
    watered = night_through(FULL, uniform(10.0), NIGHT)
    assert watered.air_c > dry.air_c + 0.3


def test_warm_soil_holds_a_house_up_and_a_clear_sky_pulls_it_down() -> None:
    with_floor = night_through(FULL, uniform(8.0), NIGHT)
    assert (
        with_floor.air_c
        > night_through(FULL._replace(floor_j_per_k=0.0), uniform(8.0), NIGHT).air_c
    )
    overcast = night_through(FULL, uniform(8.0), NIGHT._replace(sky_c=-6.0))
    assert overcast.air_c > with_floor.air_c + 0.5


def test_under_a_clear_sky_an_unheated_house_can_be_colder_than_outside() -> None:
    """Growers know frost inside with none outside; a cover that sees a sky 16 K colder than
    the air explains it (common practice, no source)."""
    bare = FULL._replace(floor_j_per_k=0.0, store_j_per_k=0.0, tent_j_per_k=0.0)
    assert settled(bare, NIGHT).air_c < NIGHT.outdoor_c


def test_under_its_tent_a_bench_is_warmer_for_a_tenth_of_the_heat() -> None:
    inputs = inputs_of(FULL, NIGHT, 0.0, tent_w=150.0)
    held = stepped(FULL, uniform(5.0), inputs, 3 * 86_400.0)
    assert held.tent_c > held.air_c + 10.0
    assert pytest.approx(FULL.tent_w_per_k * (held.tent_c - held.air_c), rel=5e-3) == 150.0


def test_stirred_air_has_more_of_the_heat_and_less_of_a_warm_ridge() -> None:
    inputs = inputs_of(FULL, NIGHT, 1500.0)
    still = stepped(FULL, uniform(5.0), inputs, 7200.0)
    stirred = stepped(FULL, uniform(5.0), inputs, 7200.0, stirred=True)
    assert stirred.air_c > still.air_c
    assert stirred.ridge_above_k < 0.5 * still.ridge_above_k


def test_a_house_on_ground_wants_to_know_the_grounds_temperature() -> None:
    with pytest.raises(ValueError, match="ground's temperature"):
        inputs_of(FULL, Surroundings(0.0, 0.0), 0.0)


# --- wax, fan, summer -----------------------------------------------------------------------


def test_wax_is_shut_below_open_above_and_follows_late() -> None:
    wax = Wax(18.0, 26.0)
    assert [wax.opened(c) for c in (10.0, 18.0, 22.0, 26.0, 40.0)] == [0.0, 0.0, 0.5, 1.0, 1.0]
    later_c = wax.follow(10.0, 30.0, 900.0)
    assert later_c == pytest.approx(10.0 + 20.0 * (1.0 - math.exp(-1.0)))


class Fixed:
    def __init__(self, around: Surroundings) -> None:
        self._around = around

    def at(self, utc_s: float) -> Surroundings:
        return self._around


def summers_noon_c(p: Parameters, *, wax: Wax | None = None, fan: bool = False) -> float:
    """Air after four hours of a strong sun at 24 °C, above the outdoor air."""
    around = Surroundings(24.0, 800.0, 2.0)
    start = Now(0.0, 1.75e9, True)
    extra = {} if wax is None else {"wax": wax}
    house = SimulatedHouse(p, Fixed(around), start, state=uniform(24.0), **extra)
    house.set_fan(on=fan)
    house.advance_to(Now(4 * 3600.0, 1.75e9 + 4 * 3600.0, True))
    return house.state.air_c - 24.0


def test_a_summers_noon_is_believable_shut_with_wax_and_with_a_fan() -> None:
    """4.3 m2 of floor. Shut: far over 40 °C. With a fan of 0.05 m3/(s m2), about 5 K above
    outside are usual (Willits, Biosystems Eng. 84, 2003: more air than that gains little)."""
    p = Parameters(
        loss_w_per_k=55.0, air_j_per_k=90e3, mass_j_per_k=1.6e6, mass_w_per_k=80.0,
        element_lag_s=120.0, probe_lag_s=120.0, sun_m2=3.5, fan_w_per_k=260.0,
        ridge_k_per_w=0.0, vent_w_per_k=150.0,
    )  # fmt: skip
    shut_k, waxed_k, fanned_k = (
        summers_noon_c(p), summers_noon_c(p, wax=Wax(18.0, 26.0)), summers_noon_c(p, fan=True)
    )  # fmt: skip
    assert shut_k > 20.0
    assert 5.0 < waxed_k < 0.7 * shut_k
    assert 3.0 < fanned_k < 8.0


# --- sun through the panes ------------------------------------------------------------------

SOUTH_WALL = Pane(4.0, 0.85, 90.0, 180.0)
NORTH_WALL = SOUTH_WALL._replace(azimuth_deg=0.0)
ROOF = Pane(4.0, 0.85, 30.0, 180.0)
WINTER_NOON = datetime(2026, 1, 14, 11, 50, tzinfo=UTC).timestamp()
SUMMER_NOON = datetime(2026, 6, 21, 11, 45, tzinfo=UTC).timestamp()
CLEAR_WINTER = Surroundings(3.0, 260.0, diffuse_w_m2=60.0)
CLEAR_SUMMER = Surroundings(25.0, 860.0, diffuse_w_m2=110.0)


def sun_w(pane: Pane, around: Surroundings, utc_s: float) -> float:
    return Glass([pane], 6.0, 50.8, 4.4).sun_w(around, utc_s)


def test_a_south_wall_gathers_in_winter_and_a_roof_in_summer() -> None:
    assert sun_w(SOUTH_WALL, CLEAR_WINTER, WINTER_NOON) > 1.2 * sun_w(
        ROOF, CLEAR_WINTER, WINTER_NOON
    )
    assert sun_w(ROOF, CLEAR_SUMMER, SUMMER_NOON) > 1.8 * sun_w(
        SOUTH_WALL, CLEAR_SUMMER, SUMMER_NOON
    )
    assert sun_w(NORTH_WALL, CLEAR_WINTER, WINTER_NOON) < 0.25 * sun_w(
        SOUTH_WALL, CLEAR_WINTER, WINTER_NOON
    )


def test_a_panes_sun_stays_below_what_falls_on_it() -> None:
    for pane in (SOUTH_WALL, NORTH_WALL, ROOF):
        assert 0.0 < sun_w(pane, CLEAR_SUMMER, SUMMER_NOON) < pane.area_m2 * 1000.0


def test_a_small_house_all_of_glass_keeps_less_than_one_with_opaque_walls() -> None:
    """What comes in on one side leaves on the other: at noon, a small glass house
    has 0.3 to 1.2 of the level sun on its floor (common practice: "0.6 to 0.75 of outside",
    "0.5 to 0.9 of it as heat", and low sun through the walls)."""
    walls = [Pane(2.9, 0.8, 90.0, azimuth) for azimuth in (0.0, 90.0, 180.0, 270.0)]
    roofs = [Pane(2.6, 0.8, 34.0, azimuth) for azimuth in (0.0, 180.0)]
    floor_m2 = 4.32
    for around, noon in ((CLEAR_WINTER, WINTER_NOON), (CLEAR_SUMMER, SUMMER_NOON)):
        kept_w = Glass([*walls, *roofs], floor_m2, 50.8, 4.4).sun_w(around, noon)
        assert 0.3 < kept_w / (floor_m2 * around.sun_w_m2) < 1.2
    south_only = Glass([walls[2]], 2.5 * floor_m2, 50.8, 4.4)
    assert south_only.sun_w(CLEAR_WINTER, WINTER_NOON) > 0.5 * 2.9 * 0.8 * 500.0


def test_at_night_no_sun_comes_in() -> None:
    assert sun_w(ROOF, Surroundings(3.0, 0.0), WINTER_NOON - 43_200.0) == 0.0


def test_weather_that_does_not_tell_direct_from_diffuse_is_split() -> None:
    told = sun_w(SOUTH_WALL, CLEAR_WINTER, WINTER_NOON)
    guessed = sun_w(SOUTH_WALL, CLEAR_WINTER._replace(diffuse_w_m2=None), WINTER_NOON)
    assert guessed == pytest.approx(told, rel=0.35)
