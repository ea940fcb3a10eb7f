"""A heater that never rests is made to, told of, and let go on."""

import pytest

from greenkeeper.control import make_plan
from greenkeeper.model import Fault
from tests.control.houses import ONE_ZONE, Player, codes, on, reason, settings


def running(**heater) -> Player:
    """A house whose heater came on in its last tick and will be wanted for ever."""
    outputs = {**ONE_ZONE["outputs"], "heater": {**ONE_ZONE["outputs"]["heater"], **heater}}
    house = Player(make_plan(settings(outputs=outputs)))
    house.settle(10.0)
    for temp_c in (7.5, 4.5):
        house.bench(temp_c)
    assert on(house.ticks[-1], "heater")
    return house


@pytest.mark.parametrize(("longest_on_s", "ticks"), [(600.0, 59), (605.0, 60), (610.0, 60)])
def test_it_rests_once_it_has_run_for_as_long_as_it_may(longest_on_s, ticks):
    house = running(longest_on_s=longest_on_s)
    seen = [on(house.bench(4.5), "heater") for _ in range(ticks + 7)]
    assert seen == [True] * ticks + [False] * 6 + [True]


def test_it_is_told_once_with_how_long_and_why():
    house = running(longest_on_s=3600.0)
    for _ in range(365):
        house.bench(4.5)
    told = [event for tick in house.ticks for event in tick.events if event.code == "ran-too-long"]
    assert [(event.subject, event.phase.value, event.text) for event in told] == [
        (
            "heater",
            "noted",
            "on for 1.0 h without a pause (bench-left 4.5 °C is at or below 5.0 °C)",
        )
    ]
    off = next(tick for tick in house.ticks if ("ran-too-long", "noted") in codes(tick))
    assert reason(off, "heater").startswith("rests for 60 s: on for 1.0 h without a pause")


def test_a_heater_may_run_for_twelve_hours_unless_told_otherwise():
    house = running()
    seen = [on(house.bench(4.5, after_s=20.0), "heater") for _ in range(12 * 180)]
    assert seen.index(False) == 12 * 180 - 1


def test_a_fan_has_no_longest_run_of_its_own_accord():
    house = Player()
    house.settle(24.0)
    for _ in range(15 * 180):
        tick = house.bench(27.0, after_s=20.0)
    assert on(tick, "fan")


def test_pauses_begin_the_count_anew():
    house = running(longest_on_s=600.0)
    for _ in range(5):
        for temp_c in (*[4.5] * 50, *[5.6] * 10):
            assert ("ran-too-long", "noted") not in codes(house.bench(temp_c))


def test_what_ends_just_then_for_another_reason_is_not_told():
    house = running(longest_on_s=600.0)
    for _ in range(59):
        house.bench(4.5)
    assert not on(house.bench(5.6), "heater")
    assert not any(("ran-too-long", "noted") in codes(tick) for tick in house.ticks)
    house.bench(Fault.MISSING)
