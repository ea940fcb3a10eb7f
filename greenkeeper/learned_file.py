"""The file in which what was learned of the house is kept.

Lives here: one JSON file in the state folder, replaced as a whole. `greenkeeper learn`
alone writes it; the keeper and any command read it, the keeper for what its owner should
hear of. Does not live here: what is in it (learned.py).
"""

import json
from pathlib import Path
from typing import NamedTuple

from greenkeeper import files
from greenkeeper.clock import Clock
from greenkeeper.errors import CATALOGUE, Level
from greenkeeper.learned import Kept, Learned, document, from_document
from greenkeeper.model import Condition

FILE_NAME = "learned.json"
MOST_BYTES = 4_000_000  # some thirty times what it can come to: no more is read


class Read(NamedTuple):
    kept: Kept
    trouble: str | None = None  # why there is nothing, where there should be something


def read(file: Path) -> Read:
    """What is kept. Never fails: a file that makes no sense counts as none, and says so."""
    try:
        with file.open("rb") as source:
            raw = source.read(MOST_BYTES + 1)
        if len(raw) > MOST_BYTES:
            raise ValueError(f"it is larger than {MOST_BYTES} bytes")
        return Read(from_document(json.loads(raw)))
    except FileNotFoundError:
        return Read(Kept())
    except OSError as error:
        return Read(Kept(), f"{file} cannot be read: {error.strerror}")
    except (ValueError, RecursionError) as error:
        return Read(Kept(), f"{file} makes no sense, so nothing counts as learned: {error}")


def write(file: Path, kept: Kept) -> None:
    """Raises OSError, the old file untouched."""
    text = json.dumps(document(kept), indent=1, allow_nan=False)
    files.replace(file, text + "\n", durable=True)


# Learning happens once a day: nobody minds hearing of it some minutes later.
LOOK_EVERY_S = 600.0
# What has not been confirmed for so long is not true any more: nobody learns.
GONE_AFTER_S = 7 * 86_400.0


class Notices:
    """What learning wants the owner to hear, for the keeper's loop.

    Whatever is in the file, of its notices nothing but a notice can come: no alarm, and no word to
    control. What control may go by are the figures of `newest`, each bounded there.
    """

    def __init__(self, file: Path, clock: Clock) -> None:
        self._clock = clock
        self._watched = files.Watched(file, _learned, LOOK_EVERY_S)

    def newest(self) -> Learned | None:
        """The same object until there is something newer. Raises nothing."""
        return self._watched.at(self._clock.mono_s())

    def conditions(self) -> tuple[Condition, ...]:
        """Raises nothing."""
        learned = self._watched.at(self._clock.mono_s())
        if learned is None or self._clock.now().utc_s - learned.learned_utc_s > GONE_AFTER_S:
            return ()
        return tuple(
            Condition(notice.code, learned.zone, notice.text)
            for notice in learned.notices
            if notice.code in CATALOGUE and CATALOGUE[notice.code].level is Level.NOTICE
        )


def _learned(file: Path) -> Learned | None:
    return read(file).kept.learned
