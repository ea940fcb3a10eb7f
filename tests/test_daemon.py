"""The loop: every way out leaves the outputs off, and nobody can make it wait or stop."""

import json
import threading

import pytest

from greenkeeper import control, daemon, learned_file, morning_file
from greenkeeper.assembly import Hardware, HardwareRefusedError, Parts
from greenkeeper.broker.exchange import Exchange
from greenkeeper.clock import HandClock
from greenkeeper.control.figures import ANYBODYS
from greenkeeper.daemon import Keeper
from greenkeeper.errors import GreenkeeperError
from greenkeeper.inbox import Inbox, ask
from greenkeeper.keepsakes import Keepsakes, Kept
from greenkeeper.learned import FIGURES, Estimate, Learned, Notice, Unknown
from greenkeeper.learned import Kept as KeptLearned
from greenkeeper.learned_file import Notices
from greenkeeper.model import Fault, Latch, Morning, Phase, Reading, Request
from greenkeeper.outlook_file import Newest
from greenkeeper.outputs.recorder import RecorderDriver
from greenkeeper.outputs.switchboard import Switchboard
from greenkeeper.probes.collector import Collector, ContactCollector
from greenkeeper.settings.schema import Plant
from greenkeeper.status import StatusFile
from greenkeeper.wear import Wear
from tests.control.houses import settings, zone


class Course:
    """Both bench probes follow a list of temperatures, one a tick; the last one stays."""

    blocking = False
    names = ("bench-left", "bench-right", "ridge", "outdoors")

    def __init__(self, clock, temps):
        self._clock = clock
        self._temps = list(temps)
        self.reads = 0

    def read(self):
        temp = self._temps[min(self.reads, len(self._temps) - 1)]
        self.reads += 1
        if isinstance(temp, Exception):
            raise temp
        now_s = self._clock.mono_s()
        if isinstance(temp, Fault):
            return {name: Reading(now_s, None, temp) for name in self.names}
        return {name: Reading(now_s, temp) for name in self.names}

    def close(self):
        pass


class Witness:
    """A journal, a broker and a viewer at once: keeps what it is told."""

    def __init__(self):
        self.ticks, self.events, self.closed = [], [], []

    def record(self, tick):
        self.ticks.append(tick)

    publish = record

    def note(self, event):
        self.events.append(event)

    def conditions(self):
        return ()

    def close(self, *args, **kwargs):
        self.closed.append((args, kwargs))

    def codes(self):
        return [event.code for event in self.events]


class Rig:
    def __init__(self, tmp_path, temps, **changes):
        self.clock = HandClock(utc_s=1.8e9)
        self.settings = settings(**changes)
        self.drivers = {name: RecorderDriver(name, self.clock) for name in ("heater", "fan")}
        self.course = Course(self.clock, temps)
        self.journal = Witness()
        self.runtime = tmp_path
        self.parts = Parts(
            settings_file=tmp_path / "house.yaml",
            settings=self.settings,
            version="0",
            plan=control.make_plan(self.settings),
            collector=Collector([self.course], self.clock, 5.0),
            contacts=ContactCollector([], self.clock, 5.0),
            switchboard=Switchboard(self.drivers, self.clock),
            journal=self.journal,
            exchange=Exchange(),
            broker=None,
            keepsakes=Keepsakes(tmp_path / "keepsakes.json"),
            wear=Wear(tmp_path / "wear.json"),
            learned=Notices(tmp_path / "learned.json", self.clock),
            outlook=Newest(tmp_path / "outlooks.jsonl", self.clock),
            morning=morning_file.Newest(tmp_path / morning_file.FILE_NAME, self.clock),
            inbox=Inbox(tmp_path),
            status_file=StatusFile(tmp_path),
            troubles=(),
            started_s=self.clock.mono_s(),
        )

    def keeper(self, **arguments):
        return Keeper(self.parts, self.clock, **arguments)

    def live(self, seconds, **arguments):
        keeper = self.keeper(**arguments)
        keeper.run(until_s=self.clock.mono_s() + seconds)
        return keeper


@pytest.fixture
def rig(tmp_path):
    made = []

    def make(temps, **changes):
        made.append(Rig(tmp_path, temps, **changes))
        return made[-1]

    yield make
    for each in made:
        each.parts.switchboard.close()


def test_heats_when_it_is_cold_and_stops_when_it_is_warm(rig):
    house = rig([6.0] * 8 + [4.9] * 8 + [5.6] * 8)
    house.live(230.0)
    house.drivers["heater"].assert_history(
        [(1080.0, True), (1160.0, False), (1240.0, False)]  # the last one: closed
    )


def test_ticks_keep_their_rhythm(rig):
    house = rig([10.0])
    house.live(100.0)
    assert [tick.now.mono_s for tick in house.journal.ticks] == [1000.0 + 10 * i for i in range(11)]


def test_a_storm_of_reloads_does_not_put_the_next_tick_off(rig):
    """Each one brings a tick at once; what is due then is still the next tick of the rhythm."""
    house = rig([10.0])
    keeper = house.keeper(rebuild=lambda parts, clock: parts)
    turn = house.clock.wait_until
    house.clock.wait_until = lambda due_s, wake: None if wake.is_set() else turn(due_s, wake)

    class Impatient:
        def show(self, tick, document):
            if 1020.0 <= tick.now.mono_s < 1030.0:
                house.clock.advance(0.5)
                keeper.reload()

    keeper._viewer = Impatient()
    keeper.run(until_s=1100.0)
    times = [tick.now.mono_s for tick in house.journal.ticks]
    assert times == sorted(
        {*(1000.0 + 10 * i for i in range(11)), *(1020.0 + i / 2 for i in range(20))}
    )


def test_missed_ticks_are_not_made_up_for(rig):
    house = rig([10.0])
    keeper = house.keeper()

    class Slow:
        def show(self, tick, document):
            if tick.now.mono_s == 1020.0:
                house.clock.advance(35.0)

    keeper._viewer = Slow()
    keeper.run(until_s=1090.0)
    times = [tick.now.mono_s for tick in house.journal.ticks]
    assert times == [1000.0, 1010.0, 1020.0, 1060.0, 1070.0, 1080.0, 1090.0]


def test_a_start_without_any_valid_probe_comes_up_with_outputs_off_and_an_alarm(rig):
    house = rig([Fault.MISSING])
    house.live(200.0)
    assert not any(on for _, on in house.drivers["heater"].history)
    codes = {event.code for tick in house.journal.ticks for event in tick.events}
    assert {"zone-blind", "probe-missing"} <= codes


def test_a_driver_that_throws_blinds_its_probes_and_nothing_else(rig):
    house = rig([10.0] * 3 + [RuntimeError("a bug")] * 10 + [10.0])
    house.live(200.0)
    assert len(house.journal.ticks) == 21
    assert house.journal.codes() == ["keeper-started", "keeper-stopped"]


class Vouched:
    """In place of the enable line: remembers until when it was vouched for, and when."""

    def __init__(self, clock):
        self.words, self.stills, self._clock = [], 0, clock

    def vouch(self, until_s):
        self.words.append((self._clock.mono_s(), until_s))

    def still(self):
        self.stills += 1

    def conditions(self):
        return ()

    close = conditions


def test_the_loop_vouches_for_itself_once_a_round_is_finished(rig):
    house = rig([10.0])
    line = Vouched(house.clock)
    house.parts = house.parts._replace(
        switchboard=Switchboard(house.drivers, house.clock, enable=line)
    )
    keeper = house.keeper()

    class Slow:
        def show(self, tick, document):
            if tick.now.mono_s == 1020.0:
                house.clock.advance(5.0)  # a round that takes its time, to its very end

    keeper._viewer = Slow()
    keeper.run(until_s=1030.0)
    lease_s = house.settings.lease_s
    assert line.words == [(at_s, at_s + lease_s) for at_s in (1000.0, 1010.0, 1025.0, 1030.0)]
    assert line.stills >= 1


def test_a_round_that_is_not_finished_is_not_vouched_for(rig):
    house = rig([10.0])
    line = Vouched(house.clock)
    house.parts = house.parts._replace(
        switchboard=Switchboard(house.drivers, house.clock, enable=line)
    )
    keeper = house.keeper()

    def bug(commands):
        raise RuntimeError("a bug")

    house.parts.switchboard.apply = bug
    with pytest.raises(RuntimeError):
        keeper.run(until_s=1030.0)
    assert line.words == []


def test_when_the_loop_fails_every_output_is_off_and_it_says_so(rig):
    house = rig([4.0])
    collect = house.parts.collector.collect

    def broken():
        if house.clock.mono_s() == 1100.0:
            assert house.drivers["heater"].on
            raise RuntimeError("out of memory, say")
        return collect()

    house.parts.collector.collect = broken
    with pytest.raises(RuntimeError):
        house.live(300.0)
    assert not house.drivers["heater"].on
    assert house.drivers["heater"].closed
    assert "keeper-failed" in house.journal.codes()
    assert house.journal.closed[0][1] == {"clean": False}


def test_a_stop_that_cannot_switch_an_output_off_does_not_claim_it_did(rig):
    house = rig([4.0])
    house.drivers["heater"].fail_at(2, lasting=True)
    house.live(100.0)
    last = house.journal.events[-1]
    assert (last.code, last.text) == ("keeper-stopped", "NOT SURELY OFF: heater")


class Mute(Witness):
    """Everything it is asked to do fails."""

    def record(self, *args, **kwargs):
        raise ValueError("a listener's bug")

    publish = note = conditions = close = show = write = remove = take = save = beat = record
    ready = alive = stopping = orders = record


def test_no_listeners_exception_reaches_the_loop(rig):
    house = rig([6.0] * 8 + [4.9] * 8 + [5.6] * 8)
    mute = Mute()
    house.parts = house.parts._replace(
        journal=mute, broker=mute, keepsakes=Keepsaker(mute), inbox=mute, status_file=mute,
        alarms=mute, heartbeat=mute,
    )  # fmt: skip
    keeper = house.live(230.0, viewer=mute, notifier=mute)
    house.drivers["heater"].assert_history([(1080.0, True), (1160.0, False), (1240.0, False)])
    failed = {subject for code, subject in keeper.memory.alarms if code == "part-failed"}
    assert failed == {
        "journal", "broker", "keepsakes", "inbox", "status", "screen", "service manager",
        "alarms", "heartbeat",
    }  # fmt: skip


class Keepsaker:
    """Loads once, for the keeper cannot be made without; then as its mute."""

    def __init__(self, mute):
        self.save, self.conditions = mute.save, mute.conditions

    def load(self):
        return Kept({})


def test_a_listener_that_fails_once_is_told_of_and_the_message_ends(rig):
    house = rig([10.0])

    class Stumbles:
        def show(self, tick, document):
            if tick.now.mono_s == 1050.0:
                raise RuntimeError("once")

    house.live(500.0, viewer=Stumbles())
    told = [
        (tick.now.mono_s, event.phase.value, event.subject, event.text)
        for tick in house.journal.ticks
        for event in tick.events
        if event.code == "part-failed"
    ]
    text = "screen show: RuntimeError('once')"
    assert told == [(1060.0, "raised", "screen", text), (1370.0, "cleared", "screen", text)]


def test_stopping_leaves_every_output_off_and_no_status_that_looks_alive(rig):
    house = rig([4.0])
    house.live(100.0)
    assert not house.drivers["heater"].on
    assert all(driver.closed for driver in house.drivers.values())
    assert not (house.runtime / "status.json").exists()
    assert house.journal.codes()[-1] == "keeper-stopped"


def test_an_output_that_cannot_be_switched_is_an_alarm_and_the_others_go_on(rig):
    house = rig([4.0])
    house.drivers["heater"].fail_at(1, lasting=True)
    house.live(150.0)
    raised = [(event.code, event.subject) for tick in house.journal.ticks for event in tick.events]
    assert ("output-failed", "heater") in raised


def test_the_status_file_is_whole_json_at_every_tick(rig):
    house = rig([4.0, Fault.MISSING, 4.0])
    seen = []

    class Reader:
        def show(self, tick, document):
            seen.append(json.loads((house.runtime / "status.json").read_text()))

    house.live(60.0, viewer=Reader())
    assert [status["utc_s"] for status in seen] == [1.8e9 + 10 * i for i in range(7)]
    assert seen[-1]["probes"]["bench-left"] == {
        "temp_c": 4.0, "age_s": 0.0, "fault": None, "detail": "",
    }  # fmt: skip


def test_a_latch_survives_the_run_and_is_cleared_by_a_request(rig, tmp_path):
    Keepsakes(tmp_path / "keepsakes.json").save(
        {"over-ceiling-bench": Latch("over-ceiling", "bench", "it was hot", 1.7e9)}
    )
    house = rig([4.0])
    house.live(100.0)
    assert not any(on for _, on in house.drivers["heater"].history)

    again = rig([4.0])

    class Person:
        """Asks once the keeper has seen that it is cool: from its second tick on."""

        def show(self, tick, document):
            if again.course.reads == 2:
                ask(tmp_path, Request("over-ceiling-bench"))

    again.live(100.0, viewer=Person())
    assert any(on for _, on in again.drivers["heater"].history)
    assert Keepsakes(tmp_path / "keepsakes.json").load() == Kept({})


def test_switchings_survive_the_run(rig, tmp_path):
    rig([4.0]).live(100.0)
    assert dict(Wear(tmp_path / "wear.json").load()) == {"heater": 1, "fan": 0}
    again = rig([4.0])
    keeper = again.live(100.0)
    assert keeper.memory.outputs["heater"].operations == 2
    assert dict(Wear(tmp_path / "wear.json").load())["heater"] == 2


def test_a_persons_word_on_a_new_relay_is_kept(rig, tmp_path):
    rig([4.0]).live(100.0)
    again = rig([10.0])
    ask(tmp_path, Request(new_relay="heater"))
    again.live(50.0)
    assert dict(Wear(tmp_path / "wear.json").load())["heater"] == 0


def test_a_changed_house_is_told_as_a_notice_and_control_goes_on(rig, tmp_path):
    figures = dict.fromkeys(FIGURES, Unknown("nobody looked"))
    changed = Notice("loss-changed", "the house loses more than before: up 25 %")
    learned = Learned(1.8e9, 1.7e9, 1.8e9, 9, "bench", "heater", None, **figures)
    house = rig([4.0])
    learned_file.write(tmp_path / "learned.json", KeptLearned(learned._replace(notices=(changed,))))
    house.live(100.0)
    events = [event for tick in house.journal.ticks for event in tick.events]
    (told,) = (event for event in events if event.code == "loss-changed")
    assert (told.phase, told.subject, told.text) == (Phase.RAISED, "bench", changed.text)
    assert any(on for _, on in house.drivers["heater"].history)


def test_heat_in_proportion_goes_by_what_was_learned_last_night(rig, tmp_path):
    figures = dict.fromkeys(FIGURES, Unknown("nobody looked"))
    figures |= {
        "fast_s": Estimate(600.0, 60.0),
        "air_kj_per_k": Estimate(90.0, 9.0),
        "lag_s": Estimate(240.0, 20.0),
    }
    learned = Learned(1.8e9, 1.7e9, 1.8e9, 9, "bench", "heater", 1200.0, **figures)
    house = rig([4.0])
    heat = house.settings.zones["bench"].heat.model_copy(update={"strategy": "proportion"})
    bench = house.settings.zones["bench"].model_copy(update={"heat": heat})
    settings = house.settings.model_copy(update={"zones": {"bench": bench}})
    house.parts = house.parts._replace(settings=settings, plan=control.make_plan(settings))
    keeper = house.live(100.0)
    assert keeper.parts.plan.zones[0].pulses.figures == ANYBODYS
    learned_file.write(tmp_path / "learned.json", KeptLearned(learned))
    keeper.run(until_s=house.clock.mono_s() + 700.0)
    assert keeper.parts.plan == control.make_plan(settings, learned)
    assert keeper.parts.plan.zones[0].pulses.figures.gain_k == pytest.approx(8.0)


def test_a_clear_dawn_is_left_to_the_sun_by_the_forecast_that_is_kept(rig, tmp_path):
    house = rig([4.6])
    heat = {"strategy": "proportion", "leave_dawn_to_sun": True, "setpoint_c": 4.5}
    bench = house.settings.zones["bench"]
    bench = bench.model_copy(update={"heat": bench.heat.model_copy(update=heat)})
    plant = Plant(name="lemon", zone="bench", min_c=4.0)
    settings = house.settings.model_copy(update={"zones": {"bench": bench}, "plants": (plant,)})
    house.parts = house.parts._replace(settings=settings, plan=control.make_plan(settings))
    keeper = house.live(100.0)
    assert house.journal.ticks[-1].zones[0].heat_setpoint_c == 4.5
    sunrise = 1.8e9 + 3600.0
    file = tmp_path / morning_file.FILE_NAME
    morning_file.write(file, Morning(sunrise - 8 * 3600.0, sunrise, 0.1))
    keeper.run(until_s=house.clock.mono_s() + 200.0)
    assert house.journal.ticks[-1].zones[0].heat_setpoint_c == 4.25
    file.write_text("{")
    keeper.run(until_s=house.clock.mono_s() + 200.0)
    assert house.journal.ticks[-1].zones[0].heat_setpoint_c == 4.5


def test_refused_settings_leave_the_old_ones_and_say_why(rig):
    house = rig([10.0])

    def refuse(parts, clock):
        raise GreenkeeperError("house.yaml:3:5 zones.bench: found 9")

    keeper = house.keeper(rebuild=refuse)
    keeper.reload()
    keeper.run(until_s=1050.0)
    assert keeper.parts == house.parts
    assert house.journal.events[1].code == "settings-refused"
    assert house.journal.events[1].text == "house.yaml:3:5 zones.bench: found 9"


def test_new_settings_hold_from_the_next_tick_and_running_heat_goes_on(rig):
    house = rig([4.0])
    warmer = settings(zones=zone(heat={"output": "heater", "setpoint_c": 3.0}))

    def accept(parts, clock):
        return parts._replace(settings=warmer, plan=control.make_plan(warmer))

    keeper = house.keeper(rebuild=accept)

    class Owner:
        def show(self, tick, document):
            if tick.now.mono_s == 1150.0:
                keeper.reload()

    keeper._viewer = Owner()
    keeper.run(until_s=1200.0)
    assert house.drivers["heater"].history[0] == (1060.0, True)
    assert house.drivers["heater"].history[1] == (1160.0, False)
    assert "settings-changed" in house.journal.codes()


def test_outputs_made_anew_start_off_and_wait_their_minimum_off_time(rig):
    house = rig([4.0])
    fresh = {name: RecorderDriver(name, house.clock) for name in ("heater", "fan")}

    def swap(parts, clock):
        parts.switchboard.close()
        board = Switchboard(fresh, clock)
        kept = Hardware(parts.collector, parts.contacts, board)
        raise HardwareRefusedError("pin 17 is busy", kept)

    keeper = house.keeper(rebuild=swap)

    class Owner:
        def show(self, tick, document):
            if tick.now.mono_s == 1150.0:
                keeper.reload()

    keeper._viewer = Owner()
    keeper.run(until_s=1250.0)
    assert fresh["heater"].history[0] == (1220.0, True)
    assert "settings-refused" in house.journal.codes()


def test_a_stop_that_the_loop_does_not_follow_drives_the_outputs_off_without_it(rig, monkeypatch):
    monkeypatch.setattr(daemon, "STOP_GRACE_S", 0.05)
    house = rig([4.0])
    stuck, let_go = threading.Event(), threading.Event()

    class Hang:
        def show(self, tick, document):
            if tick.now.mono_s == 1100.0:
                stuck.set()
                let_go.wait(10.0)

    keeper = house.keeper(viewer=Hang())
    loop = threading.Thread(target=keeper.run, kwargs={"until_s": 1200.0})
    loop.start()
    assert stuck.wait(10.0)
    assert house.drivers["heater"].on
    keeper.stop()
    assert keeper.force_off_unless_finished()
    assert not house.drivers["heater"].on
    let_go.set()
    loop.join(10.0)
    assert not loop.is_alive()
