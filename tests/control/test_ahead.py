"""Heating ahead: a setpoint that is raised while that pays, and nothing else of control changed."""

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import Plan, ahead, fresh, make_plan, shifts
from greenkeeper.control.storing import Charge, Market, Store, StorePlan, Stretch
from greenkeeper.model import Ask, Fault, Memory, Now, Order, Pulsing, Reading, Tick
from greenkeeper.settings.prices import Prices
from greenkeeper.settings.schema import Settings
from tests.control import houses
from tests.control.houses import Player, decided, reason
from tests.control.test_invariants import Move, moves, play
from tests.control.test_storing import EVENING, house, learned

# The evening's cheap hours are 18:00 to 23:00 UTC.
DUSK = datetime(2026, 12, 21, 17, 0, tzinfo=UTC).timestamp()
START = Now(1000.0, DUSK, True)
KNOWN = learned(0.05)
PROPORTION = {"strategy": "proportion"}


def plan_of(*, on: bool = True, known: bool = True, **heat: Any) -> Plan:
    bench = houses.ONE_ZONE["zones"]["bench"]["heat"]
    zones = houses.zone(heat={**bench, "ahead_in_cheap_hours": on, **heat})
    return make_plan(house(zones=zones), KNOWN if known else None)


PLAN = plan_of()


def lived(plan: Plan, hours: float, temp_c: float = 4.9, outdoor_c: float | Fault = -2.0) -> Player:
    """From dusk on, both probes saying the same; for some minutes of an hour a little warmer."""
    player = Player(plan, START)
    for tick in range(round(hours * 360.0)):
        warm_c = temp_c + (0.7 if tick % 360 >= 330 else 0.0)
        seen = {"bench-left": warm_c, "bench-right": warm_c, "ridge": warm_c, "outdoors": outdoor_c}
        player.tick(seen)
    return player


def weak() -> Plan:
    zone = PLAN.zones[0]
    assert zone.store is not None
    return PLAN._replace(zones=(zone._replace(store=zone.store._replace(power_w=200.0)),))


def setpoint_c(tick: Tick) -> float:
    found = tick.zones[0].heat_setpoint_c
    assert found is not None
    return found


def test_the_setpoint_is_raised_in_cheap_hours_and_back_when_they_are_over() -> None:
    player = lived(PLAN, 7.0)
    points = [(tick.now.utc_s - DUSK, setpoint_c(tick)) for tick in player.ticks]
    assert {point_c for at_s, point_c in points if at_s < 3600.0} == {5.0}
    assert all(5.3 <= point_c <= 8.0 for at_s, point_c in points if 3600.0 <= at_s < 21_600.0)
    assert {point_c for at_s, point_c in points if at_s >= 21_600.0} == {5.0}


def test_the_reason_says_how_far_and_why() -> None:
    said = reason(lived(PLAN, 2.0).ticks[-1], "heater")
    raised_k = setpoint_c(lived(PLAN, 2.0).ticks[-1]) - 5.0
    assert said.endswith(f"heating {raised_k:.1f} K ahead: 5.0 h at 0.05 before 0.3 EUR a kWh")


@pytest.mark.parametrize("strategy", [{}, {"anticipate": True}, PROPORTION])
def test_every_strategy_follows_it(strategy: dict[str, Any]) -> None:
    player = lived(plan_of(**strategy), 2.0)
    assert setpoint_c(player.ticks[-1]) > 5.2
    assert "ahead" in reason(player.ticks[-1], "heater")


@pytest.mark.parametrize(
    "player",
    [
        pytest.param(lambda: lived(PLAN, 3.0, temp_c=9.0), id="no heat is in use"),
        pytest.param(lambda: lived(PLAN, 3.0, outdoor_c=4.5), id="a mild night"),
        pytest.param(lambda: lived(PLAN, 3.0, outdoor_c=Fault.MISSING), id="nobody knows how cold"),
        pytest.param(lambda: lived(weak(), 3.0), id="the heater has none to spare"),
        pytest.param(lambda: lived(plan_of(known=False), 3.0), id="the house is not known"),
        pytest.param(lambda: lived(plan_of(on=False), 3.0), id="it is not asked for"),
    ],
)
def test_it_is_left_alone_where_that_is_not_sure_to_pay(player: Any) -> None:
    assert {setpoint_c(tick) for tick in player().ticks} == {5.0}


def test_it_ends_at_once_when_the_outdoor_probe_fails_or_the_zone_goes_blind() -> None:
    for gone in ("outdoors", "bench"):
        player = lived(PLAN, 2.0)
        seen: dict[str, float | Fault] = {
            name: Fault.MISSING if name.startswith(gone) else 4.9
            for name in ("bench-left", "bench-right", "ridge", "outdoors")
        }
        for _ in range(20):
            tick = player.tick(seen, after_s=10.0)
        assert setpoint_c(tick) == 5.0
        assert tick.memory.shifted == {}


def test_it_is_left_alone_while_a_probe_stands_alone() -> None:
    tick = lived(PLAN, 2.0).ticks[-1]
    verdicts, memory = tick.verdicts, tick.memory
    arguments = PLAN, verdicts, memory.shifted, memory.outputs, memory.overrides, tick.now
    assert "bench" in ahead.follow(*arguments, {})
    assert "bench" not in ahead.follow(*arguments, {"bench": "bench-left"})


def test_an_ordered_setpoint_and_a_clock_that_is_not_trusted_stand_above_it() -> None:
    tick = lived(PLAN, 2.0).ticks[-1]
    readings = {name: Reading(tick.now.mono_s + 10.0, 4.9) for name in PLAN.probes}
    later = Now(tick.now.mono_s + 10.0, tick.now.utc_s + 10.0, False)
    assert setpoint_c(decided(readings, tick.memory, PLAN, later)) == 5.0
    zone = PLAN.zones[0]._replace(ordered_c=(4.0, 20.0))
    plan = PLAN._replace(zones=(zone,), order_lasts_s=600.0)
    order = Order("bench", Ask.SETPOINT, 7.0)
    now = later._replace(clock_trusted=True)
    assert setpoint_c(decided(readings, tick.memory, plan, now, orders=[order])) == 7.0


def test_the_way_up_teaches_heat_in_proportion_nothing() -> None:
    before = lived(plan_of(**PROPORTION), 0.9).memory.pulsing["bench"]
    after = lived(plan_of(**PROPORTION), 1.2).memory.pulsing["bench"]
    assert (after.margin_k or 0.0) <= (before.margin_k or 0.0) + 0.01
    raised = lived(plan_of(**PROPORTION), 2.0).memory.shifted
    held = {"bench": Pulsing(held=True)}
    assert not shifts.begun(held, {}, raised)["bench"].held
    assert shifts.begun(held, raised, raised)["bench"].held


# --- bounds ----------------------------------------------------------------------------------

figures = st.floats(1e-3, 1e5)


@settings(max_examples=300, deadline=None)
@given(
    st.builds(Store, figures, figures, figures, figures),
    st.floats(-60.0, 60.0),
    st.floats(1.0, 50_000.0),
    st.floats(0.01, 12.0),
    st.floats(-10.0, 40.0),
)
def test_a_setpoint_is_never_lowered_nor_raised_beyond_its_bounds(
    store: Store, outdoor_c: float, power_w: float, hours: float, most_c: float
) -> None:
    prices = PLAN.zones[0].store
    assert prices is not None
    market = Market((store,), prices.market.prices, 51.0, 0.0)
    found = Charge(hours, Stretch(0.1, 5.0, 5.0, 0.3, ()), store.filled(hours), 0.01)
    zone_store = StorePlan(market, power_w, most_c, "EUR")
    by_k = ahead.raise_k(PLAN.zones[0], zone_store, found, outdoor_c, night=True)
    assert 0.0 <= by_k <= ahead.MOST_K
    assert by_k == 0.0 or 5.0 + by_k <= most_c + 1e-9
    released_w = store.mass_w_per_k * store.filled(hours) * by_k
    assert released_w <= max(0.0, store.loss_w_per_k * (5.0 - outdoor_c)) + 1e-6


@settings(max_examples=40, deadline=None)
@given(course=st.lists(moves, max_size=40))
def test_no_course_of_events_breaks_an_invariant_of_a_house_heated_ahead(
    course: list[Move],
) -> None:
    play(_TWO_ZONES, course)


def _two_zones() -> Plan:
    from tests.control.test_invariants import OUTPUTS, PROBES, ZONES

    zones = {
        name: {**zone, "heat": {**zone["heat"], "ahead_in_cheap_hours": True, **PROPORTION}}
        for name, zone in ZONES.items()
    }
    # Dear but for the hours about the moment the courses begin with: 2027-01-15 08:00 UTC.
    tariff = {"per_kwh": 9.0, "hours": [{"from": "06:00", "to": "15:00", "per_kwh": 0.0}]}
    outputs = {
        name: {**each, "power_w": 9e3} if each["drives"] == "heater" else each
        for name, each in OUTPUTS.items()
    }
    site = {**houses.ONE_ZONE["site"], "latitude": 51.0, "longitude": 0.0}
    found: Settings = houses.settings(
        zones=zones, outputs=outputs, probes=PROBES, plants=[], tariff=tariff, site=site
    )
    return make_plan(found, KNOWN)


_TWO_ZONES = _two_zones()


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(2.0, 12.0), st.one_of(st.floats(-20.0, 12.0), st.none())), max_size=40
    ),
    st.booleans(),
)
def test_off_or_not_known_is_as_if_there_were_no_such_thing(
    course: list[tuple[float, float | None]], pulses: bool
) -> None:
    strategy = PROPORTION if pulses else {}
    plain, unknown = plan_of(on=False, **strategy), plan_of(known=False, **strategy)
    if pulses:  # what is learned of the air is the same for both
        plain = plain._replace(zones=unknown.zones)
    memories: list[Memory] = [fresh(plan, START) for plan in (plain, unknown)]
    now = START
    for temp_c, outdoor_c in course:
        now = Now(now.mono_s + 10.0, now.utc_s + 400.0, True)
        seen = dict.fromkeys(("bench-left", "bench-right", "ridge"), temp_c)
        readings = {name: Reading(now.mono_s, each) for name, each in seen.items()}
        if outdoor_c is not None:
            readings["outdoors"] = Reading(now.mono_s, outdoor_c)
        one, other = (
            decided(readings, memory, plan, now)
            for memory, plan in zip(memories, (plain, unknown), strict=True)
        )
        assert (one.commands, one.events, one.zones) == (other.commands, other.events, other.zones)
        memories = [one.memory, other.memory]


def test_the_prices_are_those_of_the_settings() -> None:
    store = PLAN.zones[0].store
    assert store is not None
    assert isinstance(store.market.prices, Prices)
    assert store.market.prices.at(DUSK + 2 * 3600.0) == EVENING["hours"][0]["per_kwh"]
