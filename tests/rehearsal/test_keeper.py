"""A tick that is not put to control would have been answered as the last one was.

Every rehearsal here is lived through twice, once with every single tick asked for, and must
come out the same to the last digit: what it leaves to the next tick, and all that it tells.
"""

from typing import Any
from unittest import mock

import pytest
from hypothesis import HealthCheck, example, given
from hypothesis import settings as with_settings
from hypothesis import strategies as st

from greenkeeper import control
from greenkeeper.control import calm
from greenkeeper.house.invented_year import InventedYear
from greenkeeper.house.weather import Weather
from greenkeeper.model import Memory, Tick
from greenkeeper.rehearsal.faults import KINDS, Fault
from greenkeeper.rehearsal.keeper import Keeper
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.run import Span, rehearse
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.settings.schema import Settings
from tests.rehearsal.houses import DAY_S, JANUARY, Fixed, settings

HOURS = 4


def lived_through(
    found: Settings, weather: Weather, begins: float, fault: Fault | None, *, every_tick: bool
) -> tuple[Result, Memory, int]:
    """The result, the memory after its last tick, and how often control was asked."""
    keepers: list[Keeper] = []
    asked = 0

    def made(*arguments: Any) -> Keeper:
        keepers.append(Keeper(*arguments))
        return keepers[-1]

    def step(*arguments: Any, **more: Any) -> Tick:
        nonlocal asked
        asked += 1
        return real_step(*arguments, **more)

    def next_tick(memory: Memory, now: Any) -> float:
        return float(now.mono_s)

    real_step = control.step
    stage = stage_of(found, None)._replace(weather=weather)
    with (
        mock.patch("greenkeeper.rehearsal.run.Keeper", made),
        mock.patch("greenkeeper.rehearsal.run.LEAD_S", 3600.0),
        mock.patch("greenkeeper.rehearsal.run.LIVED_IN_S", 7200.0),
        mock.patch("greenkeeper.control.step", step),
        mock.patch.object(calm, "lasts_until_s", next_tick if every_tick else calm.lasts_until_s),
    ):
        result = rehearse(found, stage, Span(begins, begins + HOURS * 3600.0), fault=fault)
    return result._replace(took_s=0.0), keepers[0].memory, asked


def greenhouse(poll_s: int, setpoint_c: float, night_c: float, fan: bool, probe: bool) -> Settings:
    """The demo's, whose zone may be cooled, and seen by one probe or by two. A probe that does
    not move for a quarter of an hour is held to be frozen, if another has moved a little."""
    found = settings(poll_s=poll_s, wax_vent=None if fan else {"from_c": 16.0, "open_c": 22.0})
    written = found.model_dump(exclude_unset=True, by_alias=True)
    written["night"] = {"from": "20:02", "to": "07:00"}  # between two looks at a poll of 25 s
    zone = written["zones"]["bench"]
    zone["heat"] |= {"setpoint_c": setpoint_c, "night_setpoint_c": night_c}
    zone["heat"].pop("setpoint", None)
    if not fan:
        zone.pop("cool", None)
    for each in written["probes"].values():
        each |= {"frozen_s": 905.0, "frozen_k": 0.3}
    if probe:
        zone["probes"] = zone["probes"][:1]
    return Settings.model_validate(written)


@with_settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    poll_s=st.sampled_from([10, 12, 25, 60]),
    setpoint_c=st.floats(2.0, 12.0),
    night_c=st.floats(2.0, 12.0),
    fan=st.booleans(),
    one_probe=st.booleans(),
    seed=st.integers(0, 1000),
    day=st.integers(0, 364),
    hour=st.integers(0, 23),
    fault=st.sampled_from([None, None, *KINDS]),
)
@example(10, 5.0, 5.0, False, False, 1, 170, 3, None)  # hardly ever anything to decide
@example(60, 5.0, 5.0, True, False, 1, 170, 3, "power-cut")
def test_what_is_not_asked_for_would_have_changed_nothing(
    poll_s: int, setpoint_c: float, night_c: float, fan: bool, one_probe: bool,
    seed: int, day: int, hour: int, fault: str | None,
) -> None:  # fmt: skip
    found = greenhouse(poll_s, setpoint_c, night_c, fan, one_probe)
    begins = JANUARY + day * DAY_S + hour * 3600.0
    broken = Fault(fault, begins + 5400.0, begins + 9000.0) if fault else None
    weather = InventedYear(seed=seed, spread_k=7.0)
    full = lived_through(found, weather, begins, broken, every_tick=True)
    quick = lived_through(found, weather, begins, broken, every_tick=False)
    assert quick[:2] == full[:2]
    assert quick[2] <= full[2]


def test_when_nothing_moves_the_night_begins_no_tick_later() -> None:
    found = greenhouse(25, 5.0, 15.0, False, False)
    begins = JANUARY + 17 * 3600.0  # two hours and two minutes before
    never = {name: each.model_copy(update={"frozen_s": 0.0}) for name, each in found.probes.items()}
    found = found.model_copy(update={"probes": never})
    full, quick = (
        lived_through(found, Fixed(12.0), begins, None, every_tick=each) for each in (True, False)
    )
    assert quick[:2] == full[:2]
    assert quick[0].kwh > 0.0
    assert quick[2] < full[2]


def test_in_a_mild_night_most_ticks_need_not_be_asked_for() -> None:
    found = greenhouse(10, 5.0, 5.0, False, False)
    begins = JANUARY + 170 * DAY_S
    asked = [
        lived_through(found, InventedYear(), begins, None, every_tick=each)[2]
        for each in (True, False)
    ]
    assert asked[0] == (HOURS + 1) * 360
    assert asked[1] < 0.4 * asked[0]


@pytest.mark.parametrize("passed_s", [10.0, 50.0])
def test_memory_is_made_up_to_the_tick_before(passed_s: float) -> None:
    """Also where nothing was asked for after the last tick: the end of a rehearsal."""
    found = greenhouse(10, 5.0, 5.0, False, False)
    begins = JANUARY + 170 * DAY_S
    _, memory, _ = lived_through(found, InventedYear(), begins, None, every_tick=False)
    assert memory.last is not None
    later = memory.last._replace(mono_s=memory.last.mono_s + passed_s)
    carried = calm.carried(memory, later)
    assert carried.last == later
    assert {probe.good_s for probe in carried.probes.values()} == {later.mono_s}
