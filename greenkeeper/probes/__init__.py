"""Probes, hygrometers and contacts: small, honest drivers that give what they read, or why not.

Lives here: the protocol of a driver. Drivers emit as received: no caching, no gap
filling, no offset and no plausibility; control/judge.py has those. Several probes on one
bus are one group, because they share one conversion.
"""

from collections.abc import Mapping
from typing import Protocol, TypeVar

from greenkeeper.model import ContactReading, HumidityReading, Reading

R = TypeVar("R", covariant=True)


class Group(Protocol[R]):
    """Probes, hygrometers or contacts that are read together, by one thread."""

    @property
    def names(self) -> tuple[str, ...]:
        """The settings' names of what it reads."""

    @property
    def blocking(self) -> bool:
        """Reading may take long: the collector gives it a thread and a deadline."""

    def read(self) -> Mapping[str, R]:
        """One reading for every name. Raises nothing: what fails is a reading that says so."""

    def close(self) -> None:
        """Let go of everything. Safe to call twice."""


ProbeGroup = Group[Reading]
HygrometerGroup = Group[HumidityReading]
ContactGroup = Group[ContactReading]
