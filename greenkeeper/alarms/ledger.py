"""What a person has been told of, what they have not, and when the next letter is due.

Lives here: one pure state, the Ledger, from tick to tick. Does not live here: the words
of a letter (letter.py), sending it (desk.py), and when a condition becomes an alarm.

Three urgencies: the first word of an alarm goes at once, whatever the hour and however
many letters went before. What else concerns an alarm (it has grown worse, nobody has
seen it yet, it is over) goes at any hour, but within most_an_hour. What is less than an
alarm gathers, waits for the end of the quiet hours, and keeps to most_an_hour as well.

Only one letter is on its way at a time, and a letter that does not arrive leaves the
ledger as it was. So nothing queues, nothing is lost, and whoever can be reached again
after a night without a network gets one letter with all of it.
"""

from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from enum import IntEnum
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.alarms.rules import Rules, is_quiet
from greenkeeper.errors import CATALOGUE, Level
from greenkeeper.model import Alarm, Event, Now, alarm_name

Key = tuple[str, str]  # code, subject

HOUR_S = 3600.0
WORSE_K = 2.0  # so much further beyond a plant's limit is news
CARRIED_OVER_AFTER_S = 3600.0  # watch may need that long to find a thing again after a start
MOST_ENTRIES = 200  # what a house can have wrong is far less; subjects can be invented
EVERYTHING = "all"

# Answers to somebody who is sitting at a terminal.
_ANSWERS = frozenset(
    {"latch-cleared", "latch-kept", "relay-renewed", "relay-unknown", "commissioned"}
)


class Urgency(IntEnum):
    CALM = 1  # waits for company and for the end of the quiet hours
    PRESSING = 2  # at any hour
    FIRST = 3  # at once


class Entry(NamedTuple):
    """One alarm, as whoever is told follows it. All times are monotonic seconds: civil time
    is worked out when a letter is written, for the clock may have been set since."""

    code: str
    subject: str
    text: str
    since_s: float
    known_s: float  # from when on it has waited to be told
    stands: bool = True
    gone_s: float | None = None  # Invariant: a number exactly when it stands no more
    told_s: float | None = None  # the last letter that named it; None: not yet
    seen: bool = False  # a person said so: no reminders
    beyond_k: float | None = None  # how far beyond a plant's limit; None: it is about none
    told_beyond_k: float | None = None  # the same, as last told
    happened: int = 0  # a single happening, so many times; 0: a condition
    carried: bool = False  # known from before a restart, not met again since

    @property
    def key(self) -> Key:
        return self.code, self.subject

    @property
    def name(self) -> str:
        return alarm_name(self.code, self.subject)

    @property
    def level(self) -> Level:
        return CATALOGUE[self.code].level


class Letter(NamedTuple):
    """What one message tells. An entry is in one group only."""

    urgency: Urgency
    new: tuple[Entry, ...]
    worse: tuple[Entry, ...]
    again: tuple[Entry, ...]  # reminders
    over: tuple[Entry, ...]  # among them what came and went untold
    happened: tuple[Entry, ...]
    still: tuple[Entry, ...]  # told before, and standing
    untold: int = 0  # happenings for which there was no room

    @property
    def entries(self) -> tuple[Entry, ...]:
        return (
            *self.new,
            *self.worse,
            *self.again,
            *self.over,
            *self.happened,
            *self.still,
        )


class Ledger(NamedTuple):
    entries: Mapping[Key, Entry] = MappingProxyType({})
    on_its_way: Letter | None = None
    sent_s: tuple[float, ...] = ()  # letters of the last hour
    lately_s: Mapping[Key, float] = MappingProxyType({})  # alarms told in the last hour
    untold: int = 0


EMPTY = Ledger()


# --- tick by tick ----------------------------------------------------------------------


def advance(
    ledger: Ledger,
    standing: Iterable[Alarm],
    happenings: Iterable[Event],
    seen: AbstractSet[str],
    beyond_k: Mapping[Key, float],
    rules: Rules,
    now: Now,
) -> Ledger:
    """The ledger one tick on.

    standing: the alarms of this moment, of whatever level. happenings: events without an
    end. seen: names of alarms that somebody has seen. beyond_k: how far a standing alarm
    is beyond the limit it is about, in kelvin.
    """
    present = {
        (each.code, each.subject): each for each in standing if _counts(each.code, rules.tell_from)
    }
    noted = [each for each in happenings if _worth_telling(each, rules)]
    if not (present or noted or ledger.entries or ledger.sent_s):
        return ledger
    entries = {
        key: entry if key in present else _not_standing(entry, now)
        for key, entry in ledger.entries.items()
    }
    untold = ledger.untold
    for key, alarm in present.items():
        entries[key] = _standing(entries.get(key), alarm, beyond_k.get(key), rules, now)
    for event in noted:
        key = (event.code, event.subject)
        if key in entries or len(entries) < MOST_ENTRIES:
            entries[key] = _happened(entries.get(key), event)
        else:
            untold += 1
    if seen:
        entries = {
            key: entry._replace(seen=True)
            if entry.stands and not seen.isdisjoint((entry.name, EVERYTHING))
            else entry
            for key, entry in entries.items()
        }
    return ledger._replace(
        entries=entries,
        untold=untold,
        sent_s=tuple(each_s for each_s in ledger.sent_s if now.mono_s - each_s < HOUR_S),
        lately_s={
            key: each_s for key, each_s in ledger.lately_s.items() if now.mono_s - each_s < HOUR_S
        },
    )


def _counts(code: str, tell_from: Level) -> bool:
    return CATALOGUE[code].level >= tell_from


def _worth_telling(event: Event, rules: Rules) -> bool:
    return event.code not in _ANSWERS and _counts(event.code, rules.tell_from)


def _standing(
    entry: Entry | None, alarm: Alarm, beyond_k: float | None, rules: Rules, now: Now
) -> Entry:
    if entry is None:
        return Entry(
            alarm.code, alarm.subject, alarm.text, alarm.since_s, now.mono_s, beyond_k=beyond_k
        )
    if _is_over(entry, rules, now):
        # It has come back: whoever had seen the last one has not seen this one.
        entry = entry._replace(seen=False)
    return entry._replace(
        text=alarm.text,
        stands=True,
        gone_s=None,
        beyond_k=beyond_k,
        happened=0,
        carried=False,
    )


def _not_standing(entry: Entry, now: Now) -> Entry:
    if not entry.stands:
        return entry
    return entry._replace(stands=False, gone_s=now.mono_s)


def _happened(entry: Entry | None, event: Event) -> Entry:
    if entry is not None:
        # A happening beside a condition of the same name adds to what is known of that.
        times = entry.happened + 1 if entry.happened else 0
        return entry._replace(text=event.text, happened=times)
    return Entry(
        event.code,
        event.subject,
        event.text,
        event.mono_s,
        event.mono_s,
        stands=False,
        gone_s=event.mono_s,
        happened=1,
    )


# --- the next letter -------------------------------------------------------------------


def next_letter(ledger: Ledger, rules: Rules, now: Now) -> Letter | None:
    """What to send now, if anything. `posted` must be told before it is asked again."""
    if ledger.on_its_way is not None or not ledger.entries:
        return None
    alarmed = any(
        entry.stands and entry.told_s is not None and entry.level is Level.ALARM
        for entry in ledger.entries.values()
    )
    urgencies = [
        urgency
        for entry in ledger.entries.values()
        if (urgency := _urgency(entry, ledger, alarmed, rules, now)) is not None
    ]
    if not urgencies:
        return None
    urgency = max(urgencies)
    if urgency < Urgency.FIRST and len(ledger.sent_s) >= rules.most_an_hour:
        return None
    if urgency is Urgency.CALM and is_quiet(rules, now):
        return None
    return _written(urgency, ledger, rules, now)


def _urgency(entry: Entry, ledger: Ledger, alarmed: bool, rules: Rules, now: Now) -> Urgency | None:
    """How urgently this entry wants a letter; None: not at all."""
    if entry.level is Level.ALARM:
        if entry.told_s is None and entry.key not in ledger.lately_s:
            return Urgency.FIRST
        return Urgency.PRESSING if _is_news(entry, rules, now) else None
    if not _is_news(entry, rules, now):
        return None
    # Beside an alarm it is no more than a line of that alarm's next letter.
    wait_s = max(rules.gather_s, rules.repeat_s) if alarmed else rules.gather_s
    return (
        Urgency.CALM if entry.told_s is not None or now.mono_s - entry.known_s >= wait_s else None
    )


def _is_news(entry: Entry, rules: Rules, now: Now) -> bool:
    return (
        entry.told_s is None
        or _is_worse(entry)
        or _wants_reminder(entry, rules, now)
        or _is_over(entry, rules, now)
    )


def _is_worse(entry: Entry) -> bool:
    if not entry.stands or entry.beyond_k is None or entry.told_beyond_k is None:
        return False
    return entry.beyond_k >= entry.told_beyond_k + WORSE_K


def _wants_reminder(entry: Entry, rules: Rules, now: Now) -> bool:
    return (
        entry.stands
        and not (entry.seen or entry.carried)
        and entry.level is Level.ALARM
        and entry.told_s is not None
        and now.mono_s - entry.told_s >= rules.repeat_s
    )


def _is_over(entry: Entry, rules: Rules, now: Now) -> bool:
    if entry.gone_s is None:
        return False
    after_s = max(rules.over_after_s, CARRIED_OVER_AFTER_S if entry.carried else 0.0)
    return now.mono_s - entry.gone_s >= after_s


def _written(urgency: Urgency, ledger: Ledger, rules: Rules, now: Now) -> Letter:
    groups: dict[str, list[Entry]] = {
        name: [] for name in ("new", "worse", "again", "over", "happened", "still")
    }
    for entry in sorted(ledger.entries.values(), key=lambda each: (-each.level, each.since_s)):
        groups[_group(entry, rules, now)].append(entry)
    return Letter(
        urgency,
        **{name: tuple(found) for name, found in groups.items()},
        untold=ledger.untold,
    )


def _group(entry: Entry, rules: Rules, now: Now) -> str:
    if entry.happened:
        return "happened"
    if entry.told_s is None:
        # After a restart a thing takes its time to be found again; that is not its end.
        believed = entry.stands or (entry.carried and not _is_over(entry, rules, now))
        return "new" if believed else "over"
    if _is_over(entry, rules, now):
        return "over"
    if _is_worse(entry):
        return "worse"
    return "again" if _wants_reminder(entry, rules, now) else "still"


# --- what became of it -----------------------------------------------------------------


def posted(ledger: Ledger, letter: Letter) -> Ledger:
    return ledger._replace(on_its_way=letter)


def returned(ledger: Ledger) -> Ledger:
    """The letter reached nobody: all it told is still to be told."""
    return ledger._replace(on_its_way=None)


def arrived(ledger: Ledger, now: Now) -> Ledger:
    """Somebody has it."""
    letter = ledger.on_its_way
    if letter is None:
        return ledger
    entries, lately_s = dict(ledger.entries), dict(ledger.lately_s)
    ended = {entry.key for entry in (*letter.over, *letter.happened)}
    for told in letter.entries:
        if told.level is Level.ALARM:
            lately_s[told.key] = now.mono_s
        entry = entries[told.key]
        if told.key not in ended:
            entries[told.key] = _told(entry, told, now)
        elif entry.happened > told.happened:
            # Again, while the letter was on its way.
            happened = entry.happened - told.happened
            entries[told.key] = entry._replace(known_s=now.mono_s, happened=happened)
        else:
            # What has come back meanwhile is met as new in the next tick.
            del entries[told.key]
    return ledger._replace(
        entries=entries,
        on_its_way=None,
        sent_s=(*ledger.sent_s, now.mono_s),
        lately_s=lately_s,
        untold=ledger.untold - letter.untold,
    )


def _told(entry: Entry, told: Entry, now: Now) -> Entry:
    """A reminder counts from the last letter that reminded, and so does what is worse."""
    beyond_k = told.beyond_k if told.told_beyond_k is None else told.told_beyond_k
    if _is_worse(told):
        beyond_k = told.beyond_k
    return entry._replace(told_s=now.mono_s, told_beyond_k=beyond_k)
