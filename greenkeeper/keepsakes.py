"""What must survive a restart although the journal may not: latches, and orders from afar.

Lives here: one small JSON file in the state folder, replaced durably whenever it
changes. Does not live here: what a latch or an order means (control/latches.py,
control/overrides.py).
"""

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from greenkeeper import files
from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Ask, Condition, Latch, Override

_FORMAT = 1


class Kept(NamedTuple):
    """What an earlier run left behind."""

    latches: Mapping[str, Latch]
    overrides: tuple[Override, ...] = ()  # their until_s is of another run: control reckons anew


class Keepsakes:
    """What was last written, and the trouble in writing it."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._written: Kept | None = None
        self._trouble: str | None = None

    def load(self) -> Kept:
        """What an earlier run left behind.

        A file that makes no sense is set aside and counts as none: what tripped a latch
        is measured afresh every tick, so real heat trips it again at once, while a latch
        made up here would let plants freeze for a damaged card.
        """
        try:
            self._written = _read(self._file)
        except FileNotFoundError:
            self._written = Kept({})
        except (OSError, ValueError, RecursionError) as error:
            self._trouble = f"{self._file} could not be read and was set aside: {error}"
            self._set_aside()
            self._written = None
        return self._written or Kept({})

    def save(self, latches: Mapping[str, Latch], overrides: Iterable[Override] = ()) -> None:
        """Write them if they changed. Raises nothing; see conditions()."""
        kept = Kept(dict(latches), tuple(overrides))
        if self._written is not None and _same(kept, self._written):
            return
        document = {
            "format": _FORMAT,
            "latches": [latch._asdict() for latch in kept.latches.values()],
            "overrides": [_written(override) for override in kept.overrides],
        }
        try:
            files.replace(self._file, json.dumps(document, indent=1) + "\n", durable=True)
        except OSError as error:
            self._trouble = f"{self._file} cannot be written: {error.strerror}"
            return
        self._written = kept
        self._trouble = None

    def conditions(self) -> tuple[Condition, ...]:
        if self._trouble is None:
            return ()
        return (Condition("keepsakes-failing", "state", self._trouble),)

    def _set_aside(self) -> None:
        try:
            self._file.replace(self._file.with_suffix(".damaged"))
        except OSError as error:
            self._trouble = f"{self._file} can be neither read nor set aside: {error.strerror}"


def _same(one: Kept, other: Kept) -> bool:
    """Monotonic seconds are not kept: they mean nothing to another run."""
    return one.latches == other.latches and list(map(_written, one.overrides)) == list(
        map(_written, other.overrides)
    )


def _written(override: Override) -> dict[str, str | float | None]:
    return {
        "zone": override.zone,
        "ask": override.ask.value,
        "setpoint_c": override.setpoint_c,
        "until_utc_s": override.until_utc_s,
    }


def _read(file: Path) -> Kept:
    document = json.loads(file.read_text(encoding="utf-8"))
    match document:
        case {"format": int(version), "latches": list(found)} if version == _FORMAT:
            latches = [_latch(fields) for fields in found]
            ordered = document.get("overrides", [])  # an older program wrote none
            if isinstance(ordered, list):
                return Kept(
                    {latch.name: latch for latch in latches}, tuple(map(_override, ordered))
                )
    raise ValueError("not a file of this version")


def _latch(fields: object) -> Latch:
    match fields:
        case {
            "code": str(code),
            "subject": str(subject),
            "text": str(text),
            "since_utc_s": float(since) | int(since),
        } if code in CATALOGUE:
            return Latch(code, subject, text, float(since))
    raise ValueError(f"not a latch: {fields!r}")


def _override(fields: object) -> Override:
    match fields:
        case {
            "zone": str(zone),
            "ask": str(ask),
            "setpoint_c": None | float() | int() as setpoint_c,
            "until_utc_s": float(until) | int(until),
        } if ask in tuple(Ask):
            number = None if setpoint_c is None else float(setpoint_c)
            return Override(zone, Ask(ask), number, until_s=0.0, until_utc_s=float(until))
    raise ValueError(f"not an order: {fields!r}")
