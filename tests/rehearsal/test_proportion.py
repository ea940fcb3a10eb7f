"""Heat in proportion, lived through in the demo's house: thriftier, no colder, no false alarm."""

from functools import cache

import pytest

from greenkeeper.rehearsal.faults import Fault
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.run import Span, Way, rehearse
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.settings.schema import Settings
from tests.rehearsal.houses import DAY_S, JANUARY
from tests.rehearsal.houses import settings as demo

NIGHT = Span(JANUARY, JANUARY + DAY_S)
MINIMUM_C = 4.0  # of the demo's tenderest plant


def settings(strategy: str) -> Settings:
    found = demo(poll_s=15)
    name, zone = next((n, z) for n, z in found.zones.items() if z.heat is not None)
    assert zone.heat is not None
    heat = zone.heat.model_copy(update={"strategy": strategy, "margin_k": 0.0})
    heater = found.outputs[heat.output].model_copy(update={"min_on_s": 30.0, "min_off_s": 30.0})
    return found.model_copy(
        update={
            "zones": {**found.zones, name: zone.model_copy(update={"heat": heat})},
            "outputs": {**found.outputs, heat.output: heater},
        }
    )


@cache
def lived(strategy: str, fault: Fault | None = None, *, ideal: bool = False) -> Result:
    found = settings(strategy)
    return rehearse(found, stage_of(found, None), NIGHT, Way(ideal=ideal), fault=fault)


def fault(name: str) -> Fault:
    return Fault(name, JANUARY + 2 * 3600.0, JANUARY + 6 * 3600.0)


def test_it_takes_little_more_than_the_ideal_heater_and_lets_nothing_below() -> None:
    plain, pulsed, ideal = (
        lived("hysteresis"), lived("proportion"), lived("hysteresis", ideal=True)
    )  # fmt: skip
    assert pulsed.zones[0].minimum_c == MINIMUM_C
    assert pulsed.zones[0].low_c >= MINIMUM_C - 0.1
    assert pulsed.zones[0].low_c > plain.zones[0].low_c
    assert pulsed.kwh < 0.97 * plain.kwh
    assert pulsed.kwh < 1.2 * ideal.kwh  # and nothing was learned yet


def test_a_sound_house_is_told_of_nothing() -> None:
    assert {told.code for told in lived("proportion").told} <= {"below-minimum"}


@pytest.mark.parametrize(
    ("name", "code"),
    [("dead-element", "no-response"), ("welded-relay", "over-ceiling")],
)
def test_a_heater_that_fails_is_told_as_ever(name: str, code: str) -> None:
    told = {each.code for each in lived("proportion", fault(name)).told}
    assert told & {code, "stuck-on"}


def test_a_power_cut_leaves_nothing_behind() -> None:
    cut = lived("proportion", fault("power-cut"))
    after = [hour for hour in cut.zones[0].hours if hour.from_utc_s >= JANUARY + 8 * 3600.0]
    whole = lived("proportion").zones[0].hours[-len(after) :]
    assert min(hour.low_c for hour in after) >= MINIMUM_C - 0.1
    assert sum(hour.heat_kwh for hour in after) == pytest.approx(
        sum(hour.heat_kwh for hour in whole),
        rel=0.25,  # what the house itself lost meanwhile
    )
