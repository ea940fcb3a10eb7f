"""Everything between keeper and broker breaks, in turn. Control never notices; the state
on the broker is whole again as soon as there is a broker.
"""

import gc
import itertools
import subprocess
import sys
import threading
import time
import tracemalloc
from pathlib import Path
from typing import Any

import pytest

from greenkeeper.broker.client import client_id
from greenkeeper.broker.link import Link
from greenkeeper.model import Tick
from tests.broker.house import QUICK, ROOT, STATE, Keeper, seen, wait_until_complete
from tests.support.gate import Gate
from tests.support.homie_traffic import KILLED, TAKEN_OVER, Mark, Recording, findings
from tests.support.mosquitto import Mosquitto, free_port
from tests.support.ticks import MILD, NOW, later, make_alarm
from tests.support.waiting import eventually

TEMPERATURE = f"{ROOT}/probe-bench/temperature"


def network_threads() -> list[threading.Thread]:
    return [each for each in threading.enumerate() if each.name == "broker"]


# --- the keeper dies -----------------------------------------------------------------


def test_a_killed_keeper_is_reported_lost_by_its_will(hub: Mosquitto) -> None:
    with hub.recorder() as recorder:
        victim = subprocess.Popen(
            [sys.executable, "-m", "tests.broker.publisher", str(hub.port)],
            cwd=Path(__file__).parents[2],
            stdout=subprocess.DEVNULL,
        )
        try:
            recorder.wait_for(STATE, "ready")
            alive = len(recorder.records)
        finally:
            victim.kill()
            victim.wait(timeout=20)
        recorder.wait_for(STATE, "lost")
        records = recorder.records
    assert seen(hub)["$state"] == "lost"
    late, marks = hub.retained(f"{ROOT}/#"), [Mark(KILLED, alive)]
    walked = Recording(records, late, hub.log(), client=client_id(ROOT), marks=marks)
    assert findings(walked) == []


# --- the broker goes and comes -------------------------------------------------------


def test_a_broker_that_comes_later_gets_everything(hub: Mosquitto) -> None:
    hub.stop()
    with Keeper(hub.port) as keeper:
        keeper.tick()
        keeper.wait_for_trouble("broker-lost", "nothing listens there")
        hub.start()
        wait_until_complete(hub)
        keeper.wait_until_well()


@pytest.mark.parametrize("how", ["stop", "kill"])
def test_a_broker_with_an_empty_store_is_told_everything_again(hub: Mosquitto, how: str) -> None:
    with Keeper(hub.port) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        getattr(hub, how)()
        keeper.wait_for_trouble("broker-lost", "")
        keeper.tick({**MILD, "bench": 4.5})
        hub.start()
        wait_until_complete(hub)
        assert seen(hub)["probe-bench/temperature"] == "4.50"
        keeper.wait_until_well()


@pytest.mark.parametrize(
    ("code", "condition", "words"),
    [
        (0x8B, "broker-lost", "it is shutting down (MQTT reason 0x8B)"),
        (0x8E, "broker-refused", "another client signed in as this keeper"),
        (0x87, "broker-refused", "not authorised"),
    ],
)
def test_a_broker_that_says_goodbye_is_understood(
    hub: Mosquitto, code: int, condition: str, words: str
) -> None:
    pace = QUICK._replace(first_retry_s=60.0)
    with Gate(hub.port) as gate, Keeper(gate.port, pace=pace) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        gate.say(bytes([0xE0, 2, code, 0]))  # DISCONNECT (MQTT 5.0, 3.14)
        keeper.wait_for_trouble(condition, words)


def test_what_changed_while_the_broker_was_away_is_deleted_there_on_return(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, persistent=True) as hub, Keeper(hub.port) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        hub.stop()
        keeper.wait_for_trouble("broker-lost", "")
        keeper.tick({"ridge": 9.0})  # bench is missing now
        hub.start()
        eventually(lambda: "probe-bench/temperature" not in seen(hub), "the stale value is gone")
        keeper.wait_until_well()


def test_the_link_is_cut_and_the_keeper_returns(hub: Mosquitto) -> None:
    with Gate(hub.port) as gate, Keeper(gate.port) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        gate.cut()
        recorder.wait_for(STATE, "lost")
        recorder.wait_for(STATE, "ready", times=2)
        keeper.wait_until_well()


# --- silence -------------------------------------------------------------------------


def test_a_frozen_broker_holds_nobody_up_and_gets_the_newest_once_it_thaws(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        hub.freeze()
        for number in range(1000):
            keeper.tick({**MILD, "bench": number / 100.0})
        hub.thaw()
        eventually(lambda: seen(hub).get("probe-bench/temperature") == "9.99", "the newest value")
        wait_until_complete(hub)


def test_a_link_without_answers_is_given_up_for_a_new_one(hub: Mosquitto) -> None:
    pace = QUICK._replace(silent_s=0.5)
    with Gate(hub.port) as gate, Keeper(gate.port, pace=pace) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        before = network_threads()
        gate.hold()
        keeper.tick({**MILD, "bench": 4.5})
        keeper.wait_for_trouble("broker-lost", "no answer for 0.5 s")
        gate.release()
        keeper.wait_until_well()
        eventually(lambda: seen(hub)["probe-bench/temperature"] == "4.50", "the newest value")
        wait_until_complete(hub)
        assert network_threads() == before


def test_silence_is_noticed_even_when_there_is_nothing_to_say(hub: Mosquitto) -> None:
    pace = QUICK._replace(silent_s=0.5, affirm_s=0.1)
    with Gate(hub.port) as gate, Keeper(gate.port, pace=pace) as keeper:
        keeper.tick()
        keeper.wait_until_well()
        gate.hold()
        keeper.wait_for_trouble("broker-lost", "no answer")
        gate.release()
        keeper.wait_until_well()


def test_a_quiet_keeper_asks_for_an_answer_now_and_then_and_stays(hub: Mosquitto) -> None:
    pace = QUICK._replace(silent_s=2.0, affirm_s=0.05)
    with Keeper(hub.port, pace=pace) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready", times=5)
        assert recorder.payloads(STATE).count("init") == 1


@pytest.mark.parametrize("much_to_say", [False, True])
def test_closing_is_bounded_when_the_broker_is_frozen_and_leaves_no_false_ready(
    hub: Mosquitto, much_to_say: bool
) -> None:
    pace = QUICK._replace(farewell_s=0.1)
    with Keeper(hub.port, pace=pace) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        hub.freeze()
        # More than may be under way at a time, so that `disconnected` never leaves.
        plants = range(50 if much_to_say else 0)
        keeper.tick(alarms=[make_alarm("below-minimum", f"plant-{each}") for each in plants])
        keeper.client.close()
        assert not network_threads()
        hub.thaw()
    eventually(lambda: seen(hub)["$state"] in ("lost", "disconnected"), lambda: str(seen(hub)))


def test_closing_is_bounded_when_the_host_swallows_everything(hub: Mosquitto) -> None:
    with Gate(hub.port) as gate:
        gate.hold()
        with Keeper(gate.port) as keeper:
            keeper.tick()
            eventually(lambda: gate.connects, "a CONNECT that nobody answers")
        assert not network_threads()


def test_a_thread_that_hangs_in_name_resolution_is_left_behind(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    entered, let_go = threading.Event(), threading.Event()

    def resolve(*_: object, **__: object) -> None:
        entered.set()
        let_go.wait(20)
        raise OSError("no such name")

    monkeypatch.setattr("socket.getaddrinfo", resolve)
    keeper = Keeper(1883, pace=QUICK._replace(close_s=0.05), host="hub.invalid")
    with keeper:
        assert entered.wait(20)
        keeper.tick()
    assert network_threads(), "close() did not wait for it"
    let_go.set()
    eventually(lambda: not network_threads(), "it ends by itself")


# --- somebody else is in the way -----------------------------------------------------


def test_after_a_take_over_of_the_client_id_the_last_word_is_ready(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper, hub.recorder(f"{ROOT}/#") as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        alive = len(recorder.records)
        rival = ["mosquitto_pub", "-h", "127.0.0.1", "-p", str(hub.port), "-i", client_id(ROOT)]
        # It may be thrown out again before it is done: the keeper is back in no time.
        subprocess.run([*rival, "-t", "rival", "-m", "mine"], check=False)
        recorder.wait_for(STATE, "lost")
        recorder.wait_for(STATE, "ready", times=2)
        keeper.wait_until_well()
        # Without the log: the rival's CONNECT in it is not the keeper's.
        late, marks = hub.retained(f"{ROOT}/#"), [Mark(TAKEN_OVER, alive)]
        assert findings(Recording(recorder.records, late, marks=marks)) == []


def test_a_false_word_in_our_state_is_put_right(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        hub.publish(STATE, "lost", retain=True)
        recorder.wait_for(STATE, "ready", times=2)
        assert recorder.payloads(STATE) == ["init", "ready", "lost", "ready"]


def test_a_device_that_somebody_deleted_is_told_again(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        for path in ("probe-bench/temperature", "$description", "$state"):
            hub.publish(f"{ROOT}/{path}", "", retain=True)
        wait_until_complete(hub)


# --- our own mistakes ----------------------------------------------------------------


@pytest.mark.parametrize(
    "callback", ["_on_connect", "_on_publish", "_on_message", "_on_disconnect"]
)
def test_an_exception_in_a_callback_ends_a_connection_and_never_the_thread(
    hub: Mosquitto,
    callback: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    raised: list[str] = []
    right = getattr(Link, callback)

    def wrong(*arguments: Any) -> None:
        if len(raised) < 2:
            raised.append(callback)
            raise ZeroDivisionError("a mistake of ours")
        right(*arguments)

    monkeypatch.setattr(Link, callback, wrong)
    with Gate(hub.port) as gate, Keeper(gate.port) as keeper:
        before = network_threads()
        keeper.tick()

        def raised_twice() -> bool:
            if callback == "_on_disconnect":  # the others are called at every connection
                gate.cut()
            return len(raised) == 2

        eventually(raised_twice, "two exceptions")
        wait_until_complete(hub)
        keeper.tick({**MILD, "bench": 4.5})
        eventually(lambda: seen(hub)["probe-bench/temperature"] == "4.50", "it goes on")
        keeper.wait_until_well()
        assert network_threads() == before
    assert "ZeroDivisionError: a mistake of ours" in capsys.readouterr().out


# It is meant to die, and pytest would report it.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_thread_that_died_is_replaced_at_the_next_tick(
    hub: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Keeper(hub.port) as keeper:
        keeper.tick()
        wait_until_complete(hub)

        def die(*_: object) -> None:
            raise SystemExit  # nothing but an Exception is caught

        with monkeypatch.context() as patch:
            patch.setattr(Link, "turn", die)
            keeper.wait_for_trouble("broker-lost", "its thread has ended")

        def goes_on() -> bool:
            keeper.tick({**MILD, "bench": 4.5})
            return seen(hub).get("probe-bench/temperature") == "4.50"

        eventually(goes_on, "it goes on")
        keeper.wait_until_well()


def test_without_room_for_a_thread_control_goes_on(
    hub: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(_: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    keeper = Keeper(hub.port)
    with monkeypatch.context() as patch:
        patch.setattr(threading.Thread, "start", no_room)
        keeper.client.start()
        keeper.tick()
        keeper.wait_for_trouble("broker-lost", "no room for another thread")
    keeper.tick()
    keeper.wait_until_well()
    keeper.client.close()


def test_a_log_that_cannot_be_written_costs_nothing(
    hub: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken() -> None:
        raise ValueError("I/O operation on closed file")

    monkeypatch.setattr("structlog.get_logger", broken)
    with Keeper(hub.port) as keeper:
        keeper.tick()
        wait_until_complete(hub)


# --- memory --------------------------------------------------------------------------


def test_a_long_time_offline_keeps_one_tick_and_no_queue() -> None:
    def alive() -> int:
        gc.collect()
        return sum(isinstance(each, Tick) for each in gc.get_objects())

    before = alive()
    with Keeper(free_port()) as keeper:
        for number in range(1000):
            keeper.tick(now=later(NOW, number))
        tracemalloc.start()
        small = tracemalloc.get_traced_memory()[0]
        for number in range(4000):
            keeper.tick({**MILD, "bench": number / 100.0}, now=later(NOW, number * 10.0))
        gc.collect()
        grown = tracemalloc.get_traced_memory()[0] - small
        tracemalloc.stop()
        assert alive() - before <= 1
    assert grown < 80_000, "20 bytes a tick at the most"


def test_a_hanging_link_lets_nothing_pile_up(hub: Mosquitto) -> None:
    pace = QUICK._replace(send_s=0.0)
    with Gate(hub.port) as gate, Keeper(gate.port, pace=pace) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        gate.hold()
        until_s = time.monotonic() + 1.0
        numbers = itertools.count()
        while time.monotonic() < until_s:
            keeper.tick({**MILD, "bench": next(numbers) / 100.0})
        gate.release()
        newest = f"{(next(numbers) - 1) / 100.0:.2f}"
        with hub.recorder() as recorder:
            eventually(lambda: seen(hub)["probe-bench/temperature"] == newest, "the newest")
            assert len(recorder.payloads(TEMPERATURE)) <= 2
