"""Where the keeper keeps things: the state folder, the runtime folder, and the journal.

Lives here: the one rule for both folders. The settings win, then systemd's own variable
(STATE_DIRECTORY, RUNTIME_DIRECTORY: systemd.exec(5), from StateDirectory= and
RuntimeDirectory= of the unit), then the usual place. Does not live here: making or
checking the folders; whoever writes there knows what it needs.
"""

import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # `safe` asks for systemd's folder before it has the time for these types
    from greenkeeper.settings.schema import Settings

STATE = Path("/var/lib/greenkeeper")
RUNTIME = Path("/run/greenkeeper")


def state_folder(settings: "Settings | None") -> Path:
    """What must outlive a restart. None: the settings could not be read."""
    told = None if settings is None else settings.folders.state
    return _first(told, "STATE_DIRECTORY", STATE)


def runtime_folder(settings: "Settings | None") -> Path:
    """What lives in memory only. None: the settings could not be read."""
    told = None if settings is None else settings.folders.runtime
    return _first(told, "RUNTIME_DIRECTORY", RUNTIME)


def journal_file(settings: "Settings | None") -> Path:
    """Where this house's journal lies."""
    if settings is not None and settings.journal.file is not None:
        return Path(settings.journal.file)
    return state_folder(settings) / "journal.db"


def state_by_systemd() -> Path | None:
    """Where systemd says it is, without a look at the settings. None: it does not say."""
    return _from_systemd("STATE_DIRECTORY")


def _first(told: str | None, variable: str, usual: Path) -> Path:
    if told is not None:
        return Path(told)
    return _from_systemd(variable) or usual


def _from_systemd(variable: str) -> Path | None:
    # A unit with several folders lists them all, separated by colons; ours is the first.
    named = os.environ.get(variable, "").split(":")[0]
    return Path(named) if named else None
