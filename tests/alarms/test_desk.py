"""The desk: what is due goes out, what does not arrive is tried again, nobody waits."""

import json
from itertools import pairwise

import pytest

from greenkeeper.alarms.courier import Delivery, Outcome
from greenkeeper.alarms.desk import FAILING, Desk, beyond_limits
from greenkeeper.alarms.ledger_file import FILE_NAME
from greenkeeper.alarms.rules import make_rules
from greenkeeper.model import Event, Fault, Now, Phase, Request
from tests.alarms.watched import NIGHT
from tests.support.ticks import make_alarm, make_settings, make_tick

ALARMS = {"addresses_file": "/nowhere/addresses"}
COLD = make_alarm("below-minimum", "bench")


class PretendCourier:
    """Carries everything at once, to two addresses; `works` says which of them take it."""

    def __init__(self):
        self.errands = []
        self.works = {1: True, 2: True}
        self.fault = None
        self.outcome = None
        self.hurries = True
        self.closed = False

    @property
    def free(self):
        return self.outcome is None

    def go(self, errand):
        self.errands.append(errand)
        chosen = errand.only or tuple(self.works)
        self.outcome = (
            Outcome((), self.fault)
            if self.fault
            else Outcome(
                tuple(
                    Delivery(n, "json", self.works[n], "" if self.works[n] else "not taken")
                    for n in chosen
                    if n in self.works
                ),
                None,
            )
        )

    def collect(self):
        if not self.hurries:
            return None
        outcome, self.outcome = self.outcome, None
        return outcome

    def close(self, patience_s):
        self.closed = True

    @property
    def titles(self):
        return [errand.post.title.partition(": ")[2] for errand in self.errands]


class Office:
    """A desk, its courier, and time that passes tick by tick."""

    def __init__(self, folder, courier=None, now=None, **alarms):
        self.settings = make_settings(alarms={**ALARMS, **alarms})
        self.folder = folder
        self.courier = courier or PretendCourier()
        self.now = now or Now(5000.0, NIGHT, True)
        self.desk = Desk(self.settings, folder, self.now, courier=self.courier)
        self.alarms = []

    def tick(self, *requests):
        tick = make_tick(self.settings, now=self.now, alarms=self.alarms)
        self.seen = self.desk.take(tick, requests)
        self.now = self.now._replace(mono_s=self.now.mono_s + 10.0, utc_s=self.now.utc_s + 10.0)

    def pass_time(self, seconds):
        for _ in range(round(seconds / 10)):
            self.tick()


@pytest.fixture
def office(tmp_path):
    return Office(tmp_path)


def test_an_alarm_goes_out_in_its_tick(office):
    office.tick()
    assert office.courier.errands == []
    office.alarms = [COLD]
    office.tick()
    (errand,) = office.courier.errands
    assert errand.file == "/nowhere/addresses"
    assert errand.only is None
    assert "plants below their minimum" in errand.post.title


def test_while_one_is_on_its_way_there_is_no_other(office):
    office.courier.hurries = False
    office.alarms = [COLD]
    office.tick()
    office.alarms = [COLD, make_alarm("no-response", "heater")]
    office.pass_time(7200)
    assert len(office.courier.errands) == 1
    office.courier.hurries = True
    office.pass_time(20)
    assert "heat does not arrive" in office.courier.titles[1]


def test_what_reaches_nobody_is_tried_again_less_and_less_often_and_told_as_a_condition(office):
    office.courier.fault = "there is no network"
    office.alarms = [COLD]
    times = []
    for _ in range(360):
        before = len(office.courier.errands)
        office.tick()
        times += [office.now.mono_s] * (len(office.courier.errands) - before)
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert gaps == sorted(gaps)
    assert gaps[0] <= 30.0
    assert 300.0 <= gaps[-1] <= 310.0
    (condition,) = office.desk.conditions()
    assert (condition.code, condition.subject) == (FAILING, "alarms")
    assert "there is no network" in condition.text
    office.courier.fault = None
    office.pass_time(320)
    assert office.desk.conditions() == ()


def test_a_new_alarm_does_not_wait_for_the_next_try(office):
    office.courier.fault = "there is no network"
    office.alarms = [COLD]
    office.pass_time(3600)
    before = len(office.courier.errands)
    office.courier.fault = None
    office.alarms = [COLD, make_alarm("no-response", "heater")]
    office.tick()
    assert len(office.courier.errands) == before + 1
    assert "heat does not arrive" in office.courier.errands[-1].post.body


def test_an_address_that_fails_holds_up_nobody_and_gets_what_it_missed(office):
    office.courier.works[2] = False
    office.alarms = [COLD]
    office.tick()
    office.pass_time(20)
    (condition,) = office.desk.conditions()
    assert "address 2 (json): not taken" in condition.text
    office.alarms = [COLD, make_alarm("no-response", "heater")]
    office.pass_time(600)
    assert {errand.only for errand in office.courier.errands} == {None, (2,)}
    assert [e.post.title for e in office.courier.errands if e.only is None] != []
    office.courier.works[2] = True
    office.pass_time(3700)
    assert office.desk.conditions() == ()
    last = [errand for errand in office.courier.errands if errand.only == (2,)][-1]
    assert "heat does not arrive" in last.post.title
    assert "Missed before:" in last.post.body
    assert "plants below their minimum" in last.post.body


def test_an_address_taken_out_of_the_file_is_forgotten(office):
    office.courier.works[2] = False
    office.alarms = [COLD]
    office.tick()
    del office.courier.works[2]
    office.pass_time(60)
    assert office.desk.conditions() == ()


def test_what_an_address_misses_is_bounded(office):
    office.courier.works[2] = False
    office.desk.use(make_settings(alarms={**ALARMS, "repeat_s": 600.0}))
    office.alarms = [COLD]
    office.pass_time(3 * 3600)  # a reminder every ten minutes
    assert len(office.desk._missed[2].posts) == 10


def test_seen_is_shown_and_stops_the_reminders(office):
    office.alarms = [COLD]
    office.pass_time(60)
    assert office.seen == frozenset()
    office.tick(Request(seen="below-minimum-bench"))
    assert office.seen == {("below-minimum", "bench")}
    office.pass_time(3 * 3600)
    assert len(office.courier.errands) == 1


def test_seen_and_told_outlive_a_restart(office):
    office.alarms = [COLD]
    office.pass_time(60)
    office.tick(Request(seen="all"))
    office.desk.close(office.now)
    assert office.courier.closed
    # After a reboot the monotonic clock begins anew, and control needs a while.
    again = Office(office.folder, now=Now(12.0, office.now.utc_s + 60.0, True))
    again.pass_time(300)
    again.alarms = [COLD]
    again.pass_time(3 * 3600)
    assert again.courier.errands == []
    assert again.seen == {("below-minimum", "bench")}


def test_what_was_not_told_before_a_restart_is_told_after_it(office):
    office.courier.fault = "there is no network"
    office.alarms = [COLD]
    office.pass_time(60)
    office.desk.note(
        Event("keeper-failed", Phase.NOTED, "house", "oops", office.now.mono_s, office.now.utc_s)
    )
    office.desk.close(office.now)
    again = Office(office.folder, now=Now(12.0, office.now.utc_s + 60.0, True))
    again.tick()
    body = again.courier.errands[0].post.body
    assert "the keeper failed (oops)" in body
    assert "not met again since the keeper's restart" in body


def test_an_alarm_that_is_not_met_again_after_a_restart_is_told_as_over_in_the_end(office):
    office.alarms = [COLD]
    office.pass_time(60)
    office.desk.close(office.now)
    again = Office(office.folder, now=Now(12.0, office.now.utc_s + 60.0, True))
    again.pass_time(3500)
    assert again.courier.titles == []
    again.pass_time(200)
    assert again.courier.titles == ["all clear"]


def test_a_program_that_fails_over_and_over_does_not_tell_it_every_time(tmp_path):
    now, courier = Now(5000.0, NIGHT, True), PretendCourier()
    for _ in range(60):  # an hour
        office = Office(tmp_path, courier, now)
        office.pass_time(60)
        office.desk.note(
            Event("keeper-failed", Phase.NOTED, "house", "x", office.now.mono_s, office.now.utc_s)
        )
        office.desk.close(office.now)
        now = office.now
    assert len(courier.errands) <= 7


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"[" * 5000,
        b'{"format": 1}',
        b'{"format": 2, "entries": [], "sent_utc_s": [], "lately": []}',
        b'{"format": 1, "entries": [{"code": "no-such"}], "sent_utc_s": [], "lately": []}',
        b'{"format": 1, "entries": [], "sent_utc_s": [NaN], "lately": []}',
        b'{"format": 1, "entries": [], "sent_utc_s": [1e300], "lately": []}',
        b"\xff\xfe",
    ],
)
def test_a_damaged_file_costs_a_repetition_and_no_alarm(tmp_path, content):
    (tmp_path / FILE_NAME).write_bytes(content)
    office = Office(tmp_path)
    (condition,) = office.desk.conditions()
    assert condition.code == "keepsakes-failing"
    office.alarms = [COLD]
    office.pass_time(20)
    assert len(office.courier.errands) == 1
    assert office.desk.conditions() == ()  # written anew
    assert json.loads((tmp_path / FILE_NAME).read_text())["entries"][0]["code"] == "below-minimum"


def test_a_card_that_takes_no_file_is_told_and_stops_nothing(tmp_path):
    office = Office(tmp_path / "no-such-folder")
    office.alarms = [COLD]
    office.pass_time(30)
    assert len(office.courier.errands) == 1
    (condition,) = office.desk.conditions()
    assert condition.code == "keepsakes-failing"


def test_the_card_is_written_when_something_is_told_and_not_at_every_tick(office, monkeypatch):
    writes = []
    from greenkeeper import files

    really = files.replace
    monkeypatch.setattr(files, "replace", lambda *a, **k: (writes.append(a), really(*a, **k)))
    for minute in range(60):
        office.alarms = [COLD._replace(text=f"minute {minute}")]
        office.pass_time(60)
    assert len(writes) <= 4


def test_new_settings_take_effect_and_keep_what_was_told(office):
    office.alarms = [COLD]
    office.pass_time(60)
    office.desk.use(make_settings(alarms={"addresses_file": "/other", "repeat_s": 600.0}))
    office.pass_time(600)
    assert [errand.file for errand in office.courier.errands] == ["/nowhere/addresses", "/other"]


def test_how_far_plants_are_beyond_their_limits_is_known_by_zone():
    plants = [{"name": "lemon", "zone": "bench", "min_c": 4.0, "max_c": 30.0}]
    settings = make_settings(plants=plants, alarms=ALARMS)
    rules = make_rules(settings)
    tick = make_tick(settings, {"bench": 2.5, "ridge": 33.0, "outdoors": 1.0})
    assert beyond_limits(tick, rules) == {
        ("below-minimum", "bench"): 1.5,
        ("above-maximum", "bench"): 3.0,
    }
    blind = make_tick(settings, {"bench": Fault.MISSING, "ridge": Fault.MISSING})
    assert beyond_limits(blind, rules) == {}
