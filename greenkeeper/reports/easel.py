"""Painting a terminal from a thread of its own, so that a terminal that stands still (Ctrl-S,
a hung ssh) holds up nobody.

Lives here: the thread, and the one picture that waits for it. Does not live here: what is
painted (screen.py).
"""

import os
import threading


class Easel:
    """Takes pictures without waiting and paints the newest; what came between is dropped."""

    def __init__(self, file: int) -> None:
        """file: the terminal's file number. Written to past Python's buffers, because a thread
        that waits inside one of those lets the interpreter not end (fatal at shutdown)."""
        self._file = file
        self._newest: bytes | None = None
        self._painting = False
        self._failed: OSError | None = None
        self._changed = threading.Condition()
        threading.Thread(target=self._work, name="screen", daemon=True).start()

    def put(self, picture: str) -> None:
        """Raises the OSError of an earlier painting, once."""
        with self._changed:
            failed, self._failed = self._failed, None
            self._newest = picture.encode("utf-8", "replace")
            self._changed.notify_all()
        if failed is not None:
            raise failed

    def finish(self, patience_s: float) -> None:
        """Wait until the newest picture is painted, but no longer than this."""
        with self._changed:
            self._changed.wait_for(
                lambda: self._newest is None and not self._painting, timeout=patience_s
            )

    def _work(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._newest is not None)
                rest, self._newest, self._painting = self._newest or b"", None, True
            failed = None
            try:
                while rest:
                    rest = rest[os.write(self._file, rest) :]
            except OSError as error:
                failed = error
            with self._changed:
                self._failed, self._painting = failed, False
                self._changed.notify_all()
