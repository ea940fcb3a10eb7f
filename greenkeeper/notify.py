"""Word to the service manager: ready, still alive, what is going on.

The protocol is systemd's (sd_notify(3)): one datagram of KEY=VALUE lines to the socket
named in NOTIFY_SOCKET. Only the loop calls this, after a completed tick, so that a
hung loop is noticed. Does not live here: deciding when.
"""

import os
import socket
from collections.abc import Mapping


class Notifier:
    """Tells the manager, if there is one. A socket that has gone is no reason to stop."""

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        self._address = _address(environment.get("NOTIFY_SOCKET", ""))
        self._watchdog_s = _watchdog_s(environment)
        self._sent_status = ""

    @property
    def watchdog_s(self) -> float | None:
        """How long the manager waits for a sign of life; None: it does not watch."""
        return self._watchdog_s

    def ready(self, poll_s: float) -> None:
        """Started. A watchdog shorter than three ticks is asked to wait that long."""
        lines = ["READY=1"]
        if self._watchdog_s is not None and self._watchdog_s < 3.0 * poll_s:
            lines.append(f"WATCHDOG_USEC={3.0 * poll_s * 1e6:.0f}")
        self._send("\n".join(lines))

    def alive(self, status: str) -> None:
        lines = [] if self._watchdog_s is None else ["WATCHDOG=1"]
        if status != self._sent_status:
            lines.append(f"STATUS={status}")
            self._sent_status = status
        if lines:
            self._send("\n".join(lines))

    def stopping(self) -> None:
        self._send("STOPPING=1")

    def _send(self, text: str) -> None:
        if self._address is None:
            return
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as sender:
            try:
                sender.sendto(text.encode(), self._address)
            except OSError:
                # The manager went away or restarts; its watchdog decides what follows.
                self._sent_status = ""


def _address(name: str) -> str | None:
    if name.startswith("@"):
        return "\0" + name[1:]  # an abstract socket
    return name if name.startswith("/") else None


def _watchdog_s(environment: Mapping[str, str]) -> float | None:
    """None when nobody watches, or when the watch is meant for another process."""
    if environment.get("WATCHDOG_PID", str(os.getpid())) != str(os.getpid()):
        return None
    try:
        return int(environment["WATCHDOG_USEC"]) / 1e6
    except (KeyError, ValueError):
        return None
