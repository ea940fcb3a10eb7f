"""Where the page takes everything from, read-only and afresh for each request.

Lives here: settings (read again when their file changes), status, journal, outlooks.
Does not live here: what is made of them.
"""

import threading
from collections.abc import Callable
from pathlib import Path

from greenkeeper import folders, outlook_file, status
from greenkeeper.errors import GreenkeeperError
from greenkeeper.journal.reader import Journal
from greenkeeper.outlook_file import Said
from greenkeeper.page.figures import Figures
from greenkeeper.settings.load import load
from greenkeeper.settings.schema import Settings
from greenkeeper.status import StatusDocument


class Sources:
    """For any thread."""

    def __init__(
        self,
        settings_file: Path,
        now_utc_s: Callable[[], float],
        *,
        runtime: Path | None = None,
        journal: Path | None = None,
    ) -> None:
        """runtime, journal: in place of what the settings say. Raises GreenkeeperError."""
        self.now_utc_s = now_utc_s
        self._file, self._runtime, self._journal = settings_file, runtime, journal
        self._lock = threading.Lock()
        self._mark = _mark(settings_file)
        self._settings = load(settings_file)
        self._figures = _figures(self._settings)
        self._trouble: str | None = None

    def settings(self) -> tuple[Settings, Figures]:
        """As they are now; as they last were while the file is faulty or away (trouble)."""
        with self._lock:
            mark = _mark(self._file)
            if mark is not None and mark != self._mark:
                self._mark = mark
                self._read_again()
            return self._settings, self._figures

    @property
    def mark(self) -> object:
        """Another one for each version of the settings file."""
        return self._mark

    def trouble(self) -> str | None:
        """Why the settings shown are not those of the file."""
        if self._trouble is not None:
            return self._trouble
        return None if _mark(self._file) else f"{self._file} cannot be read any more."

    def _read_again(self) -> None:
        try:
            settings = load(self._file)
            figures = _figures(settings)
        except GreenkeeperError:
            self._trouble = (
                "The settings file has faults (greenkeeper check names them). This page goes by "
                "what it said before."
            )
            return
        self._settings, self._figures, self._trouble = settings, figures, None

    def status(self) -> StatusDocument | None:
        """None: no keeper runs. Raises GreenkeeperError for one that cannot be read."""
        settings, _ = self.settings()
        try:
            return status.read(self._runtime or folders.runtime_folder(settings))
        except status.NoKeeperError:
            return None

    def journal(self, *, handed_on: bool = False) -> Journal:
        """Open, for the one who asks to close. handed_on: see Journal. Raises JournalError."""
        settings, _ = self.settings()
        return Journal(self._journal or folders.journal_file(settings), handed_on=handed_on)

    def outlooks(self) -> list[Said]:
        """All that were kept, oldest first."""
        return outlook_file.read(self._outlook_file())

    def tonight(self) -> tuple[Said, ...]:
        """What stands for the coming night, of each zone; empty where nothing was worked out."""
        return outlook_file.standing(self._outlook_file(), self.now_utc_s())

    def _outlook_file(self) -> Path:
        settings, _ = self.settings()
        folder = self._journal.parent if self._journal else folders.state_folder(settings)
        return folder / outlook_file.FILE_NAME


def _figures(settings: Settings) -> Figures:
    page = settings.page
    return Figures(units=page.units, language=page.language, timezone=settings.site.timezone)


def _mark(file: Path) -> tuple[int, int, int] | None:
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_ino, found.st_size
