"""What a forecast said of the coming morning, kept for the keeper.

Lives here: one JSON file in the state folder, replaced as a whole. `greenkeeper tonight --keep`
alone writes it; the keeper reads it for zones that leave a clear dawn to the sun. Does not live
here: what a forecast says (outlook/forecast.py), and what follows from it (control/dawn.py).
"""

import json
import math
from pathlib import Path

from greenkeeper import files
from greenkeeper.clock import Clock
from greenkeeper.model import Morning

FILE_NAME = "morning.json"
LOOK_EVERY_S = 60.0
_MOST_BYTES = 10_000  # some hundred times what it comes to


def write(file: Path, morning: Morning) -> None:
    """Raises OSError, the old file untouched."""
    files.replace(file, json.dumps(morning._asdict(), allow_nan=False) + "\n", durable=True)


def read(file: Path) -> Morning | None:
    """What is kept. Raises nothing: where there is no sense in it, nothing is foretold."""
    try:
        with file.open("rb") as source:
            found = Morning(**json.loads(source.read(_MOST_BYTES)))
            return found if _is_sound(found) else None
    except (OSError, ValueError, TypeError, RecursionError, OverflowError):
        return None


def _is_sound(found: Morning) -> bool:
    """Raises OverflowError for a number of hundreds of digits."""
    numbers = all(
        isinstance(each, int | float) and not isinstance(each, bool) and math.isfinite(each)
        for each in found
    )
    return numbers and 0.0 <= found.cloud_share <= 1.0


class Newest:
    """What is kept now. For one thread."""

    def __init__(self, file: Path, clock: Clock) -> None:
        self._clock = clock
        self._watched = files.Watched(file, read, LOOK_EVERY_S)

    def morning(self) -> Morning | None:
        """Raises nothing."""
        return self._watched.at(self._clock.mono_s())
