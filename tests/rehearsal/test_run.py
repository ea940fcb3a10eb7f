"""A rehearsal runs what would really run, and its sums are those of the house."""

from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest

from greenkeeper import control
from greenkeeper.control import step as step_module
from greenkeeper.house.network import Parameters
from greenkeeper.house.records.read import parse
from greenkeeper.rehearsal.faults import KINDS, Fault
from greenkeeper.rehearsal.ledger import Result, beyond
from greenkeeper.rehearsal.rig import RehearsalError
from greenkeeper.rehearsal.run import Span, Way, rehearse
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.settings.load import load
from greenkeeper.settings.schema import Tariff
from tests.rehearsal.houses import DAY_S, JANUARY, ColdSpell, Fixed, invented, settings, stage
from tests.support.weatherfiles import GREENSBORO

EXAMPLE = Path(__file__).resolve().parents[2] / "config" / "greenkeeper.yaml"
COLD = Span(JANUARY, JANUARY + 2 * DAY_S)
PLAIN = Parameters(
    loss_w_per_k=60.0, air_j_per_k=90e3, mass_j_per_k=1.2e6, mass_w_per_k=80.0,
    element_lag_s=60.0, probe_lag_s=60.0, sun_m2=0.0, fan_w_per_k=250.0, ridge_k_per_w=0.0005,
)  # fmt: skip


def test_it_asks_the_very_step_that_the_keeper_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []

    def watched(readings, memory, plan, now, **more):
        asked.append(now.utc_s)
        return step_module(readings, memory, plan, now, **more)

    monkeypatch.setattr(control, "step", watched)
    found = rehearse(*invented(1.0))
    ticks = [JANUARY - DAY_S + 60.0 * tick for tick in range(2880)]
    # Those that are not put to it would have been answered alike: test_keeper.py.
    assert asked[0] == ticks[0]
    assert asked == [tick for tick in ticks if tick in set(asked)]
    assert len(asked) > 0.3 * len(ticks)
    assert found.ticks == 1440


def test_two_rehearsals_are_the_same_to_the_last_digit() -> None:
    first, second = rehearse(*invented(1.0)), rehearse(*invented(1.0))
    assert first._replace(took_s=0.0) == second._replace(took_s=0.0)


def test_steady_cold_takes_what_the_house_loses() -> None:
    """60 W/K from 5.25 °C, half way between on and off, to -5 °C: 615 W."""
    found = rehearse(settings(), stage(Fixed(-5.0), PLAIN), COLD)
    zone = found.zones[0]
    mean_w = found.kwh * 1000.0 / 48.0
    assert mean_w == pytest.approx(60.0 * (zone.mean_c + 5.0), rel=0.01)
    assert zone.mean_c == pytest.approx(5.3, abs=0.3)


def test_what_outputs_used_adds_up_to_what_the_house_used() -> None:
    found = rehearse(*invented(3.0))
    assert found.kwh > 1.0
    assert sum(each.kwh or 0.0 for each in found.outputs) == pytest.approx(found.kwh, rel=1e-6)
    hours = found.zones[0].hours
    assert sum(hour.heat_kwh for hour in hours) == pytest.approx(found.kwh, rel=1e-6)
    assert len(hours) == 72


def test_heat_costs_what_it_costs_in_its_hour() -> None:
    """The demo's clock is Brussels': in January 22:00 to 06:00 is 21:00 to 05:00 UTC."""
    hours = {"from": "22:00", "to": "06:00", "per_kwh": 0.1}
    tariff = Tariff.model_validate({"per_kwh": 0.5, "hours": [hours]})
    found = rehearse(*invented(3.0, settings().model_copy(update={"tariff": tariff})))
    cost = sum(
        hour.heat_kwh * (0.1 if (hour.from_utc_s // 3600 + 3) % 24 < 8 else 0.5)
        for hour in found.zones[0].hours
    )
    assert found.cost == pytest.approx(cost)
    assert sum(each.cost or 0.0 for each in found.outputs) == pytest.approx(cost, rel=1e-6)
    assert 0.15 < cost / found.kwh < 0.45


def test_hours_and_extremes_tell_of_the_same_temperatures() -> None:
    zone = rehearse(*invented(2.0)).zones[0]
    assert zone.low_c == min(hour.low_c for hour in zone.hours)
    assert zone.high_c == max(hour.high_c for hour in zone.hours)
    coldest = min(zone.hours, key=lambda hour: hour.low_c)
    assert coldest.from_utc_s <= zone.low_utc_s < coldest.from_utc_s + 3600.0


def test_the_day_before_is_lived_through_and_not_counted() -> None:
    begun_cold = rehearse(settings(), stage(Fixed(-12.0), PLAIN), COLD).zones[0]
    assert begun_cold.low_c > 3.0  # had it begun unheated, it would be far below zero
    assert begun_cold.hours[0].from_utc_s == JANUARY


def test_a_heater_at_its_limit_is_told_and_the_plants_are_too_cold() -> None:
    found = rehearse(settings(), stage(Fixed(-25.0), PLAIN), COLD)
    zone = found.zones[0]
    assert zone.below_s == pytest.approx(2 * DAY_S, rel=0.02)
    assert sum(hour.below_s for hour in zone.hours) == pytest.approx(zone.below_s)
    assert zone.below_kh == pytest.approx(48 * (4.0 - zone.mean_c), rel=0.02)
    assert "below-minimum" in {told.code for told in found.told}
    assert found.outputs[0].on_s == pytest.approx(2 * DAY_S, rel=0.01)


def test_a_moved_setpoint_moves_the_temperature_as_far() -> None:
    cold = stage(Fixed(-5.0), PLAIN)
    low_c = [
        rehearse(settings(poll_s=20), cold, COLD, Way(shift_k=shift_k)).zones[0].low_c
        for shift_k in (0.0, 1.0)
    ]
    assert low_c[1] - low_c[0] == pytest.approx(1.0, abs=0.1)


# --- the ideal heater ---------------------------------------------------------------------------


def ideal(found: tuple) -> Result:
    return rehearse(*found, Way(ideal=True))


def test_the_ideal_heater_holds_its_target_to_the_digit() -> None:
    found = ideal((settings(), stage(Fixed(-5.0), PLAIN), COLD))
    assert found.zones[0].low_c == pytest.approx(4.0, abs=1e-9)
    assert found.kwh == pytest.approx(60.0 * 9.0 * 48.0 / 1000.0, rel=1e-3)
    assert found.hard_hours == frozenset()


def test_no_strategy_that_keeps_the_plants_uses_less_than_the_ideal_heater() -> None:
    best = ideal(invented(3.0))
    real = rehearse(*invented(3.0))
    assert best.zones[0].low_c == pytest.approx(4.0, abs=1e-6)
    assert real.zones[0].low_c >= 4.0
    assert real.kwh > best.kwh > 0.0


def test_hours_that_full_power_cannot_hold_are_named() -> None:
    found = ideal((settings(), stage(Fixed(-25.0), PLAIN), COLD))
    assert found.hard_hours == frozenset(range(48))


def test_with_the_hard_hours_the_two_after_them_are_beyond_the_heater() -> None:
    found = ideal((settings(), stage(ColdSpell(range(20, 22)), PLAIN), COLD))
    assert found.hard_hours >= {20, 21}
    last = max(found.hard_hours)
    assert last < 30
    assert found.beyond_hours == {*found.hard_hours, last + 1, last + 2}


def test_hard_hours_just_before_the_span_reach_into_it_and_its_end_is_its_end() -> None:
    before = ideal((settings(), stage(ColdSpell(range(-2, 0)), PLAIN), COLD))
    assert before.hard_hours == frozenset(range(len(before.hard_hours)))
    assert before.beyond_hours == frozenset(range(len(before.hard_hours) + 2))
    late = ideal((settings(), stage(ColdSpell(range(47, 48)), PLAIN), COLD))
    assert late.beyond_hours == late.hard_hours == {47}
    assert beyond({-3, -2, 4}, 6) == {0, 4, 5}


# --- what breaks --------------------------------------------------------------------------------

BREAKS = JANUARY + 43 * 3600.0  # in the dark


@cache
def cold_nights(name: str = "", hours: float = 12.0) -> Result:
    """Two days and nights at -5 °C; what breaks does so on the second evening."""
    fault = Fault(name, BREAKS, BREAKS + hours * 3600.0) if name else None
    return rehearse(settings(), stage(Fixed(-5.0), PLAIN), COLD, fault=fault)


@pytest.mark.parametrize("name", KINDS)
def test_whatever_breaks_makes_a_difference(name: str) -> None:
    before, after = cold_nights().zones[0].hours, cold_nights(name).zones[0].hours
    assert before[:43] == after[:43]
    assert before[45:] != after[45:]


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("welded-relay", "stuck-on"),
        ("dead-element", "no-response"),
        ("probe-dead", "zone-blind"),
        ("door-open", "below-minimum"),
    ],
)
def test_what_breaks_is_told(name: str, code: str) -> None:
    told = {each.code for each in cold_nights(name).told if each.first_utc_s >= BREAKS}
    assert code in told


def test_in_a_power_cut_nothing_is_used_and_afterwards_it_goes_on() -> None:
    found = cold_nights("power-cut", 3.0)
    hours = found.zones[0].hours
    dark = [hour for hour in hours if BREAKS <= hour.from_utc_s < BREAKS + 3 * 3600.0]
    assert [hour.heat_kwh for hour in dark] == [0.0, 0.0, 0.0]
    assert sum(hour.heat_kwh for hour in hours if hour.from_utc_s >= BREAKS + 3 * 3600.0) > 0.0


# --- settings that say too little -----------------------------------------------------------------


def test_a_heater_without_power_is_refused_with_its_key() -> None:
    found = settings()
    heater = found.outputs["heater"].model_copy(update={"power_w": None})
    bare = found.model_copy(update={"outputs": {**found.outputs, "heater": heater}})
    with pytest.raises(RehearsalError, match=r"outputs\.heater\.power_w is missing"):
        rehearse(bare, stage(Fixed(0.0), PLAIN), COLD)


def test_a_place_beyond_the_invented_year_asks_for_a_file() -> None:
    far = settings()
    far = far.model_copy(update={"site": far.site.model_copy(update={"latitude": 68.0})})
    with pytest.raises(RehearsalError, match="give a file of hours"):
        stage_of(far, None)


# --- parts of the house -----------------------------------------------------------------------

TENT = {"zone": "bench", "loss_w_per_k": 8.0, "holds_kj_per_k": 120.0}


def test_a_zone_under_a_tent_is_heated_there_and_for_less() -> None:
    whole = rehearse(*invented(3.0))
    tented = rehearse(*invented(3.0, settings(tent=TENT)))
    assert tented.zones[0].low_c > 3.5
    assert tented.kwh < 0.5 * whole.kwh


def test_water_takes_off_some_of_the_heat() -> None:
    watered = rehearse(*invented(3.0, settings(water_l=400.0)))
    assert watered.kwh < rehearse(*invented(3.0)).kwh


def heated_from(where: str) -> Result:
    """A frosty day and night with a heater that is hardly enough."""
    found = settings(heater_under=where)
    heater = found.outputs["heater"].model_copy(update={"power_w": 400.0})
    found = found.model_copy(update={"outputs": {**found.outputs, "heater": heater}})
    return rehearse(*invented(1.0, found))


def test_heat_under_the_bench_serves_the_plants_and_heat_under_the_roof_does_not() -> None:
    """Common practice, no source: some of what is given off under the roof leaves before it
    comes down, so that it costs more and the plants go short all the same."""
    bench, roof = heated_from("bench"), heated_from("roof")
    assert roof.kwh > 1.05 * bench.kwh
    assert roof.zones[0].low_c < bench.zones[0].low_c - 0.4


def over_its_ceiling(fault: Fault | None = None) -> Result:
    """A lean house in the sun of two April days, whose ceiling is a little too low."""
    found = settings(wax_vent=None)
    zone = found.zones["bench"].model_copy(update={"ceiling_c": 22.0, "cool": None})
    found = found.model_copy(update={"zones": {"bench": zone}})
    april = JANUARY + 90 * DAY_S
    return rehearse(found, stage_of(found, None), Span(april, april + 2 * DAY_S), fault=fault)


def test_somebody_clears_a_lock_out_half_a_day_after_it() -> None:
    found = over_its_ceiling()
    locked = [hour.locked for hour in found.zones[0].hours]
    assert found.cleared > 0
    assert any(locked)
    assert not all(locked)
    (told,) = (each for each in found.told if each.code == "over-ceiling")
    assert told.times >= 1


def test_where_something_breaks_nobody_comes() -> None:
    never = JANUARY + 300 * DAY_S
    found = over_its_ceiling(Fault("door-open", never, never + 3600.0))
    assert found.cleared == 0
    locked = [hour.locked for hour in found.zones[0].hours]
    assert all(locked[locked.index(True) :])


def test_weather_from_the_other_side_of_the_world_brings_its_own_night() -> None:
    """The sun of this weather must not be taken for a heater in the dark of the settings."""
    here = settings()
    antipode = {"longitude": (here.site.longitude or 0.0) - 180.0}
    there = here.model_copy(update={"site": here.site.model_copy(update=antipode)})
    march = JANUARY + 60 * DAY_S
    found = rehearse(there, stage_of(here, None), Span(march, march + DAY_S))
    assert "stuck-on" not in {each.code for each in found.told}


def test_a_tent_that_an_autumn_sun_left_warm_is_not_taken_for_a_heater_that_stays_on() -> None:
    """The example's, out of the shade: 24 K above a clear night, five weeks in Greensboro's
    sun. It locked all heat out, 20 times in a winter."""
    example = load(EXAMPLE)
    assert example.house.tent is not None
    tent = example.house.tent.model_copy(update={"sun_share": 0.1})
    there = example.model_copy(
        update={"poll_s": 20.0, "house": example.house.model_copy(update={"tent": tent})}
    )
    october = datetime(2025, 10, 1, tzinfo=UTC).timestamp()
    record = parse(GREENSBORO.read_bytes(), "Greensboro")
    found = rehearse(there, stage_of(there, record), Span(october, october + 1.5 * DAY_S))
    told = {each.code for each in found.told}
    assert "over-ceiling" in told  # so warm did the sun make it
    assert "stuck-on" not in told


def test_the_shipped_example_keeps_its_plants_in_the_hardest_night_of_its_winter() -> None:
    """A grower takes it for a model; greenkeeper rehearse finds this night the worst of all."""
    example = load(EXAMPLE)
    begins = datetime(2026, 3, 27, 18, tzinfo=UTC).timestamp()
    night = Span(begins, begins + 12 * 3600.0)
    for zone in rehearse(example, stage_of(example, None), night).zones:
        assert zone.minimum_c is not None
        assert zone.low_c >= zone.minimum_c
