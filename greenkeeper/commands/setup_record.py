"""Where the commissioning tests' results go, and where the earlier ones are found.

Lives here: leaving a result with the running keeper, which alone writes the journal, and
reading what the journal has. Does not live here: the tests (setup/commissioning.py).
"""

import time
from pathlib import Path

from greenkeeper import inbox
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Request
from greenkeeper.setup.commissioning import Record

CODE = "commissioned"
_PATIENCE_S = 15.0  # of a person beside a keeper on a busy board
_EVER_S = 2**40  # beyond every second there is


def to_keeper(runtime: Path) -> Record:
    """What hands each result over, and waits until the keeper has taken it."""

    def record(test: str, result: str) -> str | None:
        from greenkeeper import status

        request = Request(commissioned=f"{test}: {result}")
        try:
            poll_s = status.read(runtime)["poll_s"]
            inbox.ask(runtime, request)
        except GreenkeeperError as error:
            return str(error)
        except OSError as error:
            return f"it cannot be left in {runtime}: {error.strerror}; try with sudo"
        end_s = time.monotonic() + max(_PATIENCE_S, 2.5 * poll_s)
        while not inbox.taken(runtime, request):
            if time.monotonic() > end_s:
                return "the keeper has not taken it; is it running (greenkeeper now)?"
            time.sleep(0.1)
        return None

    return record


def earlier(settings_file: Path) -> dict[str, str]:
    """The latest result of each test that the journal has; nothing without a journal.

    Raises SettingsError, and JournalError for a journal that cannot be read.
    """
    from greenkeeper import folders
    from greenkeeper.journal.reader import Journal
    from greenkeeper.settings.load import load

    file = folders.journal_file(load(settings_file))
    if not file.exists():
        return {}
    with Journal(file) as journal:
        found = [event for event in journal.events(0.0, _EVER_S) if event.code == CODE]
    return {event.subject: event.text for event in found}
