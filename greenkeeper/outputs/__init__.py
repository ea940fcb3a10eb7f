"""Outputs: what switches. The protocol of an output driver, and its one error.

Drivers do as told and know nothing of time, permission or reasons; control/guard.py
has those. The switchboard beside them enforces the expiry of every ON.
"""

from typing import Protocol, runtime_checkable

from greenkeeper.errors import GreenkeeperError


class OutputError(GreenkeeperError):
    """An output could not be claimed or switched; the message says which and why."""


class OutputDriver(Protocol):
    """One switch. It starts off, and it is off again once closed."""

    @property
    def name(self) -> str:
        """The settings' name of it."""

    def switch(self, *, on: bool) -> None:
        """Drive it. Idempotent. Raises OutputError."""

    def close(self) -> None:
        """Drive it off, then let go. Safe to call twice. Raises OutputError."""


@runtime_checkable
class Answering(Protocol):
    """What a driver has besides where its switch must be told again and again, and answers.

    Until it has, its state is unknown, which is not off.
    """

    @property
    def certain(self) -> bool:
        """Its newest answer agrees with the last order, and none is overdue."""

    def renew(self, *, on: bool) -> None:
        """The order still holds. Raises OutputError while it is not confirmed."""
