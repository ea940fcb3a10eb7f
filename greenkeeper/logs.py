"""The log: readable on a terminal, JSON lines elsewhere, with levels for the journal.

Lives here: how lines look and where they go. Does not live here: what is worth a line.
"""

import os
import select
import sys
from collections.abc import MutableMapping
from typing import IO, Any

from greenkeeper.errors import CATALOGUE, Level
from greenkeeper.lean import structlog
from greenkeeper.model import Event, Phase

# The numbers of syslog(3), read by systemd-journald when a line begins with <n>. The
# journal reaches the card at once for 2 and above, so frost and overheat use it.
_PRIORITY = {"critical": 2, "error": 3, "warning": 4, "info": 6, "debug": 7}
_METHOD = {Level.NOTICE: "info", Level.WARNING: "warning", Level.ALARM: "critical"}


def set_up(stream: IO[str] | None = None, *, quiet: bool = False) -> None:
    """Configure structlog for this process. quiet: warnings and worse only."""
    out = stream if stream is not None else sys.stderr
    processors: list[Any] = [structlog.processors.add_log_level]
    if out.isatty():
        processors += [
            structlog.processors.TimeStamper(fmt="%H:%M:%S", utc=False),
            structlog.dev.ConsoleRenderer(colors="NO_COLOR" not in os.environ),
        ]
    elif "JOURNAL_STREAM" in os.environ:
        # The journal stamps the time itself.
        processors += [structlog.processors.format_exc_info, _json, _with_priority]
    else:
        processors += [
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            _json,
        ]
    writer = _Writer(out)
    structlog.configure(
        processors=processors,
        wrapper_class=structlog.make_filtering_bound_logger("warning" if quiet else "info"),
        logger_factory=lambda *_: writer,
        cache_logger_on_first_use=False,
    )


def tell(event: Event) -> None:
    """One event of the house as one line."""
    method = "info" if event.phase is Phase.CLEARED else _METHOD[CATALOGUE[event.code].level]
    log = structlog.get_logger()
    getattr(log, method)(
        event.code, phase=event.phase.value, subject=event.subject, text=event.text
    )


_render_json = structlog.processors.JSONRenderer(ensure_ascii=False)


def _json(logger: Any, name: str, fields: MutableMapping[str, Any]) -> str:
    return str(_render_json(logger, name, fields))


def _with_priority(_logger: Any, name: str, line: str) -> str:
    prefix = f"<{_PRIORITY.get(name, 6)}>"
    return "\n".join(prefix + part for part in line.splitlines())


class _Writer:
    """Writes lines, and lets them go when nobody reads any more: control goes on.

    The loop itself writes here. A pipe or a socket whose reader stands still would make it
    wait for ever, so what has no room is dropped, and the next line tells how many were.
    """

    def __init__(self, out: IO[str]) -> None:
        self._out = out
        self._lost = 0  # lines

    def msg(self, line: str) -> None:
        try:
            if not _has_room(self._out):
                self._lost += 1
                return
            if self._lost:
                lost, self._lost = self._lost, 0
                structlog.get_logger().warning("log-lost", lines=lost)
            self._out.write(line + "\n")
            self._out.flush()
        except (OSError, ValueError):
            # A closed pipe or stream must not reach the loop, and there is nowhere
            # left to say so.
            return

    debug = info = warning = error = critical = msg


def _has_room(out: IO[str]) -> bool:
    """Whether a line can be written without waiting. A pipe then takes 4 KiB and a socket
    most of its buffer (poll(2), pipe(7)); what is no file of the kernel never waits."""
    try:
        number = out.fileno()
    except (OSError, ValueError):
        return True
    poll = select.poll()
    poll.register(number, select.POLLOUT)
    return bool(poll.poll(0))
