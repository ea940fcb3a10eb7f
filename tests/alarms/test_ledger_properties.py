"""Whatever happens, in whatever order, with whatever luck of the post: the three promises.

1. No alarm is ever lost: what stood for one tick is named in a letter that arrives.
2. Never more than most_an_hour letters in any hour, but for first words of an alarm.
3. An alarm's first word is handed over within a minute of there being a way to.
"""

import tempfile
from itertools import pairwise
from pathlib import Path

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from greenkeeper.alarms.ledger import HOUR_S, Urgency
from greenkeeper.errors import CATALOGUE, Level
from tests.alarms.watched import NIGHT, NOON, Watched

THINGS = [
    ("below-minimum", "bench"),
    ("below-minimum", "shelf"),
    ("zone-blind", "bench"),
    ("no-response", "heater"),
    ("heater-at-limit", "heater"),
    ("probe-missing", "ridge"),
    ("door-open", "bench"),
]
HAPPENINGS = [("keeper-failed", "house"), ("ran-too-long", "heater")]

ACTS = st.one_of(
    st.tuples(st.just("raise"), st.sampled_from(THINGS)),
    st.tuples(st.just("end"), st.sampled_from(THINGS)),
    st.tuples(st.just("happen"), st.sampled_from(HAPPENINGS)),
    st.tuples(st.just("see"), st.sampled_from(["all", "below-minimum-bench", "nonsense"])),
    st.tuples(st.just("deepen"), st.floats(-5.0, 12.0)),
    st.tuples(st.just("reach"), st.booleans()),
    st.tuples(st.just("slow"), st.integers(1, 6)),
    st.tuples(st.just("wait"), st.sampled_from([10, 50, 300, 1800, 4000])),
)


RESTARTS = st.tuples(st.just("restart"), st.none())


def play(house: Watched, acts) -> set:
    """All that a person would have to be told of."""
    owed = set()
    for word, what in acts:
        if word == "restart":
            with tempfile.TemporaryDirectory() as folder:
                house.restart(Path(folder))
        elif word == "raise":
            house.alarm(*what)
            house.tick()
            if CATALOGUE[what[0]].level >= house.rules.tell_from:
                owed.add(what)
        elif word == "end":
            house.end(*what)
        elif word == "happen":
            house.happen(*what)
            owed.add(what)
        elif word == "see":
            house.see(what)
        elif word == "deepen":
            house.beyond_k["below-minimum", "bench"] = what
        elif word == "reach":
            house.reachable = what
        elif word == "slow":
            house.takes_ticks = what
        else:
            house.pass_time(what)
    return owed


@settings(max_examples=150, deadline=None)
@given(
    acts=st.lists(ACTS, max_size=40), most=st.integers(1, 6), begin=st.sampled_from([NOON, NIGHT])
)
def test_no_alarm_is_lost_none_floods_and_none_waits(acts, most, begin):
    house = Watched(begin, most_an_hour=most)
    owed = play(house, acts)
    house.reachable = True
    house.takes_ticks, house.tick_s = 1, 300.0
    house.pass_time(18 * 3600)  # whatever is quiet ends, whatever waits for its turn has it
    told = {each.key for letter in house.letters for each in letter.entries}
    assert owed <= told
    no_flood(house, most)


@settings(max_examples=100, deadline=None)
@given(acts=st.lists(st.one_of(ACTS, RESTARTS), max_size=40), most=st.integers(1, 6))
def test_a_restart_now_and_then_changes_none_of_that(acts, most):
    house = Watched(NIGHT, most_an_hour=most)
    owed = play(house, acts)
    house.reachable = True
    house.takes_ticks, house.tick_s = 1, 300.0
    house.pass_time(18 * 3600)
    told = {each.key for letter in house.letters for each in letter.entries}
    assert owed <= told
    no_flood(house, most)


def no_flood(house: Watched, most: int) -> None:
    ordinary = [each for each in house.sent if each.letter.urgency is not Urgency.FIRST]
    for first, last in zip(ordinary, ordinary[most:], strict=False):
        assert last.utc_s - first.utc_s >= HOUR_S
    for key in {entry.key for each in house.sent for entry in each.letter.entries}:
        firsts = [
            each.utc_s
            for each in house.sent
            if each.letter.urgency is Urgency.FIRST
            and any(e.key == key and e.told_s is None for e in each.letter.entries)
            and CATALOGUE[key[0]].level is Level.ALARM
        ]
        # Of one alarm there is one first word an hour. (It may stand as new in another's.)
        alone = [
            each for each in house.sent if each.utc_s in firsts and len(_hurrying(each.letter)) == 1
        ]
        for one, other in pairwise(alone):
            assert other.utc_s - one.utc_s >= HOUR_S


def _hurrying(letter) -> list:
    return [
        entry for entry in letter.entries if entry.level is Level.ALARM and entry.told_s is None
    ]


@settings(max_examples=100, deadline=None)
@given(acts=st.lists(ACTS, max_size=30), thing=st.sampled_from(THINGS[:4]))
def test_a_new_alarm_is_handed_over_within_a_minute_whatever_went_before(acts, thing):
    house = Watched(NIGHT, most_an_hour=1)
    play(house, [act for act in acts if act != ("raise", thing)])
    house.reachable, house.takes_ticks = True, 1
    assume(thing not in house.ledger.entries)  # it is new,
    assume(thing not in house.ledger.lately_s)  # and was not told within the hour
    house.alarm(*thing)
    house.pass_time(60)
    assert any(
        entry.key == thing and entry.told_s is None
        for letter in [*house.letters, house.ledger.on_its_way]
        if letter is not None
        for entry in letter.new
    )


@settings(max_examples=100, deadline=None)
@given(acts=st.lists(ACTS, max_size=60))
def test_the_ledger_stays_small(acts):
    house = Watched(most_an_hour=60)
    house.reachable = False
    play(house, acts)
    assert len(house.ledger.entries) <= len(THINGS) + len(HAPPENINGS)
    assert len(house.ledger.lately_s) <= len(THINGS) + len(HAPPENINGS)
