"""Alarms are raised once, last as long as their cause, and do not flap."""

from greenkeeper.control import alarms
from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Condition, Fault, Now
from tests.control.houses import Player, codes

BLIND = Condition("zone-blind", "bench", "none can be trusted")


def course(*present: bool, step_s: float = 10.0):
    """The (code, phase) told at each tick of a condition that comes and goes."""
    board, told = {}, []
    for i, here in enumerate(present):
        now = Now(i * step_s, 1e9 + i * step_s, True)
        board, events = alarms.advance(board, [BLIND] if here else [], now)
        told.append([event.phase.value for event in events])
    return board, told


def test_a_condition_is_told_once_when_it_has_lasted():
    after = CATALOGUE["zone-blind"].raise_after_s
    _, told = course(*[True] * 12)
    assert [i * 10.0 for i, phases in enumerate(told) if phases] == [after]


def test_a_condition_that_goes_before_its_time_is_never_told():
    board, told = course(*[True] * 5, *[False] * 5)
    assert not any(told)
    assert not board


def test_an_alarm_ends_once_its_cause_has_been_gone_for_a_while():
    _, told = course(*[True] * 8, *[False] * 10)
    assert [phases for phases in told if phases] == [["raised"], ["cleared"]]
    gone_at, cleared_at = 8, next(i for i, p in enumerate(told) if p == ["cleared"])
    assert (cleared_at - gone_at) * 10.0 == CATALOGUE["zone-blind"].clear_after_s


def test_a_cause_that_comes_and_goes_keeps_one_alarm_standing():
    _, told = course(*[True] * 8, *[False, True] * 20)
    assert [phases for phases in told if phases] == [["raised"]]


def test_a_quiet_house_allocates_no_board():
    board = {}
    assert alarms.advance(board, [], Now(0.0, 0.0, True)) == (board, [])


def test_a_zone_without_a_trusted_probe_is_an_alarm_that_names_the_probes():
    player = Player()
    told = [codes(player.bench(Fault.MISSING)) for _ in range(10)]
    assert ("zone-blind", "raised") in set().union(*told)
    (event,) = [e for t in player.ticks for e in t.events if e.code == "zone-blind"]
    assert event.text == "bench-left, bench-right: none can be trusted"


def test_plants_below_their_minimum_are_named_with_the_limit():
    player = Player()
    for _ in range(40):
        player.bench(3.5)
    texts = [e.text for t in player.ticks for e in t.events if e.code == "below-minimum"]
    assert texts == ["bench-left 3.5 °C, lemon wants 4.0 °C"]


def test_plants_above_their_maximum_are_named_with_the_limit():
    player = Player()
    for _ in range(40):
        player.bench(31.0)
    texts = [e.text for t in player.ticks for e in t.events if e.code == "above-maximum"]
    assert texts == ["bench-right 31.0 °C, lemon stands 30.0 °C"]


def test_what_the_shell_reports_becomes_an_alarm_like_any_other():
    player = Player()
    report = (Condition("journal-failing", "journal", "the card is full"),)
    told = [codes(player.bench(10.0, reports=report)) for _ in range(5)]
    assert ("journal-failing", "raised") in set().union(*told)
    assert player.memory.alarms["journal-failing", "journal"].active


def test_a_clock_that_was_set_is_noted_and_changes_no_duration():
    player = Player()
    player.settle(6.0)
    player.bench(4.9)
    player.now = player.now._replace(utc_s=player.now.utc_s - 86_400.0)
    tick = player.bench(4.9)
    (event,) = tick.events
    assert (event.code, event.text) == ("clock-jumped", "by -86400 s")
    assert tick.memory.outputs["heater"].since_s == player.now.mono_s - 10.0


def test_an_unset_clock_is_noticed_and_ends_when_it_is_set():
    player = Player(start=Now(0.0, 0.0, clock_trusted=False))
    for _ in range(40):
        player.bench(10.0)
    assert player.memory.alarms["clock-unset", "clock"].active
    player.now = player.now._replace(clock_trusted=True)
    assert ("clock-unset", "cleared") in codes(player.bench(10.0))
