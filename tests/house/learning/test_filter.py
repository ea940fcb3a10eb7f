"""The filter's step is the house's, and its spread is what its errors really have."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from greenkeeper.house.learning import filter as house_filter
from greenkeeper.house.learning.filter import NAMES, follow, shocks_in, side_by_side
from greenkeeper.house.learning.nights import MINUTES, STEP_S, Night

CERTAIN = {"hours_k": 1e-6, "minutes_k": 1e-6, "air_noise_k": 1e-7}
HOUSE = {
    "rise_k": 30.0, "air_s": 1200.0, "coupling": 1.2, "mass_s": 18_000.0, "element_s": 90.0,
    "probe_s": 110.0, "hours_k": 0.5, "minutes_k": 0.5, "air_noise_k": 0.01, "reading_k": 0.03,
}  # fmt: skip


def parameters(**changed: float) -> np.ndarray:
    logs = {**HOUSE, **changed}
    plain = {"gain_k": 0.4, "dusk_k": 2.0}
    return np.array([plain[n] if n in plain else np.log(logs[n]) for n in NAMES])


def a_night(steps: int, inside_c: np.ndarray, duty: np.ndarray, outdoor_c: np.ndarray) -> Night:
    return Night(0.0, steps * STEP_S, inside_c, outdoor_c, duty, (inside_c - outdoor_c) / 10.0)


def lived(steps: int, duty: np.ndarray, outdoor_c: np.ndarray) -> np.ndarray:
    """Means of what the probe shows, by SciPy's integrator, minute by minute."""
    h = HOUSE
    state, means = np.array([duty[0, -1], 5.0, 7.0, 5.0]), [5.0]

    def flow(_: float, y: np.ndarray, u: float, out_c: float) -> list[float]:
        e, a, m, p, _gathered = y
        return [
            (u - e) / h["element_s"],
            (out_c - a + h["coupling"] * (m - a) + h["rise_k"] * e + 0.4) / h["air_s"],
            h["coupling"] * (a - m) / h["mass_s"],
            (a - p) / h["probe_s"],
            p / STEP_S,
        ]

    for step in range(1, steps):
        gathered = 0.0
        for minute in range(MINUTES):
            done = solve_ivp(
                flow, (0.0, 60.0), [*state, gathered], rtol=1e-9, atol=1e-9,
                args=(duty[step, minute], outdoor_c[step]),
            )  # fmt: skip
            *state, gathered = done.y[:, -1]
        means.append(gathered)
    return np.array(means)


def test_a_night_without_chance_is_foretold_exactly() -> None:
    steps, chance = 60, np.random.default_rng(3)
    duty = (chance.random((steps, MINUTES)) > 0.6).astype(float)
    outdoor_c = -3.0 + np.cumsum(chance.normal(0.0, 0.1, steps))
    night = a_night(steps, lived(steps, duty, outdoor_c), duty, outdoor_c)
    # The mass is where dusk_k says, so that nothing has to be found out.
    found = follow(parameters(**CERTAIN)[None], side_by_side([night]))
    assert np.abs(found.errors).max() < 2e-6


def test_chance_is_as_wide_as_the_filter_says() -> None:
    steps, chance = 140, np.random.default_rng(11)
    given = parameters()
    nights = []
    for _ in range(60):
        duty = (chance.random((steps, MINUTES)) > 0.6).astype(float)
        nights.append(a_night(steps, _by_chance(steps, given, duty, chance), duty, np.zeros(steps)))
    nights = [n._replace(lift=np.ones(steps)) for n in nights]
    found = follow(given[None], side_by_side(nights))
    # Of the filter's own model, each error is foretold to be normal with its variance.
    share = found.errors[0, :, 20:] / np.sqrt(found.variances[0, :, 20:])
    assert share.std() == pytest.approx(1.0, abs=0.05)
    assert np.corrcoef(share[:, 1:].ravel(), share[:, :-1].ravel())[0, 1] == pytest.approx(
        0.0, abs=0.05
    )


def _by_chance(
    steps: int, given: np.ndarray, duty: np.ndarray, chance: np.random.Generator
) -> np.ndarray:
    stepping, gusts, driven, noise, reading_var = house_filter._discrete(given[None], 1)
    whole = stepping[0, 0].copy()
    whole[:4, 5:] = gusts[0, 0][:4]
    whole[:5, 5:] = gusts[0, 0]
    state = np.array([duty[0, -1], 5.0, 7.0 + chance.normal(0.0, 3.0), 5.0, 0.0, 0.0, 0.0])
    state[5:] = chance.normal(0.0, np.exp(given[[house_filter.HOURS, house_filter.MINUTE]]))
    sizes = np.sqrt(np.diag(noise[0, 0]))
    shown = [5.0]
    for step in range(1, steps):
        inputs = np.array([*duty[step], 0.0, 1.0])
        state = whole @ state + inputs @ driven[0] + chance.normal(0.0, sizes)
        shown.append(state[4] + chance.normal(0.0, float(np.sqrt(reading_var[0, 0]))))
    return np.array(shown)


def test_a_door_is_found_where_it_was() -> None:
    steps = 80
    duty, outdoor_c = np.full((steps, MINUTES), 0.3), np.full(steps, -3.0)
    calm = lived(steps, duty, outdoor_c)
    opened = calm.copy()
    opened[40:43] -= np.array([2.0, 1.0, 0.5])
    given = parameters(minutes_k=0.1)
    assert not shocks_in(given, side_by_side([a_night(steps, calm, duty, outdoor_c)])).any()
    found = shocks_in(given, side_by_side([a_night(steps, opened, duty, outdoor_c)]))
    assert np.flatnonzero(found[0])[0] == 40


def test_the_exponential_is_scipys() -> None:
    rates = house_filter._rates(np.stack([parameters(), parameters(air_s=150.0)])) * 60.0
    assert house_filter._exponential(rates) == pytest.approx(
        np.stack([expm(each) for each in rates]), abs=1e-12
    )
