"""The courier: a thread that has a message sent by a helper process, and says what became of it.

Lives here: one errand at a time, its deadline, and the end of a helper that hangs. Does
not live here: when to send and when to try again (desk.py), and apprise (send.py).
"""

import json
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from typing import NamedTuple

from greenkeeper.alarms.letter import Post

# On a small board the helper takes 10 s to come up. Below a minute: see desk.py.
DEADLINE_S = 45.0


class Errand(NamedTuple):
    file: str  # that holds the addresses, as the settings name it
    post: Post
    only: tuple[int, ...] | None  # numbers of addresses; None: all


class Delivery(NamedTuple):
    """What became of it at one address."""

    number: int
    kind: str
    sent: bool
    why: str


class Outcome(NamedTuple):
    deliveries: tuple[Delivery, ...]
    fault: str | None  # why nothing, or no more, could be tried

    @property
    def somebody_has_it(self) -> bool:
        return any(each.sent for each in self.deliveries)


Send = Callable[[Errand, Callable[["subprocess.Popen[str]"], None]], Outcome]


def send(
    errand: Errand, started: Callable[["subprocess.Popen[str]"], None] = lambda _: None
) -> Outcome:
    """Run the helper to its end, or for DEADLINE_S. Raises nothing.

    started: told of the process, so that somebody else can end it.
    """
    job = {"file": errand.file, "only": errand.only, **errand.post._asdict()}
    try:
        helper = subprocess.Popen(
            [sys.executable, "-m", "greenkeeper.alarms.send"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            # Whatever a library shouts there may hold an address.
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
        )
    except (OSError, ValueError) as error:
        return Outcome((), f"the helper cannot be started: {error}")
    started(helper)
    with helper:
        try:
            said, _ = helper.communicate(json.dumps(job), timeout=DEADLINE_S)
            ending = None if helper.returncode == 0 else f"exit code {helper.returncode}"
        except subprocess.TimeoutExpired as error:
            helper.kill()
            # What it had said by then counts; the rest is not known to have been sent.
            said, _ = helper.communicate()
            said = said or _text(error.stdout)
            ending = f"no answer within {DEADLINE_S:.0f} s"
        except OSError as error:
            ending, said = str(error), ""
    return _understood(said, ending)


def _text(said: object) -> str:
    return said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said or "")


def _understood(said: str, ending: str | None) -> Outcome:
    """ending: how the helper came to a bad end, if it did."""
    fault = None if ending is None else f"the helper that sends: {ending}"
    found: dict[int, Delivery] = {}
    begun = False
    for line in said.splitlines():
        match _loads(line):
            case {"trying": list(tried)}:
                begun = True
                found = {
                    number: Delivery(number, kind, sent=False, why=ending or "no word of it")
                    for number, kind in tried
                }
            case {"number": int(number), "kind": str(kind), "sent": bool(sent), "why": str(why)}:
                found[number] = Delivery(number, kind, sent, why)
            case {"fault": str(why)}:
                fault = why
    if not begun and fault is None:
        fault = "the helper that sends said nothing"
    return Outcome(tuple(found.values()), fault)


def _loads(line: str) -> object:
    try:
        return json.loads(line)
    except ValueError:
        return None  # half a line, of a helper that was ended


class Courier:
    """One errand at a time, in a thread of its own. Nothing here raises or waits but close()."""

    def __init__(self, send: Send = send) -> None:
        self._send = send
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._outcome: Outcome | None = None
        self._helper: subprocess.Popen[str] | None = None

    @property
    def free(self) -> bool:
        """Nothing is on its way, and nothing has come back that was not collected."""
        with self._lock:
            return self._thread is None and self._outcome is None

    def go(self, errand: Errand) -> None:
        """Only when free."""
        thread = threading.Thread(
            target=self._run, args=(errand,), name="alarms-courier", daemon=True
        )
        self._thread = thread
        try:
            thread.start()
        except (RuntimeError, MemoryError):
            self._thread = None
            self._outcome = Outcome((), "this machine has no room for another thread")

    def collect(self) -> Outcome | None:
        """What became of the last errand, once."""
        with self._lock:
            outcome, self._outcome = self._outcome, None
            return outcome

    def close(self, patience_s: float) -> None:
        """Let the errand under way come to its end, for so long; then end it."""
        thread = self._thread
        if thread is None:
            return
        thread.join(patience_s)
        helper = self._helper
        if thread.is_alive() and helper is not None:
            helper.kill()
            thread.join(1.0)

    def _run(self, errand: Errand) -> None:
        outcome = Outcome((), "a fault in this program")
        try:
            outcome = self._send(errand, self._started)
        finally:
            with self._lock:
                self._outcome, self._thread, self._helper = outcome, None, None

    def _started(self, helper: "subprocess.Popen[str]") -> None:
        self._helper = helper


def in_words(deliveries: Sequence[Delivery]) -> str:
    """The addresses that did not take it, by number and kind, and why."""
    return "; ".join(
        f"address {each.number} ({each.kind}): {each.why}" for each in deliveries if not each.sent
    )
