"""Opening the GPIO lines: which library, and what to install when there is none.

Lives here: the choice of the back end, and nothing of how one works. A back end the
settings name is taken or refused, never replaced; "auto" takes the first that loads.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from greenkeeper.gpio import LineError
from greenkeeper.gpio.lines import Backend, Lines
from greenkeeper.pins import Board

_ADVICE = (
    "install one of them beside greenkeeper: `pip install 'lgpio>=0.2.2'` on Python 3.11 or 3.12, "
    "`pip install 'gpiod>=2.1'` on 3.13 and later, for which lgpio has no ready-made package"
)


def open_lines(board: Board, runtime: Path) -> Lines:
    """The lines of the header. runtime: a folder lgpio may write to.

    Raises LineError: no library, no chip, not allowed; the message says what to do.
    """
    return Lines(_backend(board, runtime))


def _backend(board: Board, runtime: Path) -> Backend:
    if board.backend == "mock":
        from greenkeeper.gpio.gpiozero_lines import mock_backend

        return mock_backend()
    ways: dict[str, Callable[[], Callable[[str], Backend]]] = {
        "lgpio": lambda: _lgpio(runtime),
        "gpiod": _gpiod,
    }
    reasons = []
    for name, load in ways.items():
        if board.backend not in ("auto", name):
            continue
        try:
            reach = load()
        except LineError as error:
            reasons.append(str(error))
            continue
        return reach(board.chip)
    raise LineError(_no_library(board.backend, reasons))


def _lgpio(runtime: Path) -> Callable[[str], Backend]:
    from greenkeeper.gpio import lgpio_pins

    module: Any = lgpio_pins.load(runtime)
    return lambda chip: lgpio_pins.backend(module, chip)


def _gpiod() -> Callable[[str], Backend]:
    from greenkeeper.gpio import gpiod_lines

    module: Any = gpiod_lines.load()
    return lambda chip: gpiod_lines.GpiodBackend(module, chip)


def _no_library(wanted: str, reasons: list[str]) -> str:
    python = f"{sys.version_info.major}.{sys.version_info.minor}"
    asked = "" if wanted == "auto" else f" (the settings ask for 'backend: {wanted}')"
    return (
        f"no library reaches the GPIO lines{asked}: {'; '.join(reasons)}. "
        f"This is Python {python}: {_ADVICE}"
    )
