"""Replacing a small file so that a reader never meets half of it.

Lives here: the one way this house writes small files. Does not live here: what is in
them.
"""

import os
from pathlib import Path


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
