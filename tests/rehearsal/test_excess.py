"""The excess found in three spells, beside the days they stand for lived through."""

import pytest

from greenkeeper import control
from greenkeeper.rehearsal import excess
from greenkeeper.rehearsal.excess import excesses, spells_of
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.rig import RehearsalError
from greenkeeper.rehearsal.run import Span, Way, rehearse
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.settings import derived
from greenkeeper.settings.derived import Switching
from greenkeeper.settings.schema import Settings
from tests.rehearsal.houses import DAY_S, JANUARY, Fixed, invented, settings

GOAL_C = 4.0  # the demo's tenderest plant
DAYS = Span(JANUARY + 20 * DAY_S, JANUARY + 26 * DAY_S)


def quiet(_: float) -> None: ...


def found_for(of: Settings, span: Span = DAYS) -> dict[str, float]:
    stage = stage_of(of, None)
    spells = spells_of(stage.weather, span, GOAL_C)
    assert spells is not None
    return dict(excesses(of, stage, spells, "bench", quiet, workers=1))


def with_power(power_w: float) -> Settings:
    found = settings()
    heater = found.outputs["heater"].model_copy(update={"power_w": power_w})
    return found.model_copy(update={"outputs": {**found.outputs, "heater": heater}})


def trimmed(of: Settings, way: Way, leave_out: frozenset[int]) -> Result:
    """All the days, with the setpoint moved until the coldest moment is the goal."""
    stage = stage_of(of, None)
    shift_k = 0.0
    for _ in range(3):
        moved = way._replace(shift_k=shift_k)
        result = rehearse(of, stage, DAYS, moved, leave_out=leave_out)
        low_c = result.zones[0].held_low_c
        assert low_c is not None
        shift_k += GOAL_C - low_c
    assert low_c == pytest.approx(GOAL_C, abs=0.1)
    return result


@pytest.mark.parametrize(("power_w", "hard_hours"), [(1200.0, range(1)), (420.0, range(10, 18))])
def test_what_it_says_is_saved_is_what_all_the_days_save(power_w: float, hard_hours: range) -> None:
    """A weak heater too, which is at its limit in some of the hours: both ways are played."""
    of = with_power(power_w)
    over_k = found_for(of)
    assert (
        over_k[Switching.PLAIN] > over_k[Switching.SET] > over_k[Switching.PROPORTION] > 0.0
    )  # as set: half a kelvin
    told_k = over_k[Switching.PLAIN] - over_k[Switching.PROPORTION]
    ideal = rehearse(of, stage_of(of, None), DAYS, Way(ideal=True))
    assert len(ideal.hard_hours) in hard_hours
    low, high = (
        rehearse(of, stage_of(of, None), DAYS, Way(ideal=True, boundless=True, shift_k=k)).kwh
        for k in (0.0, 2.0)
    )
    plain, thrifty = (
        trimmed(of, way, ideal.beyond_hours).kwh
        for way in (Way(hysteresis_k=1.0), Way(proportion=True))
    )
    assert plain - thrifty > 0.1 * low
    assert (high - low) / 2.0 * told_k == pytest.approx(plain - thrifty, rel=0.25)


def test_a_heater_at_its_limit_more_than_half_the_time_tells_of_no_way(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(excess, "_HALVES", (0.75,))
    with pytest.raises(RehearsalError, match="at its limit in more than half"):
        found_for(with_power(300.0))


def test_what_is_set_above_the_minimum_is_not_rehearsed_and_other_zones_stay() -> None:
    of = settings()
    bench = of.zones["bench"]
    assert bench.heat is not None
    by_hand = bench.heat.model_copy(
        update={"setpoint": None, "setpoint_c": 7.0, "night_setpoint_c": 6.0}
    )
    nursery = bench.model_copy(update={"heat": by_hand})
    zones = {"nursery": nursery, "bench": bench.model_copy(update={"heat": by_hand})}
    of = of.model_copy(update={"zones": zones})
    plan = control.make_plan(excess._at_its_minimum(of, "bench"))
    first, other = plan.zones
    assert first.heat is not None
    assert other.heat is not None
    assert (first.name, first.heat.day_c, first.heat.night_c) == ("bench", 5.0, GOAL_C)
    before = control.make_plan(of).zones[0].heat
    assert other.heat == before


def test_the_spells_are_the_coldest_hour_and_a_day_for_each_half_of_the_need() -> None:
    stage = invented()[1]
    spells = spells_of(stage.weather, DAYS, GOAL_C)
    assert spells is not None
    hours = range(int(DAYS.from_utc_s) + 32 * 3600, int(DAYS.to_utc_s), 3600)
    coldest = min(hours, key=lambda utc_s: stage.weather.at(float(utc_s)).outdoor_c)
    assert spells.coldest.from_utc_s <= coldest < spells.coldest.to_utc_s
    mild, cold = (
        sum(stage.weather.at(day.from_utc_s + hour * 3600.0).outdoor_c for hour in range(24))
        for day in spells.usual
    )
    assert cold < mild
    assert all(DAYS.from_utc_s < day.from_utc_s < DAYS.to_utc_s for day in spells.usual)


@pytest.mark.parametrize(("outdoor_c", "days"), [(12.0, 30), (-5.0, 1)])
def test_where_no_heat_is_wanted_or_hardly_a_day_is_known_there_are_none(
    outdoor_c: float, days: int
) -> None:
    span = Span(JANUARY, JANUARY + days * DAY_S)
    assert spells_of(Fixed(outdoor_c), span, GOAL_C) is None


def test_a_lock_out_spoils_it_and_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(excess, "_HALVES", (0.5,))  # a day is enough for that
    of = settings()
    zone = of.zones["bench"].model_copy(update={"ceiling_c": 5.1})
    of = of.model_copy(update={"zones": {"bench": zone}})
    with pytest.raises(RehearsalError, match="locked out"):
        found_for(of)


def test_a_way_that_is_the_plain_switch_is_told_once() -> None:
    of = settings()
    zone = of.zones["bench"]
    assert zone.heat is not None
    for update, ways in (
        ({"hysteresis_k": derived.PLAIN_K}, [Switching.PLAIN, Switching.PROPORTION]),
        ({"strategy": "proportion"}, [Switching.PLAIN, Switching.PROPORTION]),
    ):
        heat = zone.heat.model_copy(update=update)
        changed = of.model_copy(update={"zones": {"bench": zone.model_copy(update={"heat": heat})}})
        assert list(excess._ways(changed, "bench")) == ways
