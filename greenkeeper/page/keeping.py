"""What takes long to work out, kept until it may have changed.

Lives here: one value under one mark, worked out once however many ask at the same time,
and the old one shown meanwhile. Does not live here: what it is.
"""

import threading
from collections.abc import Callable
from typing import Generic, NamedTuple, TypeVar

T = TypeVar("T")


class _Held(NamedTuple, Generic[T]):
    mark: object
    value: T


class Kept(Generic[T]):
    """For any thread."""

    def __init__(self, work_out: Callable[[], T], mark: Callable[[], object]) -> None:
        """mark: another one whenever the value may be another one."""
        self._work_out, self._mark = work_out, mark
        self._lock = threading.Lock()
        self._held: _Held[T] | None = None

    def value(self) -> T:
        """The first time it is waited for. Raises what work_out raises."""
        held, mark = self._held, self._mark()
        if held is not None and (held.mark == mark or self._lock.locked()):
            return held.value
        with self._lock:
            if self._held is None or self._held.mark != mark:
                self._held = _Held(mark, self._work_out())
            return self._held.value
