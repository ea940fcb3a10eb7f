"""The ledger over a restart: whoever was told is not told again, and the rest still is.

Lives here: one small JSON file in the state folder, replaced when something was told,
seen, new or over. Monotonic seconds mean nothing to the next run, so the file has
POSIX seconds. Does not live here: what a ledger means (ledger.py).
"""

import json
import math
from pathlib import Path
from typing import Any

from greenkeeper import files
from greenkeeper.alarms.ledger import EMPTY, HOUR_S, Entry, Ledger
from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Condition, Now

FILE_NAME = "told.json"
_FORMAT = 1
_LATEST_UTC_S = 4e10  # in the year 3237
_KEPT = ("code", "subject", "text", "seen", "told_beyond_k", "happened")


class LedgerFile:
    """The ledger as last written, and the trouble in writing it."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._written: Ledger | None = None
        self._trouble: str | None = None

    def load(self, now: Now) -> Ledger:
        """What an earlier run told. A file that makes no sense counts as none: at worst
        somebody is told twice."""
        try:
            ledger = _read(json.loads(self._file.read_text(encoding="utf-8")), now)
        except FileNotFoundError:
            return EMPTY
        except (OSError, ValueError, TypeError, KeyError, RecursionError) as error:
            self._trouble = f"{self._file} could not be read: {error}"
            return EMPTY
        self._written = ledger
        return ledger

    def save(self, ledger: Ledger, now: Now) -> None:
        """Write it if it changed in what matters. Raises nothing; see conditions()."""
        if self._written is not None and _gist(ledger) == _gist(self._written):
            return
        if self._written is None and ledger == EMPTY:
            return
        text = json.dumps(_document(ledger, now), indent=1) + "\n"
        try:
            # Not durable: a slow card must not hold the loop up for a file that a power cut
            # may cost without harm. Somebody is then told twice.
            files.replace(self._file, text, durable=False)
        except OSError as error:
            self._trouble = f"{self._file} cannot be written: {error.strerror}"
            return
        self._written, self._trouble = ledger, None

    def conditions(self) -> tuple[Condition, ...]:
        if self._trouble is None:
            return ()
        return (Condition("keepsakes-failing", "alarms", self._trouble),)


def _gist(ledger: Ledger) -> object:
    """What of a ledger is worth a write: not every word of a text that changes."""
    return {
        (entry.key, entry.told_s, entry.seen, entry.happened > 0)
        for entry in ledger.entries.values()
    }, ledger.lately_s


def _document(ledger: Ledger, now: Now) -> dict[str, Any]:
    behind_s = now.utc_s - now.mono_s
    return {
        "format": _FORMAT,
        "entries": [
            {
                **{name: getattr(entry, name) for name in _KEPT},
                "since_utc_s": entry.since_s + behind_s,
                "told_utc_s": None if entry.told_s is None else entry.told_s + behind_s,
            }
            for entry in ledger.entries.values()
        ],
        "sent_utc_s": [each_s + behind_s for each_s in ledger.sent_s],
        "lately": [[*key, each_s + behind_s] for key, each_s in ledger.lately_s.items()],
    }


def _read(document: Any, now: Now) -> Ledger:
    """Raises ValueError, TypeError or KeyError for what is no ledger."""
    if document["format"] != _FORMAT:
        raise ValueError("not a file of this version")
    entries = [_entry(fields, now) for fields in document["entries"]]
    return Ledger(
        entries={entry.key: entry for entry in entries},
        sent_s=tuple(
            sent_s
            for each in document["sent_utc_s"]
            if now.mono_s - (sent_s := _mono_s(each, now)) < HOUR_S
        ),
        lately_s={
            (str(code), str(subject)): _mono_s(each, now)
            for code, subject, each in document["lately"]
            if code in CATALOGUE
        },
    )


def _entry(fields: dict[str, Any], now: Now) -> Entry:
    if fields["code"] not in CATALOGUE:
        raise ValueError(f"no such code: {fields['code']!r}")
    told, since_s = fields["told_utc_s"], _mono_s(fields["since_utc_s"], now)
    happened = int(fields["happened"])
    beyond_k = fields["told_beyond_k"]
    if beyond_k is not None and not math.isfinite(beyond_k):
        raise ValueError(f"{beyond_k!r} is no difference")
    return Entry(
        str(fields["code"]),
        str(fields["subject"]),
        str(fields["text"]),
        since_s,
        now.mono_s,
        stands=not happened,
        gone_s=now.mono_s if happened else None,
        told_s=None if told is None else _mono_s(told, now),
        seen=bool(fields["seen"]),
        told_beyond_k=None if beyond_k is None else float(beyond_k),
        happened=happened,
        carried=not happened,
    )


def _mono_s(utc_s: Any, now: Now) -> float:
    """A civil second on this run's clock. One that lies ahead, by a clock that is not set
    yet, counts as just now."""
    return now.mono_s - max(0.0, now.utc_s - _utc_s(utc_s))


def _utc_s(value: Any) -> float:
    """A number that any calendar has a date for."""
    utc_s = float(value)
    if not 0.0 <= utc_s <= _LATEST_UTC_S:
        raise ValueError(f"{value!r} is no moment")
    return utc_s
