"""`greenkeeper clear`: a person's word that a latch may go."""

import argparse
import re
import time
from pathlib import Path

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError

NAME = "clear"
HELP = """Clear a latch, after you have looked what caused it.

A latch is a lock-out that waits for a person: go and see first. Without a name, lists
what is latched. The keeper refuses while the cause still holds.

example:
  greenkeeper clear over-ceiling-bench"""

_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    shared.add_runtime_option(parser)
    parser.add_argument("name", nargs="?", metavar="NAME", help="the latch, as 'now' names it")


def run(args: argparse.Namespace) -> int:
    runtime = shared.runtime_folder(args)
    latches = _latches(runtime)
    if args.name is None:
        print("\n".join(latches) if latches else "nothing is latched")
        return 0
    if args.name not in latches or not _NAME.fullmatch(args.name):
        known = f"latched now: {', '.join(latches)}" if latches else "nothing is latched"
        raise GreenkeeperError(f"there is no latch '{args.name}'; {known}")
    return _clear(runtime, args.name)


def _latches(runtime: Path) -> list[str]:
    from greenkeeper.commands.now import read_status

    return read_status(runtime)["latches"]


def _clear(runtime: Path, name: str) -> int:
    """Ask, and wait until the keeper has had two ticks to answer."""
    from greenkeeper import inbox
    from greenkeeper.commands.now import read_status
    from greenkeeper.model import Request

    try:
        inbox.ask(runtime, Request(name))
    except OSError as error:
        raise GreenkeeperError(
            f"the request cannot be left in {runtime}: {error.strerror}; try with sudo"
        ) from error
    give_up_s = time.monotonic() + 2.5 * read_status(runtime)["poll_s"]
    while time.monotonic() < give_up_s:
        time.sleep(0.2)
        if name not in read_status(runtime)["latches"]:
            print(f"{name} is cleared")
            return 0
    print(f"{name} stands: the keeper found its cause still there (greenkeeper now says more)")
    return 1
