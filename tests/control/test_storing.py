"""Heat kept from cheap hours is reckoned as two bodies exchange it, and never to its advantage.

The outside check is a plain integration of the two bodies, step by step; the reckoning itself
is own algebra, without a published source.
"""

import math
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from greenkeeper.control import storing
from greenkeeper.control.storing import Market, Store, Stretch
from greenkeeper.learned import FIGURES, Estimate, Figure, Learned, Unknown
from greenkeeper.settings.prices import Prices
from greenkeeper.settings.schema import Settings, Tariff
from tests.control import houses

HEAVY = Store(20.0, 60.0, 1500.0, 40.0)
MIDWINTER = int(datetime(2026, 12, 21, tzinfo=UTC).timestamp() // storing.QUARTER_S)
EVENING = {"per_kwh": 0.30, "hours": [{"from": "18:00", "to": "23:00", "per_kwh": 0.05}]}
WRITTEN = {
    "loss_w_per_k": 20.0,
    "mass_w_per_k": 90.0,
    "mass_kj_per_k": 5000.0,
    "air_kj_per_k": 90.0,
}

stores = st.builds(
    Store, st.floats(1.0, 500.0), st.floats(1.0, 500.0), st.floats(5.0, 20_000.0),
    st.floats(1.0, 500.0),
)  # fmt: skip
prices = st.floats(0.0, 10.0)


def market(tariff: dict[str, Any] | None = None, *houses_: Store) -> Market:
    found = Prices(Tariff.model_validate(tariff or EVENING), ZoneInfo("UTC"))
    return Market(houses_ or (HEAVY,), found, 51.0, 0.0)


def at(hour: float) -> int:
    return MIDWINTER + round(4 * hour)


def stretch(hours: float, cheap: float, dear: float, dear_h: float) -> Stretch:
    returns = tuple((k / 4.0, dear) for k in range(round(4 * dear_h)))
    return Stretch(cheap, hours, hours, dear, returns)


def learned(sigma: float = 0.0, **told: float) -> Learned:
    figures: dict[str, Figure] = dict.fromkeys(FIGURES, Unknown("not yet"))
    figures |= {n: Estimate(v, sigma * v) for n, v in {**WRITTEN, **told}.items()}
    return Learned(0.0, 0.0, 0.0, 9, "bench", "heater", 1500.0, **figures)


def house(**changes: Any) -> Settings:
    outputs = {**houses.ONE_ZONE["outputs"]}
    outputs["heater"] = {**outputs["heater"], "power_w": 1500.0}
    heat = {**houses.ONE_ZONE["zones"]["bench"]["heat"], "ahead_in_cheap_hours": True}
    site = {**houses.ONE_ZONE["site"], "latitude": 51.0, "longitude": 0.0}
    plain = {"tariff": EVENING, "site": site, "outputs": outputs, "zones": houses.zone(heat=heat)}
    return houses.settings(**{**plain, **changes})


# --- the reckoning ---------------------------------------------------------------------------


def test_what_is_put_in_and_comes_back_is_what_two_bodies_exchange() -> None:
    """Air held 1 K warmer for three hours, then back where it was for eight."""
    step_h, mass_k, taken_wh, back_wh = 0.001, 0.0, HEAVY.air_wh_per_k, 0.0
    for _ in range(3000):
        flow_w = HEAVY.mass_w_per_k * (1.0 - mass_k)
        taken_wh += (flow_w + HEAVY.loss_w_per_k) * step_h
        mass_k += flow_w * step_h / HEAVY.mass_wh_per_k
    for _ in range(8000):
        flow_w = HEAVY.mass_w_per_k * mass_k
        back_wh += flow_w * step_h
        mass_k -= flow_w * step_h / HEAVY.mass_wh_per_k
    assert HEAVY.taken_wh(3.0) == pytest.approx(taken_wh, rel=1e-3)
    worth = storing._worth(HEAVY, stretch(3.0, 0.1, 1.0, 8.0))
    assert worth * HEAVY.mass_wh_per_k * HEAVY.filled(3.0) == pytest.approx(back_wh, rel=1e-3)


@settings(max_examples=200, deadline=None)
@given(stores, prices, prices, st.floats(0.5, 12.0), st.floats(0.25, 14.0), st.floats(0.0, 1.0))
def test_no_other_length_of_heating_saves_more(
    store: Store, cheap: float, more: float, lasts_h: float, dear_h: float, share: float
) -> None:
    offered = stretch(lasts_h, cheap, cheap + more, dear_h)
    best = storing._best(store, offered)
    other = storing._saved(store, offered, max(0.01, share * lasts_h))
    if best is None:
        assert other <= 1e-9
    else:
        assert 0.0 < best.hours <= lasts_h
        assert best.saved_per_k >= other - 1e-9


@settings(max_examples=100, deadline=None)
@given(stores, st.floats(0.01, 1.0), st.floats(0.5, 10.0), st.floats(1.0, 14.0))
def test_it_pays_where_the_dear_hours_are_dear_enough_and_only_there(
    store: Store, cheap: float, lasts_h: float, dear_h: float
) -> None:
    assume(store.hours > 4.0)
    lasts_h = max(0.25, round(lasts_h * 4.0) / 4.0)
    short = storing._short_of(store, stretch(lasts_h, cheap, 1.0, dear_h))
    assert storing._best(store, stretch(lasts_h, cheap, 1.01 * short, dear_h)) is not None
    # Lengths are tried by the quarter of an hour: between two of them a little less may do.
    assert storing._best(store, stretch(lasts_h, cheap, 0.8 * short, dear_h)) is None


def test_the_wrong_figures_never_make_it_pay_more() -> None:
    def saved(sigma: float) -> float:
        known = storing.store_of(house(), "bench", learned(sigma))
        assert not isinstance(known, Unknown)
        best = storing.best_of(market(None, *known), stretch(5.0, 0.05, 0.5, 9.0))
        return 0.0 if best is None else best.saved_per_k

    assert saved(0.0) > saved(0.1) > saved(0.2) > 0.0
    assert saved(0.6) == 0.0


# --- hours -----------------------------------------------------------------------------------


def test_only_the_last_of_the_cheap_hours_are_used_where_that_pays_more() -> None:
    light = Store(40.0, 60.0, 100.0, 10.0)
    dear = {**EVENING, "per_kwh": 0.60}
    best = storing.charge(market(dear, light), at(22.75))
    assert best is not None
    assert best.hours < 4.75
    assert storing.charge(market(dear, light), at(18.25)) is None
    assert storing.charge(market(dear, light), at(23.25)) is None, "they are over"


def test_cheap_hours_are_told_with_what_comes_after_them() -> None:
    found = storing.stretch_of(market(), at(20.0))
    assert found is not None
    assert (found.price, found.lasts_h, found.left_h, found.dearer) == (0.05, 5.0, 3.0, 0.30)
    assert 8.5 <= len(found.returns) / 4.0 <= 9.5, "from 23:00 to sunrise, a little after 8"


def test_what_comes_back_in_the_light_counts_for_nothing() -> None:
    morning = {"per_kwh": 0.30, "hours": [{"from": "04:00", "to": "10:00", "per_kwh": 0.01}]}
    found = storing.stretch_of(market(morning), at(9.0))
    assert found is not None
    assert all(hours >= 5.5 for hours, _ in found.returns), "not before sunset, a little before 4"


def test_before_cheaper_hours_or_at_one_price_there_is_nothing_to_gain() -> None:
    assert storing.stretch_of(market(), at(17.0)) is None
    assert storing.stretch_of(market({"per_kwh": 0.3}), at(12.0)) is None


def test_a_tariff_that_never_pays_is_told_with_what_it_would_take() -> None:
    little = {**EVENING, "per_kwh": 0.10}
    seen = storing.prospect(market(little))
    assert seen.best is None
    assert seen.offered == pytest.approx(2.0)
    assert 2.0 < seen.pays_from < 6.0
    enough = {**EVENING, "per_kwh": 0.05 * seen.pays_from * 1.02}
    assert storing.prospect(market(enough)).best is not None
    free = {"per_kwh": 0.3, "hours": [{"from": "18:00", "to": "23:00", "per_kwh": 0.0}]}
    assert storing.prospect(market(free)).offered == math.inf


# --- what is known ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "missing"),
    [
        ({"tariff": None}, "different prices"),
        ({"tariff": {"per_kwh": 0.3}}, "different prices"),
        ({"site": houses.ONE_ZONE["site"]}, "light"),
        ({"site": {"name": "x", "latitude": 51.0, "longitude": 0.0}}, "outdoor_probe"),
        ({"outputs": houses.ONE_ZONE["outputs"]}, "power_w"),
        ({}, "neither learned nor described"),
    ],
)
def test_what_is_missing_is_named(changes: dict[str, Any], missing: str) -> None:
    found = storing.store_plan(house(**changes), "bench", None)
    assert isinstance(found, Unknown)
    assert missing in found.reason


def test_what_was_learned_comes_first_and_a_described_house_counts_less() -> None:
    described = house(house=WRITTEN)
    known = storing.store_of(described, "bench", learned(0.1))
    guessed = storing.store_of(described, "bench", None)
    assert not isinstance(known, Unknown)
    assert not isinstance(guessed, Unknown)
    assert known[0].loss_w_per_k == pytest.approx(22.0)
    assert guessed[0].loss_w_per_k == pytest.approx(26.0)
    assert isinstance(storing.store_of(house(house={"loss_w_per_k": 20.0}), "bench", None), Unknown)
    elsewhere = learned(0.1)._replace(zone="shelf")
    assert isinstance(storing.store_of(house(), "bench", elsewhere), Unknown)


@pytest.mark.parametrize("sigma", [1.0, 50.0, math.inf])
def test_figures_that_may_be_anything_are_none(sigma: float) -> None:
    assert isinstance(storing.store_of(house(), "bench", learned(sigma)), Unknown)
