"""What must survive a restart although the journal may not: the latches.

Lives here: one small JSON file in the state folder, replaced durably whenever it
changes. Does not live here: what a latch means (control/ceiling.py).
"""

import json
from collections.abc import Mapping
from pathlib import Path

from greenkeeper import files
from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Condition, Latch

_FORMAT = 1


class Keepsakes:
    """The latches as last written, and the trouble in writing them."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._written: dict[str, Latch] | None = None
        self._trouble: str | None = None

    def load(self) -> dict[str, Latch]:
        """The latches an earlier run left behind.

        A file that makes no sense is set aside and counts as none: what tripped a latch
        is measured afresh every tick, so real heat trips it again at once, while a latch
        made up here would let plants freeze for a damaged card.
        """
        try:
            self._written = _read(self._file)
        except FileNotFoundError:
            self._written = {}
        except (OSError, ValueError, RecursionError) as error:
            self._trouble = f"{self._file} could not be read and was set aside: {error}"
            self._set_aside()
            self._written = None
        return dict(self._written or {})

    def save(self, latches: Mapping[str, Latch]) -> None:
        """Write them if they changed. Raises nothing; see conditions()."""
        if latches == self._written:
            return
        document = {
            "format": _FORMAT,
            "latches": [latch._asdict() for latch in latches.values()],
        }
        try:
            files.replace(self._file, json.dumps(document, indent=1) + "\n", durable=True)
        except OSError as error:
            self._trouble = f"{self._file} cannot be written: {error.strerror}"
            return
        self._written = dict(latches)
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


def _read(file: Path) -> dict[str, Latch]:
    match json.loads(file.read_text(encoding="utf-8")):
        case {"format": int(version), "latches": list(found)} if version == _FORMAT:
            latches = [_latch(fields) for fields in found]
            return {latch.name: latch for latch in latches}
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
