"""What was switched since the journal's last commit, where it costs the card one page.

Lives here: the small file beside the journal, `journal.db-jotted`. Does not live here:
when a switching goes there (writer.py), and how one that was left behind gets into the
journal (store.py).

A commit costs six pages or more whatever is in it (opening.py), and heat in pulses makes 600
switchings a day. So each is written down here at once, and the next batch takes it into the
journal. After a power cut the next start takes it from here, and until then the reader does.

The file is lines of one length, made in full beforehand and overwritten in place, so that
nothing but their page has to be written: neither the file's length nor its place on the card
changes. The first line says whose the others are. A line begins with its CRC-32: one that was
half written counts as none. Lines of an earlier round lie behind those of the running one, and
are told by its number. What is met twice is one row, by its key.
"""

import json
import os
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from greenkeeper import files
from greenkeeper.journal.rows import Switching

LINES = 32
LINE_BYTES = 1024  # four to a page; the longest reasons take a third of it


class Owner(NamedTuple):
    """The run that wrote: its number in the journal, and by what it is known without it."""

    run: int
    boot_id: str
    version: str
    started_utc_s: float
    started_mono_s: float


class Jotted(NamedTuple):
    owner: Owner
    rows: tuple[Switching, ...]


class Jotter:
    """One run's file. For the writer's thread alone. Raises nothing."""

    def __init__(self, journal: Path) -> None:
        self._file = file_of(journal)
        self._made = False  # by this run: lines of another could pass for its own
        self._round = 0
        self._used = 0  # lines of this round

    def add(self, owner: Owner, rows: Sequence[Switching]) -> bool:
        """Bring them to the card. False: there is no room, or it cannot be done."""
        if not rows:
            return True
        begins = self._used == 0
        number = self._round + begins
        found = [{"round": number, **owner._asdict()}] if begins else []
        lines = [
            _line(each) for each in (*found, *({"round": number, **_plain(row)} for row in rows))
        ]
        if self._used + len(lines) > LINES or any(len(each) > LINE_BYTES for each in lines):
            return False
        try:
            self._make()
            self._write(b"".join(lines), self._used * LINE_BYTES)
        except OSError:
            return False
        self._round, self._used = number, self._used + len(lines)
        return True

    def forget(self) -> None:
        """The journal has all of it: the next one begins at the top. Writes nothing."""
        self._used = 0

    def remove(self) -> None:
        """There is nothing left to remember."""
        self._made, self._used = False, 0
        remove(self._file)

    def _make(self) -> None:
        if not self._made:
            files.replace(self._file, _line({}).decode() * LINES, durable=True)
            self._made = True

    def _write(self, lines: bytes, at: int) -> None:
        handle = os.open(self._file, os.O_WRONLY)
        try:
            os.pwrite(handle, lines, at)
            os.fdatasync(handle)
        finally:
            os.close(handle)


def file_of(journal: Path) -> Path:
    return journal.with_name(f"{journal.name}-jotted")


def read(journal: Path) -> Jotted | None:
    """What stands there, some of which the journal may have. None: nothing. Raises nothing."""
    try:
        data = file_of(journal).read_bytes()
    except OSError:
        return None
    lines = [_read(data[at : at + LINE_BYTES]) for at in range(0, len(data), LINE_BYTES)]
    try:
        number = lines[0].pop("round")
        owner = Owner(**lines[0])
        ours = [each for each in lines[1:] if each.pop("round", None) == number]
        return Jotted(owner, tuple(Switching(**each) for each in ours))
    except (IndexError, KeyError, TypeError):
        return None


def remove(file: Path) -> None:
    try:
        file.unlink(missing_ok=True)
    except OSError:
        return  # what is met again is in the journal, and known by its key


def _plain(row: Switching) -> dict[str, Any]:
    # As the journal rounds them: what is met in both places must have one key.
    return {**row._asdict(), "utc_s": round(row.utc_s, 3), "mono_s": round(row.mono_s, 3)}


def _line(what: dict[str, Any]) -> bytes:
    text = json.dumps(what).encode("ascii")
    return b"%08x " % zlib.crc32(text) + text.ljust(LINE_BYTES - 10) + b"\n"


def _read(line: bytes) -> dict[str, Any]:
    """Empty: there is nothing to be read."""
    check, _, text = line.partition(b" ")
    try:
        if int(check, 16) != zlib.crc32(text.rstrip()):
            return {}
        found = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}
