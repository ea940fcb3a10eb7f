"""Waiting for something to become true, with a deadline instead of a hopeful sleep."""

import time
from collections.abc import Callable


def eventually(
    holds: Callable[[], object], what: str | Callable[[], str], within_s: float = 20.0
) -> None:
    """Return as soon as `holds()` is truthy; fail with `what` once the time is up.

    The deadline only bounds a failing test: make it generous, a passing one never waits for it.
    `what` may be a function, so that the message can show what was seen in the end.
    """
    deadline_s = time.monotonic() + within_s
    while not holds():
        if time.monotonic() > deadline_s:
            text = what if isinstance(what, str) else what()
            raise AssertionError(f"not within {within_s:g} s: {text}")
        time.sleep(0.01)
