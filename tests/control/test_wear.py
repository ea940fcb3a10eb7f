"""A relay's life is counted, told at half and near its end, and begun anew by a person."""

from typing import Any

import pytest

from greenkeeper.control import carried_over, fresh, make_plan
from greenkeeper.model import Request
from tests.control.houses import START, Player, settings

RATED = 1000
OUTPUTS: dict[str, Any] = {
    "heater": {"kind": "gpio", "pin": 17, "min_on_s": 0, "min_off_s": 0, "rated_operations": RATED},
    "fan": {"kind": "gpio", "pin": 23},
}
PLAN = make_plan(settings(outputs=OUTPUTS))


def worn(operations: int) -> Player:
    """A house whose heater relay has switched on so often in earlier runs."""
    house = Player(PLAN, operations={"heater": operations, "long-gone": 5})
    house.settle(10.0)
    return house


def switch_on(house: Player) -> set[tuple[str, str, str]]:
    """Let the heater switch on once; the (code, phase, text) that follow."""
    first = len(house.ticks)
    for temp_c in (7.5, 4.9, 4.9, 6.0, 6.0):
        house.bench(temp_c)
    return {
        (event.code, event.phase.value, event.text)
        for tick in house.ticks[first:]
        for event in tick.events
        if event.subject == "heater"
    }


def test_the_count_goes_on_where_an_earlier_run_left_it():
    house = worn(41)
    switch_on(house)
    assert house.memory.outputs["heater"].operations == 42
    assert house.memory.outputs["fan"].operations == 0


@pytest.mark.parametrize(
    ("before", "told"),
    [
        (RATED // 2 - 2, set()),
        (RATED // 2 - 1, {("relay-half-worn", "noted", "500 of 1000 switchings")}),
        (RATED // 2, set()),
    ],
)
def test_half_a_life_is_noted_once_when_it_is_reached(before, told):
    assert switch_on(worn(before)) == told


@pytest.mark.parametrize(("before", "stands"), [(798, False), (799, True), (5000, True)])
def test_four_fifths_of_a_life_are_a_warning_that_stands(before, stands):
    house = worn(before)
    switch_on(house)
    assert (("relay-worn", "heater") in house.memory.alarms) is stands


def test_a_new_relay_is_counted_from_nothing():
    house = worn(900)
    tick = house.bench(10.0, requests=(Request(new_relay="heater"),))
    assert [(e.code, e.phase.value, e.text) for e in tick.events if e.subject == "heater"] == [
        ("relay-worn", "cleared", "900 of 1000 switchings"),
        ("relay-renewed", "noted", "counted from nothing, after 900 switchings"),
    ]
    assert tick.memory.outputs["heater"].operations == 0
    assert ("relay-worn", "heater") not in tick.memory.alarms


def test_an_unknown_relay_is_refused_by_name():
    tick = worn(0).bench(10.0, requests=(Request(new_relay="boiler"),))
    (event,) = [e for e in tick.events if e.code == "relay-unknown"]
    assert (event.subject, event.text) == ("boiler", "no zone uses an output of this name")


def test_a_new_relay_is_no_latch():
    tick = worn(0).bench(10.0, requests=(Request(new_relay="heater"),))
    assert not [e for e in tick.events if e.code.startswith("latch")]


@pytest.mark.parametrize("kept", [True, False])
def test_new_settings_do_not_forget_it(kept):
    house = worn(41)
    after = carried_over(house.memory, PLAN, house.now, outputs_kept=kept)
    assert after.outputs["heater"].operations == 41


def test_modelled_outputs_do_not_wear():
    plan = make_plan(settings())
    assert not plan.gear.lives
    assert fresh(plan, START).outputs["heater"].operations == 0
