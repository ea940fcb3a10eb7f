"""Replacing a small file so that a reader never meets half of it, and noticing a new one.

Lives here: the one way this house writes small files, and looks out for them. Does not
live here: what is in them.
"""

import math
import os
from collections.abc import Callable
from pathlib import Path
from typing import Generic, TypeVar

T = TypeVar("T")


def replace(path: Path, text: str, *, durable: bool, mode: int = 0o640) -> None:
    """Put text in place of whatever path held, in one step.

    durable: survive a power cut (file and folder are flushed to the card); without it
    the file is whole but may be yesterday's after one. mode holds whatever the umask.
    Raises OSError, the old file untouched.
    """
    beside = path.with_name(f".{path.name}.new")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            os.fchmod(handle, mode)
            file.write(text)
            if durable:
                file.flush()
                os.fsync(file.fileno())
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    if durable:
        _flush_folder(path.parent)


def _flush_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class Watched(Generic[T]):
    """What a file holds by now: looked at seldom, and read only when it is another one.

    For one thread.
    """

    def __init__(self, file: Path, read: Callable[[Path], T | None], every_s: float) -> None:
        """read: raises nothing; None where the file makes no sense."""
        self._file, self._read, self._every_s = file, read, every_s
        self._next_s = -math.inf
        self._mark: tuple[int, int] | None = None
        self._held: T | None = None

    def at(self, mono_s: float) -> T | None:
        """None without a file. Raises nothing."""
        if mono_s < self._next_s:
            return self._held
        self._next_s = mono_s + self._every_s
        try:
            found = self._file.stat()
        except OSError:
            self._mark, self._held = None, None
            return None
        mark = found.st_mtime_ns, found.st_ino
        if mark != self._mark:
            self._mark, self._held = mark, self._read(self._file)
        return self._held
