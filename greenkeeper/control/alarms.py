"""Conditions become alarms once they last, and alarms end once the cause has gone.

Lives here: raising and clearing with the durations of errors.CATALOGUE, so that
nothing flaps. Does not live here: which conditions hold (the other modules of control
and the shell say so) and whom to tell.
"""

from collections.abc import Iterable, Mapping

from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Alarm, AlarmMemory, Condition, Event, Now, Phase

Key = tuple[str, str]


def advance(
    board: Mapping[Key, AlarmMemory], conditions: Iterable[Condition], now: Now
) -> tuple[Mapping[Key, AlarmMemory], list[Event]]:
    """The board one tick on, and what there is to tell."""
    present = {(each.code, each.subject): each for each in conditions}
    if not present and not board:
        return board, []
    events: list[Event] = []
    after: dict[Key, AlarmMemory] = {}
    for key, condition in present.items():
        after[key] = _holding(board.get(key), condition, now, events)
    for key, entry in board.items():
        if key not in present and entry.active:
            left = _gone(entry, now, events)
            if left is not None:
                after[key] = left
    return after, events


def _holding(
    entry: AlarmMemory | None, condition: Condition, now: Now, events: list[Event]
) -> AlarmMemory:
    if entry is None:
        since_s, since_utc_s, active = now.mono_s, now.utc_s, False
    else:
        since_s, since_utc_s, active = entry.alarm.since_s, entry.alarm.since_utc_s, entry.active
    alarm = Alarm(condition.code, condition.subject, condition.text, since_s, since_utc_s)
    if not active and now.mono_s - since_s >= CATALOGUE[condition.code].raise_after_s:
        active = True
        events.append(event(condition, Phase.RAISED, now))
    return AlarmMemory(alarm, active, None)


def _gone(entry: AlarmMemory, now: Now, events: list[Event]) -> AlarmMemory | None:
    gone_since_s = now.mono_s if entry.gone_since_s is None else entry.gone_since_s
    if now.mono_s - gone_since_s < CATALOGUE[entry.alarm.code].clear_after_s:
        return entry._replace(gone_since_s=gone_since_s)
    alarm = entry.alarm
    events.append(event(Condition(alarm.code, alarm.subject, alarm.text), Phase.CLEARED, now))
    return None


def event(condition: Condition, phase: Phase, now: Now) -> Event:
    return Event(condition.code, phase, condition.subject, condition.text, now.mono_s, now.utc_s)
