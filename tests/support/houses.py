"""Houses to try the model on: one plain enough for formulas, and any number of chance."""

from hypothesis import strategies as st

from greenkeeper.house.model import Parameters, State
from greenkeeper.house.weather import Surroundings

# Air alone: no mass, no lag, nothing of the sun, no fan. What is left is C dT/dt = P - UA dT.
BARE = Parameters(
    loss_w_per_k=100.0,
    air_j_per_k=180e3,
    mass_j_per_k=1e6,
    mass_w_per_k=0.0,
    element_lag_s=0.0,
    probe_lag_s=0.0,
    sun_m2=0.0,
    fan_w_per_k=0.0,
    ridge_k_per_w=0.0,
)


def uniform(temp_c: float) -> State:
    """Everything at one temperature, the element cold."""
    return State(0.0, temp_c, temp_c, temp_c, 0.0, temp_c, temp_c, temp_c, temp_c, temp_c)


def _lags() -> st.SearchStrategy[float]:
    return st.one_of(st.just(0.0), st.just(120.0), st.floats(1.0, 3600.0))


def _perhaps(lowest: float, highest: float) -> st.SearchStrategy[float]:
    """A capacity, or none: the house has no such part."""
    return st.one_of(st.just(0.0), st.floats(lowest, highest))


TEMPERATURES = st.floats(-30.0, 45.0)

_PLAIN = {
    "loss_w_per_k": st.floats(5.0, 1000.0),
    "air_j_per_k": st.floats(1e4, 1e6),
    "mass_j_per_k": st.floats(1e5, 1e7),
    "mass_w_per_k": st.floats(5.0, 2000.0),
    "element_lag_s": _lags(),
    "probe_lag_s": _lags(),
    "sun_m2": st.floats(0.0, 20.0),
    "fan_w_per_k": st.floats(0.0, 2000.0),
    "ridge_k_per_w": st.floats(0.0, 0.01),
}
_FURNITURE = {
    "vent_w_per_k": st.floats(0.0, 1000.0),
    "heat_to_air": st.floats(0.5, 1.0),
    "sky_w_per_k": _perhaps(1.0, 100.0),
    "store_j_per_k": _perhaps(1e5, 2e6),
    "store_w_per_k": st.floats(1.0, 100.0),
    "floor_j_per_k": _perhaps(1e5, 1e7),
    "floor_w_per_k": st.floats(1.0, 200.0),
    "ground_w_per_k": _perhaps(1.0, 50.0),
    "tent_j_per_k": _perhaps(1e4, 1e6),
    "tent_w_per_k": st.floats(1.0, 100.0),
    "tent_sun_share": st.floats(0.0, 1.0),
}


def _none_of(parts: dict[str, st.SearchStrategy[float]]) -> dict[str, st.SearchStrategy[float]]:
    """As they are by default. Left out, hypothesis would make any number up."""
    defaults = Parameters._field_defaults
    return {name: st.just(defaults[name]) for name in parts}


# Houses of air and mass alone, and such as may have any other part too.
PARAMETERS = st.builds(Parameters, **_PLAIN, **_none_of(_FURNITURE))
FURNISHED = st.builds(Parameters, **_PLAIN, **_FURNITURE)

STATES = st.builds(
    State,
    element_w=st.floats(0.0, 3000.0),
    air_c=TEMPERATURES,
    mass_c=TEMPERATURES,
    bench_c=TEMPERATURES,
    ridge_above_k=st.floats(0.0, 5.0),
    outdoor_probe_c=TEMPERATURES,
    store_c=TEMPERATURES,
    floor_c=TEMPERATURES,
    tent_c=TEMPERATURES,
    tent_probe_c=TEMPERATURES,
)

SURROUNDINGS = st.builds(
    Surroundings,
    outdoor_c=TEMPERATURES,
    sun_w_m2=st.floats(0.0, 1000.0),
    wind_m_s=st.floats(0.0, 20.0),
    sky_c=st.one_of(st.none(), TEMPERATURES),
    diffuse_w_m2=st.none(),
    ground_c=st.floats(0.0, 20.0),
)
