"""One step of the balance: exact for its bodies, and no energy lost or found."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.house.balance import Around, body, held

TEMPERATURES = st.floats(-20.0, 35.0)
COUPLINGS = st.floats(1.0, 500.0)
CAPACITIES = st.floats(1e4, 1e7)
HOUR_S = 3600.0


@given(
    capacity=CAPACITIES, to_air=COUPLINGS, before_c=TEMPERATURES, gained_w=st.floats(0.0, 2000.0),
    outdoor_c=TEMPERATURES, loss=st.floats(1.0, 500.0), given_w=st.floats(-500.0, 2000.0),
    held_c=st.floats(0.0, 20.0),
)  # fmt: skip
def test_what_is_heated_gained_lost_and_stored_adds_up(
    capacity: float, to_air: float, before_c: float, gained_w: float,
    outdoor_c: float, loss: float, given_w: float, held_c: float,
) -> None:  # fmt: skip
    mass = body(capacity, to_air, HOUR_S)
    around = Around(loss, given_w, outdoor_c)
    found = held((mass,), (before_c,), (gained_w,), around, held_c, vent_c=1e9)
    after_c = mass.after_c(before_c, found.air_c, gained_w)
    stored_w = capacity * (after_c - before_c) / HOUR_S
    came_in_w = found.heat_w + given_w + gained_w + loss * (outdoor_c - found.air_c)
    assert stored_w == pytest.approx(came_in_w, rel=1e-6, abs=1e-3)
    assert found.heat_w >= 0.0
    assert found.air_c >= held_c - 1e-9


@given(
    capacity=st.floats(1e5, 1e7), to_air=COUPLINGS, to_soil=st.floats(0.0, 100.0),
    before_c=TEMPERATURES, air_c=TEMPERATURES, gained_w=st.floats(0.0, 500.0),
)  # fmt: skip
def test_a_body_goes_where_fine_steps_take_it(
    capacity: float, to_air: float, to_soil: float, before_c: float, air_c: float, gained_w: float
) -> None:
    one = body(capacity, to_air, HOUR_S, to_soil)
    temp_c, given_j, dt_s = before_c, 0.0, 4.0
    for _ in range(int(HOUR_S / dt_s)):
        to_air_w = to_air * (temp_c - air_c)
        given_j += to_air_w * dt_s
        temp_c += (gained_w - to_air_w - to_soil * temp_c) * dt_s / capacity
    assert one.after_c(before_c, air_c, gained_w) == pytest.approx(temp_c, abs=0.2)
    mean_w = one.gives_w_k * before_c + one.hands_on * gained_w - one.takes_w_k * air_c
    scale_w = to_air * (abs(before_c - air_c) + gained_w / to_air + abs(air_c) * to_soil / to_air)
    assert mean_w == pytest.approx(given_j / HOUR_S, abs=0.01 * scale_w + 1e-6)


def test_without_bodies_heat_is_loss_times_difference() -> None:
    assert held((), (), (), Around(100.0, 0.0, -5.0), 5.0, 25.0) == (1000.0, 5.0)
    assert held((), (), (), Around(100.0, 300.0, -5.0), 5.0, 25.0) == (700.0, 5.0)
    assert held((), (), (), Around(100.0, 1500.0, -5.0), 5.0, 25.0) == (0.0, 10.0)


def test_it_is_aired_to_the_vents_setpoint_and_never_below_outside() -> None:
    def air_c(outdoor_c: float) -> float:
        return held((), (), (), Around(100.0, 5000.0, outdoor_c), 5.0, 25.0).air_c

    assert air_c(0.0) == 25.0
    assert air_c(31.0) == 31.0


@pytest.mark.parametrize(("capacity_j_k", "to_air_w_k"), [(0.0, 10.0), (1e6, 0.0)])
def test_what_stores_nothing_is_no_body(capacity_j_k: float, to_air_w_k: float) -> None:
    with pytest.raises(ValueError, match="a capacity, and a way to the air"):
        body(capacity_j_k, to_air_w_k, HOUR_S)
