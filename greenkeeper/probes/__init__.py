"""Probes: small, honest drivers that give what they read, or why they could not.

Lives here: the protocol of a probe driver. Drivers emit as received: no caching, no
gap filling, no offset and no plausibility; control/judge.py has those. Several probes
on one bus are one group, because they share one conversion.
"""

from collections.abc import Mapping
from typing import Protocol

from greenkeeper.model import Reading


class ProbeGroup(Protocol):
    """Probes that are read together, by one thread."""

    @property
    def names(self) -> tuple[str, ...]:
        """The settings' names of its probes."""

    @property
    def blocking(self) -> bool:
        """Reading may take long: the collector gives it a thread and a deadline."""

    def read(self) -> Mapping[str, Reading]:
        """One Reading for every name. Raises nothing: what fails is a Fault."""

    def close(self) -> None:
        """Let go of everything. Safe to call twice."""
