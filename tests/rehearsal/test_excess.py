"""The excess found in three spells, beside the days they stand for lived through."""

import pytest

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


def trimmed(of: Settings, way: Way) -> Result:
    """All the days, with the setpoint moved until the coldest moment is the goal."""
    stage = stage_of(of, None)
    shift_k = 0.0
    for _ in range(2):
        result = rehearse(of, stage, DAYS, way._replace(shift_k=shift_k))
        shift_k += GOAL_C - result.zones[0].low_c
    return result


def test_what_it_says_is_saved_is_what_all_the_days_save() -> None:
    of = settings()
    over_k = found_for(of)
    assert (
        over_k[Switching.PLAIN] > over_k[Switching.SET] > over_k[Switching.PROPORTION] > 0.0
    )  # as set: half a kelvin
    told_k = over_k[Switching.PLAIN] - over_k[Switching.PROPORTION]
    low, high = (
        rehearse(of, stage_of(of, None), DAYS, Way(ideal=True, shift_k=shift_k)).kwh
        for shift_k in (0.0, 2.0)
    )
    plain, thrifty = (trimmed(of, way).kwh for way in (Way(hysteresis_k=1.0), Way(proportion=True)))
    assert plain - thrifty > 0.1 * low
    assert (high - low) / 2.0 * told_k == pytest.approx(plain - thrifty, rel=0.35)


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
