"""One connection kept alive: what arrives goes into the session, what is due goes out.

Lives here: the loop over one Link and one Session, how often anything is sent, and when
a silent link is given up. Does not live here: connecting and coming back (client.py).
All times are real monotonic seconds, even where ticks follow a hand-driven clock.
"""

import math
import time
from collections.abc import Callable, Iterable

from greenkeeper.broker import payloads, refusals
from greenkeeper.broker.bell import Bell
from greenkeeper.broker.exchange import Exchange
from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.broker.link import (
    V5,
    Acknowledged,
    Arrival,
    Broken,
    Connected,
    Ended,
    Heard,
    Link,
    LinkError,
    Refused,
    Subscribed,
)
from greenkeeper.broker.orders import SETTLING_S, Arrived, Orders
from greenkeeper.broker.pace import Pace
from greenkeeper.broker.session import LARGEST_BYTES, Session, Stage
from greenkeeper.model import Tick

_MENTIONED_EVERY_S = 10.0
_LONGEST_TURN_S = 1.0  # paho looks after its keepalive once a turn
_HEADER_BYTES = 16  # of a PUBLISH, without topic and payload, generously


class Desk:
    """What control and the broker's thread share. Each field is written by one side only."""

    def __init__(self, exchange: Exchange, orders: Orders) -> None:
        self.exchange = exchange
        self.orders = orders
        self.bell = Bell()  # rung to stop, and when the exchange has something to send
        self.closing = False  # by control
        self.removing = False  # by control, before closing: the device is to go as well
        self.tick: Tick | None = None  # by control: the newest, nothing else is kept
        self.laid_s = 0.0  # by control: when it was laid down

    def lay(self, tick: Tick) -> None:
        self.laid_s = time.monotonic()
        self.tick = tick


class Conversation:
    """One connection, from CONNECT to its end."""

    def __init__(
        self,
        device: KeeperDevice,
        desk: Desk,
        pace: Pace,
        report: Callable[[str | None], None],
    ) -> None:
        """report: told None when all is well, or what the broker refuses."""
        self.accepted = False  # the broker let us in
        self._device = device
        self._desk = desk
        self._pace = pace
        self._report = report
        self._session: Session | None = None
        self._shown: tuple[Tick, bool] | None = None  # what the session was last offered
        self._greeted = False
        self._read: frozenset[str] = frozenset()  # of the exchange's topics
        self._posted: set[str] = set()  # topics with a message of the exchange under way
        self._commanded_s: float | None = None  # since when commands are subscribed
        self._cleared: set[str] = set()  # command topics where something retained was deleted
        self._mentioned_s = -math.inf
        now_s = time.monotonic()
        self._heard_s = self._next_beat_s = self._insisted_s = now_s

    def hold(self, link: Link) -> None:
        """Until the desk is closing. The link is gone afterwards, whatever happens.

        Raises LinkError, or whatever a callback raised.
        """
        try:
            while not self._desk.closing:
                self._go_on(link)
            self._leave(link)
        finally:
            self._desk.exchange.closed(self._desk.bell.ring)
            link.drop()

    def _go_on(self, link: Link) -> None:
        beat_in_s = self._next_beat_s - time.monotonic() if self._session else _LONGEST_TURN_S
        timeout_s = max(0.0, min(_LONGEST_TURN_S, beat_in_s))
        self._receive_all(link, link.turn(timeout_s, self._desk.bell.ear))
        self._desk.bell.hush()
        if time.monotonic() - self._heard_s > self._pace.silent_s:
            raise LinkError(f"no answer for {self._pace.silent_s:g} s")
        if self._session is not None:
            self._beat(self._session)
            self._follow(link, self._desk.exchange)
            self._send(link, self._session)

    # --- in --------------------------------------------------------------------------

    def _receive_all(self, link: Link, arrivals: Iterable[Arrival]) -> None:
        for arrival in arrivals:
            self._receive(link, arrival)

    def _receive(self, link: Link, arrival: Arrival) -> None:
        match arrival:
            case Connected(largest_bytes):
                self._begin(link, largest_bytes)
            case Refused(code):
                older = code == refusals.UNSUPPORTED_PROTOCOL and link.protocol == V5
                raise _lost(code, older_mqtt=older)
            case Ended(code):
                raise self._ended(link) if code is None else _lost(code)
            case Broken(error):
                raise error
            case Acknowledged(topic, refusal):
                self._heard_s = time.monotonic()
                self._acknowledge(topic, None if refusal is None else refusals.words(refusal))
            case Heard(topic, payload, replayed):
                if topic in self._desk.orders.topics:
                    self._command(link, Arrived(topic, payload, replayed, self._settled))
                else:
                    self._hear(topic, payload, replayed=replayed)
            case Subscribed(answers):
                if not self._desk.orders.topics.isdisjoint(answers):
                    self._commanded_s = time.monotonic()
                for topic, code in answers.items():
                    why = None if code is None else f"not to be read: {refusals.words(code)}"
                    self._desk.exchange.refused(topic, why)

    def _acknowledge(self, topic: str, refusal: str | None) -> None:
        if topic in self._posted:
            self._posted.remove(topic)
            self._desk.exchange.refused(topic, refusal)
        elif self._session is not None:
            self._session.acknowledged(topic, refusal)

    def _hear(self, topic: str, payload: bytes, *, replayed: bool) -> None:
        self._desk.exchange.deliver(topic, payload, retained=replayed)
        if self._session is not None and topic.startswith(f"{self._device.root}/"):
            self._session.heard(topic, payload, replayed=replayed)

    @property
    def _settled(self) -> bool:
        since_s = self._commanded_s
        return since_s is not None and time.monotonic() - since_s >= SETTLING_S

    def _command(self, link: Link, arrived: Arrived) -> None:
        """Commands wait on the desk; what is not believed is mentioned, now and then."""
        why = self._desk.orders.take_in(arrived)
        if why is None:
            return
        now_s = time.monotonic()
        if now_s - self._mentioned_s > _MENTIONED_EVERY_S:
            self._mentioned_s = now_s
            link.mention(f"{self._device.root}/$log/warn", payloads.text(f"order refused: {why}"))
        if arrived.kept and arrived.topic not in self._cleared:
            # Left there it would come back at every connection, to us or to another program.
            self._cleared.add(arrived.topic)
            self._posted.add(arrived.topic)
            link.post(arrived.topic, b"", retain=True)

    def _ended(self, link: Link) -> LinkError:
        if self.accepted:
            return LinkError("the connection broke")
        if link.encrypted:
            return LinkError("it hung up during the sign-in: does it want tls: cert_file as well?")
        return LinkError("it hung up without a word: is this its port, and does it want tls?")

    def _begin(self, link: Link, largest_bytes: int | None) -> None:
        self.accepted = True
        self._heard_s = self._next_beat_s = time.monotonic()
        most = LARGEST_BYTES if largest_bytes is None else largest_bytes - _HEADER_BYTES
        device = self._device
        self._session = Session(device.root, device.description, min(most, LARGEST_BYTES))
        link.listen()
        if self._desk.orders.topics:
            link.listen_for_commands(sorted(self._desk.orders.topics))
        self._desk.exchange.opened(self._desk.bell.ring)

    # --- out -------------------------------------------------------------------------

    def _beat(self, session: Session) -> None:
        """What is done at most once in send_s."""
        now_s = time.monotonic()
        if now_s < self._next_beat_s:
            return
        self._next_beat_s = now_s + self._pace.send_s
        self._offer(session, stalled=now_s - self._desk.laid_s > self._pace.stalled_s)
        session.defend()
        if now_s - self._insisted_s > self._pace.longest_retry_s:
            self._insisted_s = now_s
            session.insist()
        if now_s - self._heard_s > self._pace.affirm_s and not session.waiting:
            session.affirm()

    def _offer(self, session: Session, *, stalled: bool) -> None:
        tick = self._desk.tick
        if tick is not None and self._shown != (tick, stalled):
            self._shown = (tick, stalled)
            session.offer(self._device.table(tick, stalled=stalled))

    def _follow(self, link: Link, exchange: Exchange) -> None:
        """Read what others want to read, which may have changed, and send what they send."""
        wanted = exchange.topics
        if gone := sorted(self._read - wanted):
            link.unsubscribe(gone)
        if new := sorted(wanted - self._read):
            link.subscribe(new)
        self._read = wanted
        while link.has_room and (parcel := exchange.take(self._posted)) is not None:
            if parcel.topic.startswith(f"{self._device.root}/"):
                exchange.refused(parcel.topic, "it belongs to this keeper's own device")
                continue
            self._posted.add(parcel.topic)
            link.post(parcel.topic, parcel.payload, retain=parcel.retain)

    def _send(self, link: Link, session: Session) -> None:
        while link.has_room and (message := session.take()) is not None:
            link.send(message)
        if session.stage is Stage.READY:
            if not self._greeted:
                self._greeted = True
                link.listen_less()
            self._report(_refused_words(session.refused))

    # --- the end ---------------------------------------------------------------------

    def _leave(self, link: Link) -> None:
        """`disconnected` is said, or the broker says `lost`: a false `ready` never stays."""
        session = self._session
        if session is None:
            link.part()
            return
        self._offer(session, stalled=False)
        if self._desk.removing:
            session.remove()
        else:
            session.leave()
        until_s = time.monotonic() + self._pace.farewell_s
        while session.stage is not Stage.LEFT and (left_s := until_s - time.monotonic()) > 0.0:
            self._send(link, session)
            self._receive_all(link, link.turn(left_s))
        if session.stage is Stage.LEFT:
            link.part()


def _lost(code: int, *, older_mqtt: bool = False) -> LinkError:
    needs_a_person = refusals.needs_a_person(code)
    return LinkError(refusals.words(code), needs_a_person=needs_a_person, older_mqtt=older_mqtt)


def _refused_words(refused: dict[str, str]) -> str | None:
    for topic, why in refused.items():
        more = f" and {len(refused) - 1} more" if len(refused) > 1 else ""
        return f"it does not take {topic}{more}: {why}"
    return None
