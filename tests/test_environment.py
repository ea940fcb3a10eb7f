"""What `pip install -e '.[pi,report,dev]'` makes: what must be in it, and what must not."""

import importlib.metadata
import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import pytest


def test_rich_stays_out() -> None:
    # structlog imports it wherever it finds it: 5 MiB and 100 ms of a small board's start.
    assert importlib.util.find_spec("rich") is None, "a dependency brought rich in"


@pytest.fixture
def gpio_library() -> tuple[str, str]:
    """The library this Python reaches relays through, and a name it must have."""
    if sys.version_info < (3, 13):
        return "lgpio", "gpiochip_open"
    return "gpiod", "request_lines"


def test_the_gpio_library_of_this_python_is_a_real_one(
    gpio_library: tuple[str, str], tmp_path: Path
) -> None:
    # lgpio 0.0.0.2 installs and imports, and is empty. Its import makes a FIFO where it
    # stands and starts a thread, so it happens elsewhere; a keeper of an earlier test in this
    # process may have left it another folder, which is gone.
    name, needed = gpio_library
    program = f"import {name}; print(hasattr({name}, {needed!r}))"
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=tmp_path,
        env={key: value for key, value in os.environ.items() if key != "LG_WD"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.stdout, done.stderr) == ("True\n", "")


def test_what_is_installed_is_this_checkout() -> None:
    import greenkeeper

    assert importlib.metadata.version("greenkeeper") == greenkeeper.__version__
    assert Path(greenkeeper.__file__).parents[1] == Path(__file__).parents[1]
