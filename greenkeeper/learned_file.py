"""The file in which what was learned of the house is kept.

Lives here: one JSON file in the state folder, replaced as a whole. `greenkeeper learn`
alone writes it; the keeper and any command read it. Does not live here: what is in it
(learned.py).
"""

import json
from pathlib import Path
from typing import NamedTuple

from greenkeeper import files
from greenkeeper.learned import Kept, document, from_document

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
