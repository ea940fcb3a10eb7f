"""Switches on the broker: what is ordered, what counts as an answer, and what is unknown."""

import json
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper import pointer
from greenkeeper.broker.exchange import Exchange
from greenkeeper.clock import HandClock
from greenkeeper.model import Command, Condition
from greenkeeper.outputs import OutputError
from greenkeeper.outputs.broker import BrokerSwitch, Post, Words
from greenkeeper.outputs.recorder import RecorderDriver
from greenkeeper.outputs.rivals import Rivals
from greenkeeper.outputs.switchboard import Switchboard
from tests.broker.house import Keeper
from tests.support.mosquitto import Mosquitto
from tests.support.post import PretendPost
from tests.support.waiting import eventually

WORDS = Words(
    topic="sockets/mat/set",
    on='{"on": true, "for": {hold_s}}',
    off='{"on": false}',
    answers="sockets/mat/state",
    answer_at=pointer.tokens("/on"),
    says_on="true",
    says_off="false",
    hold_s=60.0,
)
ON, OFF = '{"on": true, "for": 60}', '{"on": false}'


class Socket:
    """The switch, its driver, and what passes between them, by hand."""

    def __init__(self, words: Words = WORDS) -> None:
        self.post = PretendPost()
        self.clock = HandClock(utc_s=0.0)
        self.words = words
        self.driver = BrokerSwitch(
            "mat", words, self.post, self.clock, confirm_s=10.0, repeat_s=9.0
        )

    @property
    def orders(self) -> list[str]:
        return [payload for topic, payload in self.post.sent if topic == self.words.topic]

    def says(self, text: str, *, retained: bool = False) -> None:
        self.post.brings(self.words.answers, text, retained=retained)

    def answers(self, on: bool, **how: bool) -> None:
        self.says(json.dumps({"on": on}), **how)

    def passes(self, seconds: float) -> None:
        self.clock.advance(seconds)


def test_an_order_carries_its_timer_and_is_repeated_as_long_as_it_holds() -> None:
    socket = Socket()
    for _ in range(3):
        socket.driver.switch(on=True)
        socket.answers(True)
        socket.passes(10.0)
    assert socket.orders == [ON, ON, ON]


def test_it_is_not_repeated_at_every_look_of_a_busy_thread() -> None:
    socket = Socket()
    for _ in range(20):
        socket.driver.switch(on=False)
        socket.answers(False)
        socket.passes(0.25)
    assert socket.orders == [OFF]


def test_unknown_is_not_off() -> None:
    socket = Socket()
    assert not socket.driver.certain
    socket.driver.switch(on=False)
    assert not socket.driver.certain
    socket.answers(False)
    assert socket.driver.certain


def test_an_order_that_is_not_answered_in_time_is_an_error_until_it_is() -> None:
    socket = Socket()
    socket.driver.switch(on=True)
    socket.passes(9.9)
    socket.driver.switch(on=True)
    socket.passes(0.1)
    with pytest.raises(OutputError, match="ordered on and not confirmed, it has said nothing yet"):
        socket.driver.switch(on=True)
    socket.answers(True)
    socket.driver.switch(on=True)
    assert socket.driver.certain


def test_the_answer_to_an_earlier_order_confirms_no_later_one() -> None:
    socket = Socket()
    socket.driver.switch(on=True)
    socket.answers(True)
    socket.driver.switch(on=False)
    assert not socket.driver.certain
    socket.answers(True)  # still under way when the order went out
    socket.passes(10.0)
    with pytest.raises(OutputError, match="ordered off and not confirmed, it said on 10 s ago"):
        socket.driver.switch(on=False)


def test_every_repetition_must_be_answered_too() -> None:
    socket = Socket()
    socket.driver.switch(on=True)
    socket.answers(True)
    socket.passes(10.0)
    socket.driver.switch(on=True)  # from here on the socket is out of reach
    assert socket.driver.certain
    socket.passes(10.0)
    assert not socket.driver.certain
    with pytest.raises(OutputError, match="it said on 20 s ago"):
        socket.driver.switch(on=True)


def test_a_hand_on_the_switch_is_noticed_and_the_order_given_again_at_once() -> None:
    socket = Socket()
    socket.driver.switch(on=True)
    socket.answers(True)
    socket.passes(1.0)
    socket.answers(False)
    assert not socket.driver.certain
    socket.driver.switch(on=True)
    assert socket.orders == [ON, ON]


def test_what_the_broker_kept_answers_nothing() -> None:
    socket = Socket()
    socket.driver.switch(on=False)
    socket.answers(False, retained=True)
    assert not socket.driver.certain


@pytest.mark.parametrize(
    "said", ["", "off", "{}", '{"on": "no"}', '{"on": 0}', "[false]", "{", "\x00", "[" * 5000]
)
def test_an_answer_in_other_words_is_none(said: str) -> None:
    socket = Socket()
    socket.driver.switch(on=False)
    socket.says(said)
    assert not socket.driver.certain


def test_an_answer_may_be_a_plain_word() -> None:
    socket = Socket(WORDS._replace(answer_at=(), says_on="ON", says_off="OFF"))
    socket.driver.switch(on=True)
    socket.says("on")
    assert not socket.driver.certain
    socket.says("ON")
    assert socket.driver.certain


def test_without_a_connection_it_is_not_confirmed_either() -> None:
    socket = Socket()
    socket.post.connected = False
    socket.driver.switch(on=False)
    socket.passes(10.0)
    with pytest.raises(OutputError):
        socket.driver.switch(on=False)
    socket.post.connected = True
    socket.passes(10.0)
    with pytest.raises(OutputError):
        socket.driver.switch(on=False)
    socket.answers(False)
    socket.driver.switch(on=False)
    assert socket.orders == [OFF]


def test_closing_orders_off_and_waits_for_the_answer() -> None:
    socket = Socket()
    socket.driver.switch(on=True)
    socket.answers(True)
    timer = threading.Timer(0.05, socket.answers, (False,))
    timer.start()
    socket.driver.close()
    socket.driver.close()
    assert socket.orders == [ON, OFF]
    assert socket.post.readers["sockets/mat/state"] == []


def test_closing_without_an_answer_says_that_its_own_timer_must_end_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("greenkeeper.outputs.broker._LEAVING_S", 0.05)
    socket = Socket()
    socket.driver.switch(on=True)
    with pytest.raises(OutputError, match="its timer must end it"):
        socket.driver.close()


ACTS = st.lists(
    st.one_of(
        st.tuples(st.just("order"), st.booleans()),
        st.tuples(st.just("answer"), st.booleans()),
        st.tuples(st.just("kept"), st.booleans()),
        st.tuples(st.just("pass"), st.floats(0.1, 30.0)),
        st.tuples(st.just("link"), st.booleans()),
    ),
    max_size=60,
)


@given(ACTS)
def test_it_is_never_certain_without_a_live_answer_that_agrees(
    acts: list[tuple[str, bool | float]],
) -> None:
    socket = Socket()
    wanted: bool | None = None
    newest: bool | None = None  # of the live answers since that was ordered
    for act, what in acts:
        match act:
            case "order":
                if what is not wanted:
                    wanted, newest = bool(what), None
                try:
                    socket.driver.switch(on=bool(what))
                except OutputError:
                    assert not socket.driver.certain
            case "answer":
                newest = bool(what)
                socket.answers(bool(what))
            case "kept":
                socket.answers(bool(what), retained=True)
            case "pass":
                socket.passes(float(what))
            case "link":
                socket.post.connected = bool(what)
        if socket.driver.certain:
            assert wanted is not None
            assert newest is wanted


# --- on the switchboard ---------------------------------------------------------------------


def test_the_switchboard_renews_it_tells_of_it_and_holds_its_rivals_back() -> None:
    socket = Socket()
    fan = RecorderDriver("fan", socket.clock)
    rivals = (Rivals(frozenset({"mat"}), frozenset({"fan"}), None),)
    board = Switchboard({"mat": socket.driver, "fan": fan}, socket.clock, rivals=rivals)

    def tick(mat: bool, fan_on: bool) -> dict[str, Condition]:
        socket.passes(10.0)
        until_s = socket.clock.mono_s() + 30.0
        found = board.apply(
            [
                Command("mat", mat, until_s if mat else None, "as the test says"),
                Command("fan", fan_on, until_s if fan_on else None, "as the test says"),
            ]
        )
        return {condition.code: condition for condition in found}

    try:
        assert "output-held" in tick(mat=False, fan_on=True)  # unknown is not off
        socket.answers(False)
        assert tick(mat=False, fan_on=True) == {}
        assert fan.on
        socket.answers(False)
        tick(mat=True, fan_on=False)
        socket.answers(True)
        for _ in range(3):
            assert tick(mat=True, fan_on=False) == {}
            socket.answers(True)
        assert socket.orders.count(ON) >= 4
        tick(mat=True, fan_on=False)
        assert "output-failed" in tick(mat=True, fan_on=False)  # no answer any more
    finally:
        socket.answers(False)
        _close(board, socket)


def _close(board: Switchboard, socket: Socket) -> None:
    timer = threading.Timer(0.05, socket.answers, (False,))
    timer.start()
    board.close()


# --- on a real broker -------------------------------------------------------------------------


class Switch:
    """A ready-made switch on the broker, with a timer of its own that it is told each time."""

    def __init__(self, hub: Mosquitto, folder: Path) -> None:
        self.hub = hub
        self.on = False
        self.dead = False
        self.exchange = Exchange()
        self.keeper = Keeper(hub.port, exchange=self.exchange, device="mat-switch")
        self.exchange.subscribe(WORDS.topic, self._ordered)

    def _ordered(self, payload: bytes, retained: bool) -> None:
        if self.dead or retained:
            return
        self.on = bool(json.loads(payload)["on"])
        self.exchange.send(WORDS.answers, json.dumps({"on": self.on}).encode())


def test_over_a_real_broker_it_obeys_answers_and_its_silence_is_told(tmp_path: Path) -> None:
    exchange = Exchange()
    clock = HandClock(utc_s=0.0)
    with Mosquitto(tmp_path) as hub:
        switch = Switch(hub, tmp_path)
        with Keeper(hub.port, exchange=exchange) as keeper, switch.keeper as other:
            keeper.tick()
            other.tick()
            eventually(lambda: exchange.connected and switch.exchange.connected, "connections")
            eventually(lambda: f"{WORDS.topic} (QoS 1)" in hub.log(), "the switch listens")
            driver = _driver(exchange, clock)
            eventually(lambda: f"{WORDS.answers} (QoS 1)" in hub.log(), "the driver listens")
            driver.switch(on=True)
            eventually(lambda: driver.certain, "an answer")
            assert switch.on
            switch.dead = True
            clock.advance(10.0)
            driver.switch(on=True)
            clock.advance(10.0)
            with pytest.raises(OutputError, match="not confirmed"):
                driver.switch(on=True)
            switch.dead = False
            clock.advance(10.0)
            _again(lambda: driver.switch(on=True))
            eventually(lambda: driver.certain, "an answer again")
            driver.close()
            assert not switch.on


def _driver(post: Post, clock: HandClock) -> BrokerSwitch:
    return BrokerSwitch("mat", WORDS, post, clock, confirm_s=10.0, repeat_s=9.0)


def _again(order: Callable[[], None]) -> None:
    """Give the order, which is still overdue when it goes out."""
    with pytest.raises(OutputError):
        order()
