"""The life of one connection, played without a network.

`Broker` here is the other end reduced to a few lines: it keeps what is retained and
acknowledges when told to, in order, as MQTT does.
"""

from collections import deque
from collections.abc import Mapping

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.broker.session import MOST_STRAYS, Message, Session, Stage

ROOT = "homie/5/plot"
STATE = f"{ROOT}/$state"
DESCRIPTION = f"{ROOT}/$description"
TEMPERATURE = f"{ROOT}/probe-ridge/temperature"
STATUS = f"{ROOT}/probe-ridge/status"
ALERT = f"{ROOT}/$alert/zone-blind-bench"
TABLE = {TEMPERATURE: "8.25", STATUS: "ok"}


class Broker:
    """Keeps what is retained; answers one message at a time, or all of them."""

    def __init__(self, session: Session, retained: Mapping[str, str] | None = None) -> None:
        self.session = session
        self.retained = dict(retained or {})
        self.heard: list[Message] = []
        self._unanswered: deque[str] = deque()

    def listen(self) -> list[Message]:
        """Take everything the session has to say now."""
        new = []
        while (message := self.session.take()) is not None:
            assert message.topic not in self._unanswered, "under way twice"
            self._unanswered.append(message.topic)
            self._keep(message)
            new.append(message)
        return new

    def answer(self, refusal: str | None = None) -> None:
        self.session.acknowledged(self._unanswered.popleft(), refusal)

    def settle(self) -> None:
        """Listen and answer until there is nothing more to say."""
        while self.listen() or self._unanswered:
            self.answer()

    def replay(self) -> None:
        """What a subscriber is given of the retained values, as MQTT does at SUBSCRIBE."""
        for topic, payload in list(self.retained.items()):
            self.session.heard(topic, payload.encode(), replayed=True)

    @property
    def unanswered(self) -> int:
        return len(self._unanswered)

    def _keep(self, message: Message) -> None:
        self.heard.append(message)
        if message.payload:
            self.retained[message.topic] = message.payload
        else:
            self.retained.pop(message.topic, None)


def begun(
    table: Mapping[str, str] | None = TABLE, retained: Mapping[str, str] | None = None
) -> tuple[Session, Broker]:
    session = Session(ROOT, "{}")
    broker = Broker(session, retained)
    broker.replay()
    if table is not None:
        session.offer(table)
    return session, broker


def ready(table: Mapping[str, str] = TABLE) -> tuple[Session, Broker]:
    session, broker = begun(table)
    broker.settle()
    assert session.stage is Stage.READY
    return session, broker


# --- announcing ----------------------------------------------------------------------


def test_init_and_description_come_before_every_value_and_ready_after_all() -> None:
    _, broker = begun()
    first = broker.listen()
    assert [message.topic for message in first] == [STATE, DESCRIPTION, TEMPERATURE, STATUS]
    assert first[0].payload == "init"
    broker.settle()
    assert broker.heard[len(first) :] == [Message(STATE, "ready")]


def test_ready_waits_for_the_last_acknowledgement() -> None:
    session, broker = begun()
    broker.listen()
    while broker.unanswered > 1:
        broker.answer()
        assert broker.listen() == []
    broker.answer()
    assert broker.listen() == [Message(STATE, "ready")]
    assert session.stage is Stage.ANNOUNCED
    broker.answer()
    assert broker.listen() == []
    session.affirm()
    assert broker.listen() == [Message(STATE, "ready")], "it holds itself to be ready now"


def test_ready_waits_for_the_first_table() -> None:
    session, broker = begun(table=None)
    broker.settle()
    assert broker.retained == {STATE: "init", DESCRIPTION: "{}"}
    session.offer(TABLE)
    broker.settle()
    assert broker.retained == {STATE: "ready", DESCRIPTION: "{}", **TABLE}


def test_a_value_that_is_absent_is_deleted_on_every_connection() -> None:
    _, broker = begun({**TABLE, TEMPERATURE: ""}, retained={TEMPERATURE: "19.00"})
    broker.settle()
    assert TEMPERATURE not in broker.retained


# --- changes -------------------------------------------------------------------------


def test_only_what_changed_is_said() -> None:
    session, broker = ready()
    session.offer(TABLE)
    assert broker.listen() == []
    session.offer({**TABLE, TEMPERATURE: "8.31"})
    assert broker.listen() == [Message(TEMPERATURE, "8.31")]


def test_of_many_values_while_one_is_under_way_only_the_newest_is_said() -> None:
    session, broker = ready()
    for number in range(1000):
        session.offer({**TABLE, TEMPERATURE: f"{number}.00"})
        broker.listen()
    assert broker.unanswered == 1
    broker.settle()
    assert [each.payload for each in broker.heard if each.topic == TEMPERATURE] == [
        *("8.25", "0.00", "999.00")
    ]


def test_an_alert_appears_and_vanishes() -> None:
    session, broker = ready()
    session.offer({**TABLE, ALERT: "bench: blind"})
    broker.settle()
    assert broker.retained[ALERT] == "bench: blind"
    session.offer(TABLE)
    broker.settle()
    assert ALERT not in broker.retained


def test_an_alert_that_comes_and_goes_while_under_way_is_gone_in_the_end() -> None:
    session, broker = ready()
    session.offer({**TABLE, ALERT: "bench: blind"})
    broker.listen()
    session.offer(TABLE)
    broker.settle()
    session.offer(TABLE)
    broker.settle()
    assert ALERT not in broker.retained


def test_alerts_of_long_ago_are_not_remembered() -> None:
    session, broker = ready()
    for number in range(500):
        session.offer({**TABLE, f"{ROOT}/$alert/plant-{number}": "x"})
        broker.settle()
    session.offer(TABLE)
    broker.settle()
    assert len(session._said) == len(TABLE)


# --- what an earlier run left behind -------------------------------------------------


@pytest.mark.parametrize("table_first", [False, True])
def test_what_an_earlier_run_left_is_deleted_before_ready(table_first: bool) -> None:
    gone = {ALERT: "bench: blind", f"{ROOT}/probe-attic/temperature": "19.00"}
    session = Session(ROOT, "{}")
    broker = Broker(session, {**gone, STATUS: "ok"})
    if table_first:
        session.offer(TABLE)
        broker.listen()
    broker.replay()
    session.offer(TABLE)
    broker.settle()
    at_ready = broker.heard.index(Message(STATE, "ready"))
    for topic in gone:
        assert broker.heard.index(Message(topic, "")) < at_ready
    assert broker.retained == {STATE: "ready", DESCRIPTION: "{}", **TABLE}


def test_what_cannot_be_ours_is_left_alone() -> None:
    _, broker = begun(retained={f"{ROOT}/Foreign/x": "1", "homie/5/neighbour/x/y": "2"})
    broker.settle()
    assert broker.retained[f"{ROOT}/Foreign/x"] == "1"
    assert broker.retained["homie/5/neighbour/x/y"] == "2"


def test_a_flood_of_strays_is_bounded() -> None:
    _, broker = begun(retained={f"{ROOT}/junk/x{number}": "1" for number in range(MOST_STRAYS + 5)})
    broker.settle()
    assert sum(message.payload == "" for message in broker.heard) == MOST_STRAYS


def test_what_comes_live_is_no_stray() -> None:
    session, broker = ready()
    session.heard(f"{ROOT}/junk/x", b"1", replayed=False)
    assert broker.listen() == []


# --- our own state -------------------------------------------------------------------


@pytest.mark.parametrize("foreign", [b"lost", b"disconnected", b"init", b"\xff"])
def test_a_foreign_word_in_our_state_is_put_right(foreign: bytes) -> None:
    session, broker = ready()
    session.heard(STATE, foreign, replayed=False)
    assert broker.listen() == [], "not before the next beat: nobody can make us shout"
    session.defend()
    assert broker.listen() == [Message(STATE, "ready")]
    broker.settle()
    session.defend()
    assert broker.listen() == []


def test_our_own_words_and_old_ones_are_no_reason_to_speak() -> None:
    session, broker = ready()
    session.heard(STATE, b"ready", replayed=False)
    session.heard(STATE, b"lost", replayed=True)
    session.defend()
    assert broker.listen() == []


def test_a_deleted_state_means_saying_everything_again() -> None:
    session, broker = ready()
    broker.retained.clear()
    session.heard(STATE, b"", replayed=False)
    broker.settle()
    assert broker.retained == {STATE: "ready", DESCRIPTION: "{}", **TABLE}
    assert [each.payload for each in broker.heard if each.topic == STATE] == [
        *("init", "ready", "init", "ready")
    ]


def test_a_ready_that_was_under_way_when_all_was_deleted_counts_for_nothing() -> None:
    session, broker = ready()
    session.affirm()
    broker.listen()
    session.heard(STATE, b"", replayed=False)
    broker.answer()
    assert session.stage is Stage.ANNOUNCING


def test_ready_can_be_affirmed_for_the_sake_of_an_answer() -> None:
    session, broker = ready()
    session.affirm()
    assert broker.listen() == [Message(STATE, "ready")]
    assert session.waiting
    broker.answer()
    assert not session.waiting


# --- refusals ------------------------------------------------------------------------


def test_a_refused_topic_is_named_until_it_is_taken() -> None:
    session, broker = begun()
    broker.listen()
    for _ in range(4):
        broker.answer("not authorised")
    broker.settle()
    assert session.refused.keys() == {DESCRIPTION, TEMPERATURE, STATUS}
    session.insist()
    broker.settle()
    assert session.refused == {}


def test_a_refused_state_is_said_again() -> None:
    session, broker = ready()
    session.affirm()
    broker.listen()
    broker.answer("not authorised")
    session.insist()
    assert broker.listen() == [Message(STATE, "ready")]
    broker.answer()
    assert session.refused == {}


def test_a_message_the_broker_would_not_take_is_never_sent() -> None:
    session = Session(ROOT, "{" + " " * 100 + "}", largest_bytes=100)
    broker = Broker(session)
    session.offer({**TABLE, STATUS: "x" * 100, f"{ROOT}/Bad/x": "1"})
    broker.settle()
    assert broker.retained == {STATE: "ready", TEMPERATURE: "8.25"}
    assert session.refused.keys() == {DESCRIPTION, STATUS, f"{ROOT}/Bad/x"}
    session.offer(TABLE)
    broker.settle()
    assert broker.retained[STATUS] == "ok"
    assert STATUS not in session.refused


# --- the end -------------------------------------------------------------------------


def test_the_last_values_come_before_disconnected_and_nothing_after() -> None:
    session, broker = ready()
    session.offer({**TABLE, TEMPERATURE: "8.31"})
    broker.listen()
    session.offer({**TABLE, TEMPERATURE: "8.37", STATUS: "stale"})
    session.leave()
    session.offer({**TABLE, TEMPERATURE: "9.99"})
    broker.settle()
    assert session.stage is Stage.LEFT
    assert broker.heard[-1] == Message(STATE, "disconnected")
    assert broker.retained[TEMPERATURE] == "8.37"
    session.heard(STATE, b"", replayed=False)
    session.affirm()
    session.leave()
    assert broker.listen() == []


def test_leaving_while_still_announcing_is_possible() -> None:
    session, broker = begun()
    broker.listen()
    session.leave()
    broker.settle()
    assert session.stage is Stage.LEFT
    assert broker.retained[STATE] == "disconnected"


def test_a_removed_device_loses_its_state_first_and_then_everything() -> None:
    session, broker = ready({**TABLE, ALERT: "bench: blind"})
    session.affirm()
    broker.listen()
    before = len(broker.heard)
    session.remove()
    session.offer(TABLE)
    broker.settle()
    assert session.stage is Stage.LEFT
    assert broker.heard[before] == Message(STATE, "")
    assert {message.payload for message in broker.heard[before:]} == {""}
    assert broker.retained == {}


# --- whatever happens ----------------------------------------------------------------

TOPICS = [f"{ROOT}/a/{letter}" for letter in "xyz"] + [f"{ROOT}/$alert/{name}" for name in "pq"]
TABLES = st.dictionaries(st.sampled_from(TOPICS[:3]), st.sampled_from(["", "1", "2"])).flatmap(
    lambda values: st.dictionaries(st.sampled_from(TOPICS[3:]), st.sampled_from(["up", "UP"])).map(
        lambda alerts: {**dict.fromkeys(TOPICS[:3], ""), **values, **alerts}
    )
)
STEPS = st.one_of(
    TABLES,
    st.sampled_from(["listen", "answer", "refuse", "foreign", "deleted", "defend", "affirm"]),
)


@settings(deadline=None)
@given(st.lists(STEPS, max_size=40), TABLES, st.booleans())
def test_in_the_end_the_broker_has_the_newest_table_and_nothing_else(
    steps: list[dict[str, str] | str], last: dict[str, str], leave: bool
) -> None:
    session, broker = begun(retained={TOPICS[0]: "old", TOPICS[4]: "old", f"{ROOT}/gone/z": "old"})
    for step in steps:
        if isinstance(step, dict):
            session.offer(step)
        elif step == "listen":
            broker.listen()
        elif step in ("answer", "refuse") and broker.unanswered:
            broker.answer("not authorised" if step == "refuse" else None)
        elif step in ("foreign", "deleted"):
            session.heard(STATE, b"lost" if step == "foreign" else b"", replayed=False)
        elif step == "defend":
            session.defend()
        elif step == "affirm":
            session.affirm()
    session.offer(last)
    session.defend()
    if leave:
        session.leave()
    broker.settle()
    values = {topic: payload for topic, payload in last.items() if payload}
    state = "disconnected" if leave else "ready"
    assert broker.retained == {STATE: state, DESCRIPTION: "{}", **values}
    assert len(session._due) + len(session._flying) == 0
