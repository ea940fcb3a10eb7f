"""The relays, remembered: so that `greenkeeper safe` works with broken settings, and at once.

Lives here: which pins are relays and which level is on, kept as JSON in the state
folder by the last keeper that started; the enable line is among them, as one that is off
when it is low. Does not live here: claiming them (commands/safe.py).
Reading the file takes none of the settings' types: they are most of what `safe` costs.
"""

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from greenkeeper.files import replace
from greenkeeper.gpio.chips import HEADER_LINES
from greenkeeper.outputs import OutputError
from greenkeeper.pins import BACKENDS, CHIP_PATTERN, Board, Level

if TYPE_CHECKING:
    from greenkeeper.settings.schema import Settings

FILE_NAME = "relays.json"
_VERSION = 1


class Relay(NamedTuple):
    name: str
    pin: int
    on_level: Level

    @property
    def off_level(self) -> Level:
        return Level.LOW if self.on_level is Level.HIGH else Level.HIGH


class Relays(NamedTuple):
    """The relays of one board, and how its lines are reached."""

    board: Board
    relays: tuple[Relay, ...]


def relays_of(settings: "Settings") -> Relays:
    from greenkeeper.outputs import enable
    from greenkeeper.settings.switches import GpioOutput

    relays = [
        Relay(name, output.pin, output.on_level)
        for name, output in settings.outputs.items()
        if isinstance(output, GpioOutput)
    ]
    if settings.enable is not None:
        relays.append(Relay(enable.NAME, settings.enable.pin, Level.HIGH))
    return Relays(settings.gpio.board, tuple(relays))


def remember(path: Path, settings: "Settings") -> None:
    """Write the relays of settings to path, to survive a power cut. Raises OSError.

    A file that says the same already is left alone, to spare the card.
    """
    text = _as_json(relays_of(settings))
    if not (path.is_file() and path.read_bytes() == text.encode()):
        replace(path, text, durable=True)


def recall(path: Path) -> Relays | None:
    """The relays in path, None when there is no such file. Raises OutputError: damaged."""
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise OutputError(f"the remembered relays in {path} cannot be read: {error}") from error
    try:
        return _from_json(json.loads(text))
    except (ValueError, TypeError, KeyError) as error:
        raise OutputError(f"the remembered relays in {path} make no sense: {error}") from error


def _as_json(known: Relays) -> str:
    relays = [
        {"name": relay.name, "pin": relay.pin, "on_level": relay.on_level.value}
        for relay in known.relays
    ]
    whole = {
        "version": _VERSION,
        "backend": known.board.backend,
        "chip": known.board.chip,
        "relays": relays,
    }
    return json.dumps(whole, indent=1) + "\n"


def _from_json(data: Any) -> Relays:
    if data["version"] != _VERSION:
        raise ValueError(f"version {data['version']}, expected {_VERSION}")
    backend, chip = data["backend"], data["chip"]
    if backend not in BACKENDS:
        raise ValueError(f"backend {backend!r}, expected one of {', '.join(BACKENDS)}")
    if re.fullmatch(CHIP_PATTERN, chip) is None:
        raise ValueError(f"chip {chip!r}, expected auto or a path in /dev")
    return Relays(Board(backend, chip), tuple(_relay(entry) for entry in data["relays"]))


def _relay(entry: Mapping[str, Any]) -> Relay:
    pin = entry["pin"]
    if type(pin) is not int or not 0 <= pin < HEADER_LINES:
        raise ValueError(f"pin {pin!r}, expected 0 to {HEADER_LINES - 1}")
    return Relay(str(entry["name"]), pin, Level(entry["on_level"]))
