"""What a person reads, half asleep, on a telephone."""

from greenkeeper.alarms.letter import FAILURE, INFO, SUCCESS, WARNING, write
from tests.alarms.watched import NIGHT, RULES, Watched
from tests.support.ticks import make_latch, make_settings, make_tick

SETTINGS = make_settings()
COLD_HOUSE = {"bench": 3.9375, "ridge": 4.5, "outdoors": -7.25}


def post(house, *, on=("heater",)):
    tick = make_tick(SETTINGS, COLD_HOUSE, now=house.now, on=on)
    return write(house.ledger.on_its_way or house.letters[-1], tick, RULES)


def cold_night():
    house = Watched(NIGHT)
    house.alarm("below-minimum", "bench", "bench 3.9 °C, lemon wants 5.0 °C")
    house.tick()
    return house


def test_an_alarm_says_where_what_how_much_since_when_and_how_it_stands():
    told = post(cold_night())
    assert told.title == "orchard-house: bench: plants below their minimum"
    assert told.kind == FAILURE
    assert told.body == (
        "ALARM, bench: plants below their minimum (bench 3.9 °C, lemon wants 5.0 °C), "
        "since 23:03.\n"
        "\n"
        "Now: bench 3.9 °C; heater on.\n"
        "\n"
        "Told again until somebody says:  greenkeeper seen below-minimum-bench"
    )


def test_several_at_once_have_one_title_and_one_way_to_say_seen():
    house = Watched(NIGHT)
    house.alarm("below-minimum", "bench")
    house.alarm("no-response", "heater")
    house.tick()
    told = post(house)
    assert told.title == "orchard-house: bench: plants below their minimum, and 1 more"
    assert told.body.endswith("greenkeeper seen all")


def test_a_lock_out_says_how_it_is_cleared():
    house = Watched(NIGHT)
    house.alarm("over-ceiling", "bench")
    house.tick()
    tick = make_tick(SETTINGS, now=house.now, latches=[make_latch("over-ceiling", "bench")])
    told = write(house.ledger.on_its_way, tick, RULES)
    assert told.body.endswith(
        "Told again until somebody says:  greenkeeper seen over-ceiling-bench\n"
        "\n"
        "Locked out until somebody has looked, and then says:\n"
        "  greenkeeper clear over-ceiling-bench"
    )


def test_the_title_counts_alarms_and_not_what_comes_along():
    house = Watched(NIGHT)
    house.alarm("heater-at-limit", "heater")
    house.alarm("below-minimum", "bench")
    house.tick()
    told = post(house)
    assert told.title == "orchard-house: bench: plants below their minimum"
    assert "warning, heater: heater is at its limit" in told.body


def test_a_reminder_says_that_it_is_one():
    house = cold_night()
    house.pass_time(3600 + 20)
    told = post(house)
    assert told.title == "orchard-house: still: bench: plants below their minimum"
    assert told.body.startswith("ALARM, still, bench: plants below their minimum")
    assert "since Thu 15 Jan 23:03" in told.body  # it is past midnight
    assert told.kind == FAILURE


def test_all_clear_says_from_when_to_when():
    house = cold_night()
    house.pass_time(600)
    house.end("below-minimum", "bench")
    house.pass_time(1900)
    told = post(house, on=())
    assert told.title == "orchard-house: all clear"
    assert told.kind == SUCCESS
    assert told.body == (
        "over, bench: plants below their minimum, 23:03 to 23:13.\n\nNow: bench 3.9 °C; nothing on."
    )


def test_nothing_is_all_clear_while_something_stands():
    house = cold_night()
    house.alarm("no-response", "heater")
    house.tick()
    house.see("no-response-heater")
    house.end("below-minimum", "bench")
    house.pass_time(2000)
    told = post(house)
    assert told.title == "orchard-house: over: bench: plants below their minimum"
    assert told.kind == INFO
    assert "ALARM, known, seen, heater: heat does not arrive" in told.body


def test_times_are_right_although_the_clock_was_set_since():
    house = Watched(1000.0, clock_trusted=False)  # just after the start, in 1970
    house.reachable = False
    house.alarm("below-minimum", "bench")
    house.pass_time(600)
    house.now = house.now._replace(utc_s=NIGHT + 600.0, clock_trusted=True)
    assert "since 23:03" in post(house).body


def test_warnings_are_warnings_and_no_time_is_named_by_a_clock_that_is_not_set():
    house = Watched(NIGHT, clock_trusted=False)
    house.alarm("heater-at-limit", "heater", "on for 3 h of the last 3")
    house.pass_time(400)
    told = post(house)
    assert told.kind == WARNING
    assert told.body.splitlines()[0] == (
        "warning, heater: heater is at its limit (on for 3 h of the last 3)."
    )
    assert "seen" not in told.body  # warnings are not repeated: there is nothing to stop


def test_happenings_are_told_with_their_number():
    house = Watched(NIGHT)
    house.reachable = False
    house.happen("keeper-failed", "orchard-house", "RuntimeError('oops')")
    house.happen("keeper-failed", "orchard-house", "RuntimeError('oops')")
    house.reachable = True
    house.pass_time(30)
    told = post(house)
    assert told.title == "orchard-house: the keeper failed"
    assert told.body.splitlines()[0] == (
        "ALARM, orchard-house: the keeper failed (RuntimeError('oops')), 2 times, first at 23:03."
    )
