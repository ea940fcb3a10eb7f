"""`greenkeeper safe`: every relay driven off, whoever left it on.

Lives here: which relays there are (the settings', and those the last keeper
remembered) and driving each one off. It decides nothing and touches nothing else.
It runs after the keeper has ended in whatever way (systemd's ExecStopPost=), because
Raspberry Pi's kernels leave a dead program's output driving (Raspberry Pi Ltd, white
paper "GPIO Usage on Raspberry Pi Devices"). Under systemd those that were remembered go
first: to understand the settings takes twice as long as all the rest, and small boards are
slow.
"""

import argparse
import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError

if TYPE_CHECKING:  # imported inside run: every other command would pay for them
    from greenkeeper.gpio.lines import Lines
    from greenkeeper.outputs.relays_file import Relay, Relays
    from greenkeeper.pins import Board, Level
    from greenkeeper.settings.schema import Settings

# What is off already: the board, the pin, and the level that is off.
Done = set[tuple["Board", int, "Level"]]

NAME = "safe"
HELP = """Drive every relay off, also when the settings are broken.

Claims each relay at its off level and lets it go, nothing else. The relays are those of
the settings file, if it is sound, and those the last keeper noted in its state folder.
Exit code 0: every relay is off. 1: at least one is not, or none is known.

example:
  greenkeeper safe --settings my-house.yaml"""


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    shared.add_runtime_option(parser)
    parser.add_argument(
        "--state",
        type=Path,
        metavar="DIR",
        help="the keeper's state folder (default: as the settings say)",
    )


def run(args: argparse.Namespace) -> int:
    from greenkeeper import folders
    from greenkeeper.outputs.relays_file import FILE_NAME, relays_of

    done = _by_memory_alone(args.state or folders.state_by_systemd(), args.runtime)
    settings = _settings(args.settings)
    remembered = _remembered((args.state or folders.state_folder(settings)) / FILE_NAME)
    boards = _boards(None if settings is None else relays_of(settings), remembered)
    if boards is None:
        _say("no relay is known: neither the settings nor an earlier keeper names one")
        return 1
    with _writable(args.runtime or folders.runtime_folder(settings)) as runtime:
        results = [_drive_off(board, runtime, done) for board in boards]
    if not any(board.relays for board in boards):
        print("there are no relays: no output is on a GPIO pin")
    return 0 if all(results) else 1


def _by_memory_alone(state: Path | None, runtime: Path | None) -> Done:
    """Drive off what the last keeper remembered, and say which relays that was.

    state: None where only the settings say where that is. What fails here is tried again,
    and told, with the settings: so nothing is said of it now.
    """
    from greenkeeper import folders
    from greenkeeper.gpio.open_lines import open_lines
    from greenkeeper.outputs.relays_file import FILE_NAME, recall

    done: Done = set()
    # Whatever ails it: what follows sees to the same relays, and says so.
    with contextlib.suppress(Exception):
        known = None if state is None else recall(state / FILE_NAME)
        if known is None or not known.relays:
            return done
        with (
            _writable(runtime or folders.runtime_folder(None)) as own,
            contextlib.closing(open_lines(known.board, own)) as lines,
        ):
            for relay in known.relays:
                with contextlib.suppress(Exception):
                    if _is_off(relay, lines):
                        print(_told_off(relay), flush=True)
                        done.add((known.board, relay.pin, relay.off_level))
    return done


def _settings(file: Path) -> "Settings | None":
    from greenkeeper.settings.load import load

    try:
        return load(file)
    except GreenkeeperError as error:
        _say(f"the settings are not used:\n{error}")
    except Exception as error:  # noqa: BLE001 # whatever ails them, the relays must go off
        _say(f"the settings in {file} are not used: {error!r}")
    return None


def _remembered(file: Path) -> "Relays | None":
    from greenkeeper.outputs.relays_file import recall

    try:
        return recall(file)
    except GreenkeeperError as error:
        _say(str(error))
    return None


def _boards(told: "Relays | None", remembered: "Relays | None") -> "list[Relays] | None":
    """The boards and their relays, each pin once; None when nobody knows of any.

    Of a pin that both know, the settings tell the level. A keeper that ran with another
    board than the settings now name may have left its relays on there: both are seen to.
    """
    if told is None or remembered is None:
        known = told or remembered
        return None if known is None else [known]
    now = {relay.pin: relay for relay in told.relays}
    for old in remembered.relays:
        _compare(now.get(old.pin, old), old)
    if told.board == remembered.board:
        others = [old for old in remembered.relays if old.pin not in now]
        return [told._replace(relays=(*told.relays, *others))]
    before = tuple(now.get(old.pin, old) for old in remembered.relays)
    return [told, remembered._replace(relays=before)]


def _compare(now: "Relay", old: "Relay") -> None:
    if now.on_level is not old.on_level:
        _say(
            f"GPIO{now.pin}: off is {now.off_level.value} by the settings, and was "
            f"{old.off_level.value} for the last keeper: the settings win"
        )


def _drive_off(known: "Relays", runtime: Path, done: Done) -> bool:
    """The relays of one board that are not off yet, each tried whatever becomes of the others.

    True: all off.
    """
    from greenkeeper.gpio.open_lines import open_lines

    left = [each for each in known.relays if (known.board, each.pin, each.off_level) not in done]
    if not left:
        return True
    try:
        with contextlib.closing(open_lines(known.board, runtime)) as lines:
            results = [_relay_off(relay, lines) for relay in left]
    except Exception as error:  # noqa: BLE001 # another board may still be within reach
        names = ", ".join(relay.name for relay in left)
        _say(f"NOT SURELY OFF: {names}: {error}")
        return False
    return all(results)


def _relay_off(relay: "Relay", lines: "Lines") -> bool:
    try:
        is_off = _is_off(relay, lines)
    except Exception as error:  # noqa: BLE001 # whatever ails one, the others must go off
        print(f"{_title(relay)}  NOT OFF: {error}")
        return False
    if is_off:
        print(_told_off(relay))
    else:
        print(f"{_title(relay)}  NOT OFF: driven {relay.off_level.value}, but the pin is not")
    return is_off


def _is_off(relay: "Relay", lines: "Lines") -> bool:
    """Drive it there, and see whether the pin follows. Raises LineError."""
    from greenkeeper.pins import Level

    off_is_high = relay.off_level is Level.HIGH
    lines.claim(relay.pin, off_is_high)
    return lines.read(relay.pin) is off_is_high


def _told_off(relay: "Relay") -> str:
    return f"{_title(relay)}  off ({relay.off_level.value})"


def _title(relay: "Relay") -> str:
    return f"{relay.name:<16} GPIO{relay.pin:<2}"


@contextlib.contextmanager
def _writable(folder: Path) -> Iterator[Path]:
    """The folder, or one of our own where it is missing: a person may call this by hand."""
    if os.access(folder, os.W_OK | os.X_OK):
        yield folder
    else:
        with tempfile.TemporaryDirectory(prefix="greenkeeper-") as own:
            yield Path(own)


def _say(text: str) -> None:
    print(f"greenkeeper safe: {text}", file=sys.stderr)
