"""gpiozero, without what nobody here ever calls of it.

Lives here: importing gpiozero so that its `importlib.metadata` and `importlib.resources` cost
nothing. It looks there for pin factories that nobody named, and for the drawings of boards;
with email, zipfile and tempfile behind them they take 2 MiB of the keeper's memory
(tests/bench/bench_keeper.py). Does not live here: any use of it (gpiozero_lines.py,
lgpio_pins.py), which import it from here.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from greenkeeper.promised import imported

if TYPE_CHECKING:
    import gpiozero as gpiozero
else:
    # The function in its place does what it always did, once somebody calls it.
    gpiozero = imported(
        "gpiozero",
        without=["importlib.metadata", "importlib.resources"],
        instead={"entry_points": lambda **asked: _metadata().entry_points(**asked)},
    )

from gpiozero.pins.pi import PiFactory, PiPin

__all__ = ["PiFactory", "PiPin", "gpiozero"]


def _metadata() -> Any:
    return import_module("importlib.metadata")
