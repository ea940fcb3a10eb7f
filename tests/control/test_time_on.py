"""How long each output was on: counted spell by spell, and never beyond a permission."""

import pytest
from hypothesis import given
from hypothesis import settings as rule
from hypothesis import strategies as st

from greenkeeper.control import carried_over, make_plan
from greenkeeper.model import OutputMemory
from tests.control.houses import Player, on, settings


def heater(player: Player) -> OutputMemory:
    return player.memory.outputs["heater"]


def test_time_on_adds_up_spell_by_spell() -> None:
    player = Player()
    for temp_c, ticks in ((6.0, 10), (4.9, 12), (6.0, 20), (4.9, 12), (6.0, 20)):
        for _ in range(ticks):
            player.bench(temp_c)
    seconds_on = 10.0 * sum(on(tick, "heater") for tick in player.ticks)
    assert seconds_on > 200.0
    assert heater(player).on_s(player.now.mono_s) == pytest.approx(seconds_on)


def test_a_spell_whose_permission_ran_out_counts_up_to_there() -> None:
    player = Player()
    for _ in range(10):
        player.bench(4.9)
    assert heater(player).on
    began_s = heater(player).since_s
    until_s = heater(player).until_s
    assert until_s is not None
    player.bench(4.9, after_s=5000.0)
    assert heater(player).on_s(player.now.mono_s) == pytest.approx(until_s - began_s)


def test_outputs_made_anew_keep_what_was_counted() -> None:
    player = Player()
    for _ in range(15):
        player.bench(4.9)
    counted_s = heater(player).on_s(player.now.mono_s)
    assert counted_s > 0.0
    plan = make_plan(settings())
    after = carried_over(player.memory, plan, player.now, outputs_kept=False)
    assert after.outputs["heater"].on_s(player.now.mono_s) == counted_s


@rule(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 12.0), st.floats(1.0, 400.0)), max_size=30))
def test_time_on_never_shrinks_nor_outruns_the_clock(course: list[tuple[float, float]]) -> None:
    player = Player()
    began_s, before_s = player.now.mono_s, 0.0
    for temp_c, after_s in course:
        player.bench(temp_c, after_s=after_s)
        now_s = player.now.mono_s
        counted_s = heater(player).on_s(now_s)
        assert before_s - 1e-6 <= counted_s <= now_s - began_s + 1e-6
        before_s = counted_s
