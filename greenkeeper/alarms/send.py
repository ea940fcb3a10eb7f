"""The helper process that sends one message, and ends.

    python -m greenkeeper.alarms.send < job.json

Lives here: all that knows apprise. It takes some 20 MiB, which the keeper, who sends a
few messages a year, should not hold for ever; and whatever an unlucky way of sending
does (hang, leak, crash), it does it in here. Does not live here: what is sent, and when.

In: one JSON object {file, title, body, kind, only}; only: numbers of addresses, or null
for all. Out: JSON lines: {trying}, the numbers and kinds of the addresses; one for each
as soon as it is known what became of it, {number, kind, sent, why}; or {fault} when
nothing could be tried.
"""

import contextlib
import json
import logging
import os
import re
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from greenkeeper.alarms.addresses import Address, addresses
from greenkeeper.errors import GreenkeeperError

MISSING_LIBRARY = (
    "the apprise library, which sends messages, is not installed: install greenkeeper[alarms]"
)
_AT_ONCE = 4
_LONGEST_WHY = 200
_SHORTEST_SECRET = 3  # characters


def main() -> int:
    _make_way()
    job = json.load(sys.stdin)
    try:
        chosen = [
            address
            for address in addresses(job["file"])
            if job["only"] is None or address.number in job["only"]
        ]
        # So that it is known whom a helper that hangs left without an answer.
        _tell({"trying": [[address.number, address.kind] for address in chosen]})
        for answer in _send_all(chosen, job):
            _tell(answer)
    except GreenkeeperError as error:
        _tell({"fault": str(error)})
    except ImportError:
        _tell({"fault": MISSING_LIBRARY})
    return 0


def _make_way() -> None:
    """The keeper goes first: in memory and in time. Not everybody may say so, no matter."""
    with contextlib.suppress(OSError):
        os.nice(10)
    with contextlib.suppress(OSError):
        Path("/proc/self/oom_score_adj").write_text("500", encoding="ascii")


def _tell(answer: dict[str, Any]) -> None:
    print(json.dumps(answer), flush=True)


def _send_all(chosen: list[Address], job: dict[str, Any]) -> Iterator[dict[str, Any]]:
    import apprise  # noqa: F401 - so that a missing one is told once, before any thread

    said = _Remarks()
    logger = logging.getLogger("apprise")
    logger.addHandler(said)
    logger.propagate = False
    with ThreadPoolExecutor(_AT_ONCE) as pool:
        tries = [pool.submit(_send_one, address, job, said) for address in chosen]
        for done in as_completed(tries):
            yield done.result()


def _send_one(address: Address, job: dict[str, Any], said: "_Remarks") -> dict[str, Any]:
    import apprise

    said.begin()
    try:
        # Not Apprise().notify(), which leaves the thread whose remarks are kept apart here.
        way = apprise.Apprise.instantiate(address.secret)
        if way is None:
            why = said.last() or f"apprise makes nothing of this {address.kind} address"
            return _answer(address, sent=False, why=why)
        kind = getattr(apprise.NotifyType, job["kind"].upper())
        sent = bool(way.notify(title=job["title"], body=job["body"], notify_type=kind))
    except Exception as error:  # noqa: BLE001 - a way of sending may raise what it likes
        return _answer(address, sent=False, why=type(error).__name__)
    return _answer(address, sent=sent, why="" if sent else said.last() or "not taken")


def _answer(address: Address, *, sent: bool, why: str) -> dict[str, Any]:
    fields = {"number": address.number, "kind": address.kind, "sent": sent}
    return {**fields, "why": without_secrets(why, address)[:_LONGEST_WHY]}


def without_secrets(text: str, address: Address) -> str:
    """text, with every piece of the address blotted out."""
    found = {address.secret, address.secret.partition("://")[2]}
    for whole in tuple(found):
        for piece in re.split(r"[/:@?&=;,]+", whole.partition("://")[2] or whole):
            found |= {piece, unquote(piece), *re.split(r"[^A-Za-z0-9]+", unquote(piece))}
    pieces = [each for each in found if len(each) >= _SHORTEST_SECRET and each != address.kind]
    for piece in sorted(pieces, key=len, reverse=True):
        text = re.sub(re.escape(piece), "•••", text, flags=re.IGNORECASE)
    return text


class _Remarks(logging.Handler):
    """The last warning of each thread: why a message was not taken."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self._last: dict[int | None, str] = {}

    def begin(self) -> None:
        self._last.pop(_thread(), None)

    def last(self) -> str:
        return self._last.get(_thread(), "")

    def emit(self, record: logging.LogRecord) -> None:
        self._last[record.thread] = " ".join(record.getMessage().split())


def _thread() -> int:
    import threading

    return threading.get_ident()


if __name__ == "__main__":
    sys.exit(main())
