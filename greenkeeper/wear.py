"""How often each relay has been switched on in all its life, kept over a restart.

Lives here: one small JSON file in the state folder, written sparsely to spare the card.
Does not live here: counting (control/guard.py) and what a count means (control/wear.py).

It is written when a count has grown by STEP, when an hour has passed since the last time
and one has grown at all, at an orderly stop, and at once when a relay was renewed. A
killed keeper or a power cut loses up to STEP switchings: a two-thousandth of a life.
"""

import json
from collections.abc import Mapping
from pathlib import Path

from greenkeeper import files
from greenkeeper.model import Condition, OutputMemory

FILE_NAME = "wear.json"
STEP = 50
AT_LEAST_EVERY_S = 3600.0
_FORMAT = 1


class Wear:
    """The counts as last written, and the trouble in writing them."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._written: dict[str, int] = {}
        self._written_s: float | None = None
        self._trouble: str | None = None

    def load(self) -> Mapping[str, int]:
        """The counts an earlier run left behind. What makes no sense is set aside: none."""
        try:
            self._written = _read(self._file)
        except FileNotFoundError:
            self._written = {}
        except (OSError, ValueError, RecursionError) as error:
            self._trouble = f"{self._file} could not be read and was set aside: {error}"
            self._set_aside()
        return dict(self._written)

    def save(
        self, outputs: Mapping[str, OutputMemory], now_s: float, *, last: bool = False
    ) -> None:
        """Write if it is time to. last: the keeper stops. Raises nothing; see conditions().

        Outputs the settings no longer have keep their counts: they may come back.
        """
        if self._written_s is None:
            self._written_s = now_s
        due = last or now_s - self._written_s >= AT_LEAST_EVERY_S
        for name, state in outputs.items():
            grown = state.operations - self._written.get(name, 0)
            if grown and (due or grown < 0 or grown >= STEP):
                self._write(outputs, now_s)
                return

    def conditions(self) -> tuple[Condition, ...]:
        if self._trouble is None:
            return ()
        return (Condition("keepsakes-failing", "wear", self._trouble),)

    def _write(self, outputs: Mapping[str, OutputMemory], now_s: float) -> None:
        counts = {**self._written, **{name: state.operations for name, state in outputs.items()}}
        document = {"format": _FORMAT, "operations": counts}
        try:
            files.replace(self._file, json.dumps(document, indent=1) + "\n", durable=True)
        except OSError as error:
            self._trouble = f"{self._file} cannot be written: {error.strerror}"
            return
        self._written, self._written_s = counts, now_s
        self._trouble = None

    def _set_aside(self) -> None:
        try:
            self._file.replace(self._file.with_suffix(".damaged"))
        except OSError as error:
            self._trouble = f"{self._file} can be neither read nor set aside: {error.strerror}"


def _read(file: Path) -> dict[str, int]:
    match json.loads(file.read_text(encoding="utf-8")):
        case {"format": int(version), "operations": dict(found)} if version == _FORMAT:
            if all(type(count) is int and count >= 0 for count in found.values()):
                return found
    raise ValueError("not a file of this version")
