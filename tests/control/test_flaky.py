"""A probe whose readings fail too often is told of while it still counts."""

import pytest

from greenkeeper.control import make_plan
from greenkeeper.control.flaky import HOUR_S, counted
from greenkeeper.model import Failures, Fault
from tests.control.houses import ONE_ZONE, Player, codes, settings

PER_HOUR = 360.0  # readings, at the default poll
LIMIT = 36.0  # a tenth of them


def failing(per_mille: int, for_s: float, fault: Fault = Fault.CHECKSUM, **probe) -> Player:
    """A house in which this share of bench-left's readings fails, spread evenly."""
    probes = {**ONE_ZONE["probes"]}
    probes["bench-left"] = {**probes["bench-left"], **probe}
    player = Player(make_plan(settings(probes=probes)))
    player.settle(8.0)
    go_on(player, per_mille, for_s, fault)
    return player


def go_on(player: Player, per_mille: int, for_s: float, fault: Fault = Fault.CHECKSUM) -> None:
    due = 0
    for _ in range(int(for_s / 10.0)):
        due += per_mille
        fails, due = due >= 1000, due % 1000
        player.tick({"bench-left": fault if fails else 8.0, "bench-right": 8.0})


def told(player: Player) -> list[tuple[str, str]]:
    """(code, phase) of all flaky events of the player's life."""
    events = [event for tick in player.ticks for event in tick.events]
    return [(e.subject, e.phase.value) for e in events if e.code == "probe-flaky"]


@pytest.mark.parametrize(("count", "told"), [(35, False), (36, False), (37, True)])
def test_more_than_the_limit_are_too_many(count, told):
    failures = None
    for _ in range(count):
        failures = counted(failures, Fault.CHECKSUM, 100.0, LIMIT)
    assert failures is not None
    assert failures.told is told


@pytest.mark.parametrize(("left", "still_told"), [(18.1, True), (17.9, False)])
def test_once_told_it_holds_until_half_the_limit(left, still_told):
    before = Failures({Fault.CHECKSUM: left}, 100.0, told=True)
    assert counted(before, Fault.CHECKSUM, 100.0, LIMIT).told is still_told


def test_a_count_fades_to_an_e_th_in_an_hour():
    failures = Failures({Fault.CHECKSUM: 27.18281828}, 0.0, told=False)
    assert counted(failures, Fault.MISSING, HOUR_S, LIMIT).counts == pytest.approx(
        {Fault.CHECKSUM: 10.0, Fault.MISSING: 1.0}
    )


@pytest.mark.parametrize("per_mille", [50, 100, 333])
def test_a_steady_share_settles_at_what_an_hour_counts(per_mille):
    failures = failing(per_mille, 5 * HOUR_S).memory.probes["bench-left"].failures
    assert failures is not None
    assert sum(failures.counts.values()) == pytest.approx(per_mille / 1000 * PER_HOUR, abs=2.0)


@pytest.mark.parametrize(("per_mille", "is_told"), [(90, False), (120, True)])
def test_it_is_told_above_a_tenth_and_not_below(per_mille, is_told):
    player = failing(per_mille, 5 * HOUR_S)
    assert told(player) == ([("bench-left", "raised")] if is_told else [])


def test_the_message_says_how_many_and_what_is_commonest():
    player = failing(250, 5 * HOUR_S)
    go_on(player, 250, 600.0, Fault.MISSING)
    text = player.memory.alarms["probe-flaky", "bench-left"].alarm.text
    assert text == ("in the last hour about 90 of 360 readings failed, most often: checksum")


def test_it_ends_once_the_share_is_half_the_limit_and_is_told_once_only():
    player = failing(150, 4 * HOUR_S)
    go_on(player, 70, 8 * HOUR_S)
    assert told(player) == [("bench-left", "raised")]
    go_on(player, 0, 2 * HOUR_S)
    assert told(player) == [("bench-left", "raised"), ("bench-left", "cleared")]


def test_a_few_failures_just_after_the_start_are_no_tenth_of_an_hour():
    assert told(failing(500, 300.0)) == []


def test_the_share_is_the_owners_choice():
    assert told(failing(120, 5 * HOUR_S, flaky_share=0.2)) == []
    assert told(failing(40, 5 * HOUR_S, flaky_share=0.02)) == [("bench-left", "raised")]


def test_a_share_of_one_is_never_told():
    assert told(failing(750, 5 * HOUR_S, flaky_share=1.0)) == []


def test_a_probe_that_is_lost_altogether_has_its_own_code_and_not_this_one():
    player = failing(0, 60.0)
    for _ in range(400):
        player.tick({"bench-left": Fault.MISSING, "bench-right": 8.0})
    assert told(player) == []
    assert ("probe-missing", "raised") in {c for tick in player.ticks for c in codes(tick)}


def test_readings_that_jump_and_come_back_count_as_failed():
    player = Player()
    player.settle(8.0)
    for number in range(1000):
        jumped = number % 5 == 0
        player.tick({"bench-left": 20.0 if jumped else 8.0, "bench-right": 8.0})
    assert "most often: jumped" in player.memory.alarms["probe-flaky", "bench-left"].alarm.text


def test_what_is_kept_is_bounded_however_long_it_fails():
    player = failing(300, 600.0)
    for fault in Fault:
        go_on(player, 300, 600.0, fault)
    failures = player.memory.probes["bench-left"].failures
    assert failures is not None
    assert len(failures.counts) <= len(Fault)
