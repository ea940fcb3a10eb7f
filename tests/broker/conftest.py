"""A broker for every test that asks for one, and no thread left behind by any."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import structlog

from tests.support.mosquitto import Mosquitto


@pytest.fixture
def hub(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "hub") as broker:
        yield broker


@pytest.fixture(autouse=True)
def plain_log() -> None:
    """A command that ran earlier in this process may have turned the log elsewhere."""
    structlog.reset_defaults()


@pytest.fixture(autouse=True)
def no_thread_stays() -> Iterator[None]:
    yield
    left = [thread for thread in threading.enumerate() if thread.name == "broker"]
    assert left == []
