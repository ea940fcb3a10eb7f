"""Who is told what, and when: at once where it matters, little where it does not."""

import pytest

from greenkeeper.alarms.ledger import MOST_ENTRIES, Urgency
from greenkeeper.errors import Level
from tests.alarms.watched import NIGHT, TICK_S, Watched

COLD = ("below-minimum", "bench")
BLIND = ("zone-blind", "shelf")
WEAK = ("heater-at-limit", "heater")  # a warning
MUTE = ("probe-missing", "ridge")  # a warning


def subjects(entries):
    return [(each.code, each.subject) for each in entries]


# --- an alarm -----------------------------------------------------------------------------


@pytest.mark.parametrize("begin", [NIGHT, NIGHT - 12 * 3600.0], ids=["night", "day"])
def test_an_alarm_is_told_in_the_tick_in_which_it_comes(begin):
    house = Watched(begin)
    house.pass_time(60)
    house.alarm(*COLD)
    house.tick()
    assert subjects(house.ledger.on_its_way.new) == [COLD]
    assert house.ledger.on_its_way.urgency is Urgency.FIRST


def test_a_cold_night_is_one_message_and_one_when_it_worsens_and_one_when_it_is_over():
    """It flickers about the limit, the heater is at its end, nobody need be woken again."""
    house = Watched(NIGHT)
    house.beyond_k[COLD] = 0.2
    house.alarm(*COLD)
    house.tick()
    house.see("below-minimum-bench")
    for minute in range(240):
        if minute == 30:
            house.alarm(*WEAK)
        if minute % 7 == 3:
            house.end(*COLD)
        elif minute % 7 == 5:
            house.alarm(*COLD)
        house.beyond_k[COLD] = 2.5 if minute > 100 else 0.2 + minute / 100
        house.pass_time(60)
    house.end(*COLD)
    house.end(*WEAK)
    house.pass_time(4 * 3600)
    first, worse, over = house.letters
    assert subjects(first.new) == [COLD]
    assert subjects(worse.worse) == [COLD]
    assert subjects(worse.new) == [WEAK]  # a line of the alarm's letter, not one of its own
    assert sorted(subjects(over.over)) == sorted([COLD, WEAK])
    assert not over.still


def test_an_alarm_is_told_again_until_somebody_has_seen_it():
    house = Watched(NIGHT)
    house.alarm(*COLD)
    house.pass_time(3 * 3600 + 300)
    assert [len(each.again) for each in house.letters] == [0, 1, 1, 1]
    house.see("below-minimum-bench")
    house.pass_time(6 * 3600)
    assert len(house.letters) == 4


def test_all_is_a_name_for_everything_that_stands():
    house = Watched()
    house.alarm(*COLD)
    house.alarm(*BLIND)
    house.tick()
    house.see("all")
    house.pass_time(3 * 3600)
    assert len(house.letters) == 1


def test_another_name_is_no_answer():
    house = Watched()
    house.alarm(*COLD)
    house.tick()
    house.see("below-minimum-shelf")
    house.pass_time(3600 + 60)
    assert len(house.letters) == 2


def test_what_comes_back_after_it_was_over_has_not_been_seen():
    house = Watched(most_an_hour=60)
    house.alarm(*COLD)
    house.tick()
    house.see("all")
    house.end(*COLD)
    house.pass_time(1800 + 60)
    assert subjects(house.letters[-1].over) == [COLD]
    house.alarm(*COLD)
    house.pass_time(60)
    assert subjects(house.letters[-1].new) == [COLD]
    house.pass_time(3600)
    assert subjects(house.letters[-1].again) == [COLD]


def test_an_alarm_that_came_and_went_while_nobody_could_be_reached_is_still_told():
    house = Watched()
    house.reachable = False
    house.alarm(*COLD)
    house.pass_time(600)
    house.end(*COLD)
    house.pass_time(600)
    assert house.letters == []
    house.reachable = True
    house.pass_time(30)
    assert subjects(house.letters[0].over) == [COLD]


def test_what_was_seen_and_is_long_over_is_not_seen_when_it_comes_back_unknown_to_anybody():
    house = Watched()
    house.alarm(*COLD)
    house.tick()
    house.see("all")
    house.reachable = False
    house.end(*COLD)
    house.pass_time(3600)
    house.alarm(*COLD)
    house.pass_time(60)
    house.reachable = True
    house.pass_time(3700)
    assert subjects(house.letters[-1].again) == [COLD]


def test_an_alarm_that_returns_while_its_end_is_on_its_way_is_told_anew():
    house = Watched()
    house.alarm(*COLD)
    house.tick()
    house.end(*COLD)
    house.takes_ticks = 3
    house.pass_time(1800 + 2 * TICK_S)
    assert subjects(house.ledger.on_its_way.over) == [COLD]
    house.alarm(*COLD)
    house.pass_time(120)
    assert subjects(house.letters[-1].new) == [COLD]


def test_growing_worse_is_told_by_steps_and_not_for_every_tenth():
    house = Watched(NIGHT, repeat_s=86400.0)
    house.alarm(*COLD)
    for tenth in range(61):
        house.beyond_k[COLD] = tenth / 10
        house.pass_time(60)
    assert [round(each.worse[0].beyond_k, 1) for each in house.letters[1:]] == [2.0, 4.0, 6.0]


# --- what is less than an alarm -------------------------------------------------------------


def test_warnings_gather_into_one_message():
    house = Watched()
    house.alarm(*WEAK)
    house.pass_time(120)
    house.alarm(*MUTE)
    house.pass_time(1200)
    (letter,) = house.letters
    assert sorted(subjects(letter.new)) == sorted([WEAK, MUTE])


def test_a_warning_waits_for_the_morning_and_then_is_told_with_what_became_of_it():
    house = Watched(NIGHT)
    house.alarm(*WEAK)
    house.alarm(*MUTE)
    house.pass_time(3600)
    house.end(*WEAK)
    house.pass_time(6 * 3600)
    assert house.letters == []  # 06:03
    house.pass_time(3600)
    (letter,) = house.letters
    assert subjects(letter.new) == [MUTE]
    assert subjects(letter.over) == [WEAK]


def test_a_warning_is_told_along_with_a_nightly_alarm():
    house = Watched(NIGHT)
    house.alarm(*WEAK)
    house.pass_time(3600)
    house.alarm(*COLD)
    house.pass_time(60)
    (letter,) = house.letters
    assert subjects(letter.new) == [COLD, WEAK]


def test_nothing_is_held_back_while_nobody_knows_the_hour():
    house = Watched(NIGHT, clock_trusted=False)
    house.alarm(*WEAK)
    house.pass_time(400)
    assert len(house.letters) == 1


def test_without_quiet_hours_a_warning_is_told_at_night():
    house = Watched(NIGHT, quiet=None)
    house.alarm(*WEAK)
    house.pass_time(400)
    assert len(house.letters) == 1


def test_quiet_hours_within_one_day_end_as_well():
    house = Watched(quiet=(10 * 60, 12 * 60))  # it is 11:03
    house.alarm(*WEAK)
    house.pass_time(3300)
    assert house.letters == []
    house.pass_time(300)
    assert len(house.letters) == 1


def test_a_warning_is_not_repeated():
    house = Watched()
    house.alarm(*WEAK)
    house.pass_time(9 * 3600)
    assert len(house.letters) == 1


@pytest.mark.parametrize(
    ("level", "told"), [(Level.NOTICE, 2), (Level.WARNING, 1), (Level.ALARM, 0)]
)
def test_below_the_level_asked_for_nobody_is_told(level, told):
    house = Watched(tell_from=level, gather_s=0.0)
    house.alarm("door-open", "bench")
    house.pass_time(60)
    house.alarm(*WEAK)
    house.pass_time(60)
    assert len(house.letters) == told


# --- single happenings ----------------------------------------------------------------------


def test_a_happening_is_told_once():
    house = Watched()
    house.happen("keeper-failed", "orchard-house")
    house.pass_time(3 * 3600)
    (letter,) = house.letters
    assert subjects(letter.happened) == [("keeper-failed", "orchard-house")]


def test_one_that_happens_all_the_time_is_counted():
    house = Watched(gather_s=300.0)
    for _ in range(20):
        house.happen("ran-too-long", "heater")
    house.pass_time(600)
    assert [each.happened[0].happened for each in house.letters] == [20]


def test_one_that_happens_again_while_its_letter_is_on_its_way_is_told_again():
    house = Watched(gather_s=0.0)
    house.takes_ticks = 4
    house.happen("ran-too-long", "heater")
    house.happen("ran-too-long", "heater")
    house.happen("ran-too-long", "heater")
    house.pass_time(120)
    assert [each.happened[0].happened for each in house.letters] == [1, 2]


@pytest.mark.parametrize("most", [1, 2, 5])
def test_in_no_hour_are_there_more_than_the_most(most):
    house = Watched(gather_s=0.0, quiet=None, most_an_hour=most)
    for number in range(36):  # every five minutes another one
        house.alarm("probe-missing", f"probe-{number}")
        house.pass_time(300)
    times = [each.utc_s for each in house.sent]
    assert all(sum(end - 3600.0 < each <= end for each in times) <= most for end in times)
    assert len(times) == 3 * most
    house.pass_time(3600)
    assert sum(len(each.new) for each in house.letters) == 36


def test_a_failing_that_comes_every_minute_does_not_fill_the_hour_with_messages():
    house = Watched()
    for _ in range(60):
        house.happen("keeper-failed", "orchard-house")
        house.pass_time(50)
    assert len(house.letters) <= house.rules.most_an_hour + 1


def test_answers_to_somebody_at_a_terminal_are_not_sent_after_them():
    house = Watched(tell_from=Level.NOTICE, gather_s=0.0)
    house.happen("latch-kept", "nonsense")
    house.happen("latch-cleared", "over-ceiling-bench")
    house.pass_time(600)
    assert house.letters == []


def test_happenings_without_number_are_bounded_and_owned_up_to():
    house = Watched()
    for number in range(MOST_ENTRIES + 30):
        house.happen("settings-refused", f"invented-{number}")
    assert len(house.ledger.entries) <= MOST_ENTRIES
    house.pass_time(3600)
    assert (
        sum(each.untold for each in house.letters)
        + sum(len(each.happened) for each in house.letters)
        == MOST_ENTRIES + 30
    )
    assert house.ledger.untold == 0
