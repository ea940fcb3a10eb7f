"""Sixteen invented days up to now in a journal, so that what runs at its hour finds nights.

Lives here: living them, inside a clean Debian, with the installed program and as its user;
and what the afternoon's outlook would have been on the last days. Does not live here: the
steps that look at what comes of it (timers).

Run: python -m tests.roots.nights SETTINGS JOURNAL
"""

import sys
import time
from pathlib import Path
from unittest.mock import patch

from greenkeeper.commands import main as greenkeeper
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.settings.load import load
from tests.support.rehearsed_journal import lived

DAYS = 16
KEPT = 3  # outlooks of the days before
DAY_S = 86_400.0
POLL_S, STALE_S = 60.0, 180.0


def main(settings_file: str, journal: str) -> None:
    given = load(Path(settings_file))
    probes = {
        name: probe.model_copy(update={"stale_s": STALE_S}) for name, probe in given.probes.items()
    }
    settings = given.model_copy(update={"poll_s": POLL_S, "probes": probes})
    now_utc_s = time.time() // 60.0 * 60.0
    lived(Path(journal), settings, stage_of(settings, None), now_utc_s - DAYS * DAY_S, DAYS)
    for back in range(KEPT, 0, -1):
        with patch("time.time", return_value=now_utc_s - back * DAY_S):
            told = greenkeeper(["tonight", "--keep", "--settings", settings_file])
        if told:
            raise SystemExit(f"tonight --keep, {back} days ago: {told}")


if __name__ == "__main__":
    main(*sys.argv[1:])
