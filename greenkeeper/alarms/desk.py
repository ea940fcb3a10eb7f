"""The desk: hears every tick, has letters written and sent, and says when that fails.

Lives here: the one place of this room with a state over time: the ledger, who could not
be reached, and when to try again. Does not live here: what is due (ledger.py), the words
(letter.py), and anything that could wait (courier.py, in a thread of its own).

A letter counts as arrived when one address has taken it. Others that did not are tried
again with what they have missed; a letter that nobody took is written afresh when it is
time to try again, so that it tells how things stand then.
"""

from collections import deque
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from greenkeeper.alarms import ledger as book
from greenkeeper.alarms.courier import Courier, Delivery, Errand, Outcome, in_words
from greenkeeper.alarms.ledger import Key, Letter, Urgency
from greenkeeper.alarms.ledger_file import FILE_NAME, LedgerFile
from greenkeeper.alarms.letter import Post, write
from greenkeeper.alarms.rules import Rules, make_rules
from greenkeeper.lean import structlog
from greenkeeper.model import Alarm, Condition, Event, Now, Phase, Request, Tick
from greenkeeper.settings.schema import Settings

FAILING = "alarms-failing"
SUBJECT = "alarms"

_FIRST_WAIT_S = 15.0
_LONGEST_WAIT_S = 300.0
_LONGEST_WAIT_MISSED_S = 3600.0  # others have it
_MOST_MISSED = 10  # messages kept for an address that does not take them
CLOSE_S = 3.0


class Missed(NamedTuple):
    """An address that did not take what others took."""

    posts: tuple[Post, ...]  # oldest first
    why: str
    tries: int
    again_s: float  # monotonic second of the next try


class Desk:
    """For the loop's thread. Nothing here raises, and only close() ever waits."""

    def __init__(
        self, settings: Settings, state: Path, now: Now, *, courier: Courier | None = None
    ) -> None:
        """Raises ValueError when the settings name nobody to be told."""
        self._rules, self._addresses_file = _wishes(settings)
        self._file = LedgerFile(state / FILE_NAME)
        self._ledger = self._file.load(now)
        self._courier = courier or Courier()
        self._missed: dict[int, Missed] = {}
        self._errand: Errand | None = None
        self._standing: list[Alarm] = []
        self._happenings: deque[Event] = deque(maxlen=book.MOST_ENTRIES)
        self._tries = 0  # in a row that reached nobody
        self._again_s = float("-inf")
        self._tried: frozenset[Key] = frozenset()  # alarms whose first word was tried in vain
        self._trouble = ""

    def use(self, settings: Settings) -> None:
        """Go on under other settings. Raises ValueError as when made."""
        rules, file = _wishes(settings)
        if file != self._addresses_file:
            self._missed, self._tries, self._again_s = {}, 0, float("-inf")
            self._trouble = ""
        self._rules, self._addresses_file = rules, file

    def note(self, event: Event) -> None:
        """A happening outside the ticks; it is told with the next one, or after a restart."""
        self._happenings.append(event)

    def take(self, tick: Tick, requests: Sequence[Request] = ()) -> frozenset[Key]:
        """Hear one tick, and send what is due. Returns the alarms that somebody has seen."""
        self._collect(tick.now)
        self._advance(tick, requests)
        if self._courier.free and not self._send_letter(tick):
            self._send_missed(tick.now)
        self._file.save(self._ledger, tick.now)
        return frozenset(key for key, entry in self._ledger.entries.items() if entry.seen)

    def conditions(self) -> tuple[Condition, ...]:
        found = self._file.conditions()
        why = self._trouble or "; ".join(
            f"{missed.why} ({len(missed.posts)} not taken)" for missed in self._missed.values()
        )
        return (*found, Condition(FAILING, SUBJECT, why)) if why else found

    def close(self, now: Now, patience_s: float = CLOSE_S) -> None:
        """Let a message under way arrive, for so long. What was not told is told next time."""
        self._courier.close(patience_s)
        self._collect(now)
        happened = self._drained()
        if happened:
            self._ledger = book.advance(
                self._ledger, self._standing, happened, frozenset(), {}, self._rules, now
            )
        self._file.save(self._ledger, now)

    # --- in ----------------------------------------------------------------------------

    def _advance(self, tick: Tick, requests: Sequence[Request]) -> None:
        alarms = tick.memory.alarms.values()
        self._standing = standing = [each.alarm for each in alarms if each.active]
        noted = [event for event in tick.events if event.phase is Phase.NOTED]
        self._ledger = book.advance(
            self._ledger,
            standing,
            [*self._drained(), *noted],
            {request.seen for request in requests if request.seen},
            beyond_limits(tick, self._rules),
            self._rules,
            tick.now,
        )

    def _drained(self) -> list[Event]:
        found = list(self._happenings)
        self._happenings.clear()
        return found

    # --- out ---------------------------------------------------------------------------

    def _send_letter(self, tick: Tick) -> bool:
        letter = book.next_letter(self._ledger, self._rules, tick.now)
        if letter is None or not self._may_try(letter, tick.now):
            return False
        post = write(letter, tick, self._rules)
        self._ledger = book.posted(self._ledger, letter)
        self._go(Errand(self._addresses_file, post, None))
        return True

    def _may_try(self, letter: Letter, now: Now) -> bool:
        """Not yet again, unless for an alarm that was never tried."""
        return now.mono_s >= self._again_s or not _first_words(letter) <= self._tried

    def _send_missed(self, now: Now) -> None:
        for number, missed in self._missed.items():
            if now.mono_s >= missed.again_s:
                self._go(Errand(self._addresses_file, _together(missed.posts), (number,)))
                return

    def _go(self, errand: Errand) -> None:
        self._errand = errand
        self._courier.go(errand)

    # --- what became of it ---------------------------------------------------------------

    def _collect(self, now: Now) -> None:
        outcome, errand = self._courier.collect(), self._errand
        if outcome is None or errand is None:
            return
        self._errand = None
        if errand.only is not None:
            self._missed_came_back(errand.only[0], outcome, now)
        elif outcome.somebody_has_it:
            self._ledger = book.arrived(self._ledger, now)
            self._tries, self._again_s, self._trouble = 0, float("-inf"), ""
            self._tried = frozenset()
            _log_sent(errand.post, outcome)
            for delivery in outcome.deliveries:
                self._remember(delivery, errand.post, now)
        else:
            letter = self._ledger.on_its_way
            self._tried |= frozenset() if letter is None else _first_words(letter)
            self._ledger = book.returned(self._ledger)
            self._again_s = now.mono_s + _wait_s(self._tries, _LONGEST_WAIT_S)
            self._tries += 1
            self._trouble = outcome.fault or in_words(outcome.deliveries)

    def _remember(self, delivery: Delivery, post: Post, now: Now) -> None:
        missed = self._missed.get(delivery.number)
        if delivery.sent:
            if missed is not None:  # it works again: now what it has missed
                self._missed[delivery.number] = missed._replace(again_s=now.mono_s)
            return
        posts = (post,) if missed is None else (*missed.posts, post)[-_MOST_MISSED:]
        tries = 0 if missed is None else missed.tries
        again_s = now.mono_s + _FIRST_WAIT_S if missed is None else missed.again_s
        self._missed[delivery.number] = Missed(posts, in_words([delivery]), tries, again_s)

    def _missed_came_back(self, number: int, outcome: Outcome, now: Now) -> None:
        missed = self._missed.pop(number, None)
        gone = not outcome.deliveries and outcome.fault is None  # from the file, meanwhile
        if missed is None or outcome.somebody_has_it or gone:
            return
        self._missed[number] = missed._replace(
            why=in_words(outcome.deliveries) or outcome.fault or missed.why,
            tries=missed.tries + 1,
            again_s=now.mono_s + _wait_s(missed.tries, _LONGEST_WAIT_MISSED_S),
        )


def beyond_limits(tick: Tick, rules: Rules) -> dict[Key, float]:
    """How far a zone is beyond what its plants stand, in kelvin, by the alarm that says so."""
    found: dict[Key, float] = {}
    for view in tick.zones:
        minimum_c, maximum_c = rules.minimum_c.get(view.name), rules.maximum_c.get(view.name)
        if minimum_c is not None and view.coldest_c is not None:
            found["below-minimum", view.name] = minimum_c - view.coldest_c
        if maximum_c is not None and view.warmest_c is not None:
            found["above-maximum", view.name] = view.warmest_c - maximum_c
    return found


def _wishes(settings: Settings) -> tuple[Rules, str]:
    if settings.alarms is None or settings.alarms.addresses_file is None:
        raise ValueError("the settings name nobody to be told")
    return make_rules(settings), settings.alarms.addresses_file


def _log_sent(post: Post, outcome: Outcome) -> None:
    taken = sum(each.sent for each in outcome.deliveries)
    of = f"{taken} of {len(outcome.deliveries)}"
    structlog.get_logger().info("message-sent", title=post.title, addresses=of)


def _first_words(letter: Letter) -> frozenset[Key]:
    """The alarms that hurry this letter."""
    if letter.urgency is not Urgency.FIRST:
        return frozenset()
    return frozenset(entry.key for entry in letter.entries if entry.told_s is None)


def _wait_s(tries: int, longest_s: float) -> float:
    """Before another try, after so many in vain before this one."""
    return float(min(longest_s, _FIRST_WAIT_S * 2 ** min(tries, 20)))


def _together(posts: Sequence[Post]) -> Post:
    """One message in place of those that were missed, the newest first."""
    newest = posts[-1]
    if len(posts) == 1:
        return newest
    earlier = [f"Missed before: {post.title}\n{post.body}" for post in reversed(posts[:-1])]
    return newest._replace(body="\n\n".join([newest.body, *earlier]))
