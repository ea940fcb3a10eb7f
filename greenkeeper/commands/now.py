"""`greenkeeper now`: how things are, from the running keeper's status file."""

import argparse
import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError, Level

if TYPE_CHECKING:
    from greenkeeper.status import StatusDocument

NAME = "now"
HELP = """How things are: temperatures, what runs and why, alarms.

With --all: every house on the broker that the settings name, the worst first. A dead
one (LOST: it fell silent; STOPPED: somebody stopped it; SILENT: it says that it is there
but has told nothing for ten minutes) shows no temperature, but when it was last heard.

Exit code 1 when there is an alarm, or when no keeper, or not every one, is alive.

examples:
  greenkeeper now --watch
  greenkeeper now --all"""

_WATCH_EVERY_S = 1.0


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    shared.add_runtime_option(parser)
    more = parser.add_mutually_exclusive_group()
    more.add_argument("--watch", action="store_true", help="stay, and show every change")
    more.add_argument("--all", action="store_true", help="every house on the broker")
    parser.add_argument("--json", action="store_true", help="for machines; here, the status as is")


def run(args: argparse.Namespace) -> int:
    if args.all:
        from greenkeeper.commands import now_all

        return now_all.run(args.settings, as_json=args.json)
    from greenkeeper import status

    runtime = shared.runtime_folder(args)
    if args.watch and not args.json:
        return _watch(runtime, _state_folder(args))
    document = status.read(runtime)
    if args.json:
        print(json.dumps(document, indent=1, ensure_ascii=False))
    else:
        print("\n".join(_board(document, _state_folder(args))))
    return _exit_code(document)


def _silence(document: "StatusDocument") -> str | None:
    from greenkeeper.reports import words

    return words.silence(document, time.time())


def _state_folder(args: argparse.Namespace) -> Path | None:
    """None: the settings that would say so are faulty, which is not for `now` to tell."""
    from greenkeeper import folders
    from greenkeeper.settings.load import load

    try:
        return folders.state_folder(load(args.settings) if args.settings.exists() else None)
    except GreenkeeperError:
        return None


def _board(document: "StatusDocument", state: Path | None) -> list[str]:
    """state: where the outlook for the coming night lies, for those who may read it."""
    from greenkeeper import outlook_file
    from greenkeeper.reports import board, screen

    file = None if state is None else state / outlook_file.FILE_NAME
    said = () if file is None else outlook_file.standing(file, time.time())
    return board.lines(
        document,
        colour=screen.wants_colour(sys.stdout),
        silence=_silence(document),
        tonight=[(each.zone, f"{each.advice} {each.due}".rstrip()) for each in said],
    )


def _exit_code(document: "StatusDocument") -> int:
    worst = max((alarm["level"] for alarm in document["alarms"]), default=0)
    return 1 if worst >= Level.ALARM or _silence(document) is not None else 0


def _watch(runtime: Path, state: Path | None) -> int:
    from greenkeeper import status
    from greenkeeper.reports import screen

    screen.clear(sys.stdout)
    while True:
        try:
            lines = _board(status.read(runtime), state)
        except GreenkeeperError as error:
            lines = [str(error)]
        screen.redraw(sys.stdout, [*lines, "", "Ctrl-C to leave"])
        time.sleep(_WATCH_EVERY_S)
