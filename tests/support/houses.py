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
    return State(0.0, temp_c, temp_c, temp_c, 0.0, temp_c)


def _lags() -> st.SearchStrategy[float]:
    return st.one_of(st.just(0.0), st.just(120.0), st.floats(1.0, 3600.0))


TEMPERATURES = st.floats(-30.0, 45.0)

PARAMETERS = st.builds(
    Parameters,
    loss_w_per_k=st.floats(5.0, 1000.0),
    air_j_per_k=st.floats(1e4, 1e6),
    mass_j_per_k=st.floats(1e5, 1e7),
    mass_w_per_k=st.floats(5.0, 2000.0),
    element_lag_s=_lags(),
    probe_lag_s=_lags(),
    sun_m2=st.floats(0.0, 20.0),
    fan_w_per_k=st.floats(0.0, 2000.0),
    ridge_k_per_w=st.floats(0.0, 0.01),
)

STATES = st.builds(
    State,
    element_w=st.floats(0.0, 3000.0),
    air_c=TEMPERATURES,
    mass_c=TEMPERATURES,
    bench_c=TEMPERATURES,
    ridge_above_k=st.floats(0.0, 5.0),
    outdoor_probe_c=TEMPERATURES,
)

SURROUNDINGS = st.builds(Surroundings, outdoor_c=TEMPERATURES, sun_w_m2=st.floats(0.0, 1000.0))
