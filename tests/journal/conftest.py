"""What the journal's tests share: a file that does not exist yet, and writers that end."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from greenkeeper.journal.writer import JournalWriter
from greenkeeper.model import Now
from greenkeeper.settings.schema import Settings
from tests.journal import ticks

MakeWriter = Callable[..., JournalWriter]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"


@pytest.fixture
def make_writer(file: Path) -> Iterator[MakeWriter]:
    """make_writer(settings=..., now=..., file=...); whatever is left open is closed at the end."""
    made: list[JournalWriter] = []

    def make(
        settings: Settings | None = None, now: Now = ticks.START, file: Path = file
    ) -> JournalWriter:
        made.append(JournalWriter(file, settings or ticks.settings(), now, "1.2.3"))
        return made[-1]

    yield make
    for writer in made:
        writer.close(ticks.at(1e6), clean=False)
