"""A letter in words: what a person reads on a telephone, half asleep.

Lives here: subject and text of a message. Does not live here: what is in it
(ledger.py). Pure. The worst comes first, and every line says where, what and since when.
"""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, tzinfo
from typing import NamedTuple

from greenkeeper.alarms.ledger import Entry, Letter
from greenkeeper.alarms.rules import Rules
from greenkeeper.errors import CATALOGUE, Level
from greenkeeper.model import Now, Tick
from greenkeeper.units import shown_c

_LEVEL_WORDS = {Level.NOTICE: "notice", Level.WARNING: "warning", Level.ALARM: "ALARM"}

# How urgent a message is, in the four words that nearly every way of sending has.
FAILURE, WARNING, SUCCESS, INFO = "failure", "warning", "success", "info"


class Post(NamedTuple):
    """A message, ready to be sent."""

    title: str
    body: str
    kind: str  # one of the four words above


def write(letter: Letter, tick: Tick, rules: Rules) -> Post:
    """The message that tells this letter. tick: how the house stands now."""
    when = _When(rules.timezone, tick.now)
    body = [*_lines(letter, when), "", how_it_stands(tick)]
    unseen = [entry for entry in (*letter.new, *letter.worse, *letter.again) if _nags(entry)]
    if unseen:
        name = unseen[0].name if len(unseen) == 1 else "all"
        body += ["", f"Told again until somebody says:  greenkeeper seen {name}"]
    if latches := sorted(tick.memory.latches):
        body += ["", "Locked out until somebody has looked, and then says:"]
        body += [f"  greenkeeper clear {name}" for name in latches]
    return Post(f"{rules.site}: {_headline(letter, rules.site)}", "\n".join(body), _kind(letter))


def how_it_stands(tick: Tick) -> str:
    """Zones and what runs, in a line."""
    zones = [
        f"{view.name} {'no reading' if view.coldest_c is None else shown_c(view.coldest_c)}"
        for view in tick.zones
    ]
    running = [command.output for command in tick.commands if command.on]
    return f"Now: {', '.join(zones)}; {' and '.join(running) or 'nothing'} on."


class _When(NamedTuple):
    timezone: tzinfo
    now: Now

    def of(self, mono_s: float) -> str:
        """Civil time; the day too when it is another one. Nothing while no clock is set."""
        if not self.now.clock_trusted:
            return ""
        passed_s = self.now.mono_s - mono_s
        at, today = self._local(self.now.utc_s - passed_s), self._local(self.now.utc_s)
        return at.strftime("%H:%M" if at.date() == today.date() else "%a %-d %b %H:%M")

    def _local(self, utc_s: float) -> datetime:
        return datetime.fromtimestamp(utc_s, UTC).astimezone(self.timezone)


def _headline(letter: Letter, site: str) -> str:
    for word, entries in (
        ("", letter.new),
        ("worse: ", letter.worse),
        ("still: ", letter.again),
    ):
        if entries:
            alike = sum(entry.level is entries[0].level for entry in entries)
            more = f", and {alike - 1} more" if alike > 1 else ""
            return f"{word}{_what(entries[0], site)}{more}"
    if letter.happened:
        return _what(letter.happened[0], site)
    return f"over: {_what(letter.over[0], site)}" if letter.still else "all clear"


def _what(entry: Entry, site: str) -> str:
    """Where and what; the house itself is named already."""
    return _title(entry) if entry.subject == site else f"{entry.subject}: {_title(entry)}"


def _kind(letter: Letter) -> str:
    telling = (*letter.new, *letter.worse, *letter.again, *letter.happened)
    worst = max((entry.level for entry in telling), default=None)
    if worst is Level.ALARM:
        return FAILURE
    if worst is Level.WARNING:
        return WARNING
    return INFO if worst is Level.NOTICE or letter.still else SUCCESS


def _lines(letter: Letter, when: _When) -> Iterator[str]:
    for entries, word in (
        (letter.new, ""),
        (letter.worse, "worse, "),
        (letter.again, "still, "),
    ):
        yield from (_line(entry, word, when) for entry in entries)
    for entry in letter.happened:
        often = f"{entry.happened} times, first at" if entry.happened > 1 else "at"
        yield _line(entry, "", when, often)
    for entry in letter.over:
        yield _over_line(entry, when)
    yield from _quietly(letter.still, when)
    if letter.untold:
        yield f"And {letter.untold} more that the journal has."


def _line(entry: Entry, word: str, when: _When, since: str = "since") -> str:
    level = _LEVEL_WORDS[entry.level]
    text = f" ({entry.text})" if entry.text else ""
    at = when.of(entry.since_s)
    restart = "; not met again since the keeper's restart" if entry.carried else ""
    begun = f", {since} {at}" if at else ""
    return f"{level}, {word}{entry.subject}: {_title(entry)}{text}{begun}{restart}."


def _over_line(entry: Entry, when: _When) -> str:
    if entry.gone_s is None:
        raise ValueError(f"{entry.name} is not over")
    begin, end = when.of(entry.since_s), when.of(entry.gone_s)
    span = f", {begin} to {end}" if begin else ""
    return f"over, {entry.subject}: {_title(entry)}{span}."


def _quietly(still: Iterable[Entry], when: _When) -> Iterator[str]:
    for entry in still:
        yield _line(entry, "known, seen, " if entry.seen else "known, ", when)


def _title(entry: Entry) -> str:
    return CATALOGUE[entry.code].title


def _nags(entry: Entry) -> bool:
    return entry.level is Level.ALARM and not entry.seen
