"""A person's word, from a command to the running keeper.

Lives here: the folder of small files in which `greenkeeper clear`, `seen` and
`setup --commission` leave their requests and from which the loop takes it. The keeper
opens no port: whoever may write in this folder may ask, and file permissions say who
that is. Does not live here: granting it.
"""

import contextlib
import json
import os
from pathlib import Path

from greenkeeper import files
from greenkeeper.model import Request

_FOLDER = "requests"
_MOST_BYTES = 1000
_MOST_AT_ONCE = 20


class Inbox:
    def __init__(self, runtime: Path) -> None:
        self._folder = runtime / _FOLDER
        with contextlib.suppress(OSError):  # nobody can ask then, and `ask` tells them
            self._folder.mkdir(mode=0o770, exist_ok=True)

    def take(self) -> tuple[Request, ...]:
        """What was asked since the last call, each request once. Raises nothing."""
        try:
            # A folder cannot be removed like a file, and would stand in the others' way.
            found = sorted(path for path in self._folder.glob("*.json") if not path.is_dir())
        except OSError:
            return ()
        first = found[:_MOST_AT_ONCE]
        return tuple(request for path in first if (request := _take(path)) is not None)


def ask(runtime: Path, request: Request) -> None:
    """Leave a request, which asks for one thing. Raises OSError when it cannot."""
    ((word, name),) = ((word, name) for word, name in request._asdict().items() if name)
    path = _path(runtime, word, name)
    # Root leaves it and the keeper's own user reads it; there is nothing secret in it.
    files.replace(path, json.dumps({word: name}), durable=False, mode=0o644)


def taken(runtime: Path, request: Request) -> bool:
    """Whether the keeper has taken this request, once it was left."""
    ((word, name),) = ((word, name) for word, name in request._asdict().items() if name)
    return not _path(runtime, word, name).exists()


def _path(runtime: Path, word: str, name: str) -> Path:
    """One file for each name; a text is told apart by what stands before its colon."""
    return runtime / _FOLDER / f"{word}-{name.partition(':')[0]}.json"


def _take(path: Path) -> Request | None:
    """None for what is no request, and for one that cannot be removed: it would repeat."""
    text = _read(path)
    try:
        path.unlink()  # what could not be read as well: it would stand in the others' way
        said = json.loads(text)
    except (OSError, ValueError, RecursionError):
        return None
    match said:
        case {"clear": str(name)}:
            return Request(clear=name)
        case {"new_relay": str(name)}:
            return Request(new_relay=name)
        case {"seen": str(name)}:
            return Request(seen=name)
        case {"commissioned": str(result)}:
            return Request(commissioned=result)
    return None


def _read(path: Path) -> bytes:
    """Its beginning; nothing when it may not be read."""
    try:
        # Not blocking: whoever may write here could leave a pipe, and hold the loop up.
        with open(os.open(path, os.O_RDONLY | os.O_NONBLOCK), "rb") as file:
            return file.read(_MOST_BYTES) or b""
    except OSError:
        return b""
