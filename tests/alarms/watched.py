"""One house's alarms over an invented time, and whoever is told of them.

    house = Watched(most_an_hour=3)
    house.alarm("below-minimum", "bench"); house.pass_time(60)
    house.letters[-1].new

Lives here: driving the ledger tick by tick, with a courier that takes as long as it is
told and fails when it is told. Does not live here: any expectation.
"""

from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from greenkeeper.alarms import ledger as book
from greenkeeper.alarms.ledger import Key, Ledger, Letter
from greenkeeper.alarms.ledger_file import FILE_NAME, LedgerFile
from greenkeeper.alarms.rules import Rules
from greenkeeper.errors import Level
from greenkeeper.model import Alarm, Event, Now, Phase

NOON = 1_768_475_000.0  # 2026-01-15 11:03:20 UTC
NIGHT = NOON + 12 * 3600.0  # 23:03:20 UTC
TICK_S = 10.0

RULES = Rules(
    site="orchard-house",
    timezone=ZoneInfo("UTC"),
    tell_from=Level.WARNING,
    quiet=(22 * 60, 7 * 60),
    gather_s=300.0,
    repeat_s=3600.0,
    over_after_s=1800.0,
    most_an_hour=6,
    minimum_c={},
    maximum_c={},
)


class Sent(NamedTuple):
    letter: Letter
    utc_s: float  # when it arrived


class Watched:
    def __init__(self, utc_s: float = NOON, *, clock_trusted: bool = True, **rules: object) -> None:
        self.rules = RULES._replace(**rules)
        self.now = Now(5000.0, utc_s, clock_trusted)
        self.ledger: Ledger = book.EMPTY
        self.standing: dict[Key, Alarm] = {}
        self.beyond_k: dict[Key, float] = {}
        self.sent: list[Sent] = []  # those that arrived
        self.reachable = True
        self.takes_ticks = 1  # from handing over to knowing
        self.tick_s = TICK_S
        self._left = 0

    @property
    def letters(self) -> list[Letter]:
        return [each.letter for each in self.sent]

    def alarm(self, code: str, subject: str, text: str = "as the test says") -> None:
        self.standing[code, subject] = Alarm(code, subject, text, self.now.mono_s, self.now.utc_s)

    def end(self, code: str, subject: str) -> None:
        self.standing.pop((code, subject), None)

    def happen(self, code: str, subject: str, text: str = "as the test says") -> None:
        self.tick(
            happenings=[Event(code, Phase.NOTED, subject, text, self.now.mono_s, self.now.utc_s)]
        )

    def see(self, name: str) -> None:
        self.tick(seen=frozenset({name}))

    def pass_time(self, seconds: float) -> None:
        for _ in range(round(seconds / self.tick_s)):
            self.tick()

    def tick(self, happenings=(), seen=frozenset()) -> None:
        if self.ledger.on_its_way is not None:
            self._left -= 1
            if self._left <= 0:
                self._come_back()
        self.ledger = book.advance(
            self.ledger,
            list(self.standing.values()),
            happenings,
            seen,
            self.beyond_k,
            self.rules,
            self.now,
        )
        letter = book.next_letter(self.ledger, self.rules, self.now)
        if letter is not None:
            self.ledger = book.posted(self.ledger, letter)
            self._handed_s = self.now.mono_s
            self._left = self.takes_ticks
        self.now = self.now._replace(
            mono_s=self.now.mono_s + self.tick_s, utc_s=self.now.utc_s + self.tick_s
        )

    def restart(self, folder: Path) -> None:
        """The Pi is away for half a minute; its monotonic clock begins anew, and control
        finds again what stands."""
        LedgerFile(folder / FILE_NAME).save(self.ledger, self.now)
        self.now = self.now._replace(mono_s=12.0, utc_s=self.now.utc_s + 30.0)
        self.ledger = LedgerFile(folder / FILE_NAME).load(self.now)
        self.standing = {
            key: alarm._replace(since_s=self.now.mono_s, since_utc_s=self.now.utc_s)
            for key, alarm in self.standing.items()
        }

    def _come_back(self) -> None:
        if self.reachable:
            letter = self.ledger.on_its_way
            self.ledger = book.arrived(self.ledger, self.now)
            self.sent.append(Sent(letter, self.now.utc_s))
        else:
            self.ledger = book.returned(self.ledger)
