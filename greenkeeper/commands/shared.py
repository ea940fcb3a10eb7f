"""What several commands need: the settings option, the folders, asking the keeper."""

import argparse
import sys
import time
from collections.abc import Callable
from datetime import datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.errors import GreenkeeperError

if TYPE_CHECKING:
    from greenkeeper.model import Request
    from greenkeeper.status import StatusDocument

DEFAULT_SETTINGS = Path("/etc/greenkeeper/greenkeeper.yaml")


def add_settings_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--settings",
        type=Path,
        default=DEFAULT_SETTINGS,
        metavar="FILE",
        help=f"the settings file (default: {DEFAULT_SETTINGS})",
    )


def moment(text: str) -> datetime:
    """For argparse: a time in ISO 8601."""
    try:
        return datetime.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(
            f"'{text}' is no time: write it as 2031-01-14T16:00"
        ) from error


def utc_s(told: datetime, zone: tzinfo) -> float:
    """A time without a zone is the house's own."""
    return (told if told.tzinfo else told.replace(tzinfo=zone)).timestamp()


def runtime_folder(args: argparse.Namespace) -> Path:
    """--runtime, else where the settings say the keeper keeps its runtime files.

    Raises GreenkeeperError for settings that are there but faulty.
    """
    from greenkeeper import folders
    from greenkeeper.settings.load import load

    if args.runtime is not None:
        return Path(args.runtime)
    if args.settings == DEFAULT_SETTINGS and not args.settings.exists():
        return folders.runtime_folder(None)
    return folders.runtime_folder(load(args.settings))


def add_runtime_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--runtime",
        type=Path,
        metavar="DIR",
        help="the keeper's runtime folder (default: as the settings say)",
    )


def complain(args: argparse.Namespace, text: str) -> None:
    """What does not stop a command, on stderr, as its errors look."""
    print(f"greenkeeper {args.command}: {text}", file=sys.stderr)


def granted(runtime: Path, request: "Request", seen: Callable[["StatusDocument"], bool]) -> bool:
    """Ask, and wait until the keeper has had two ticks to answer."""
    from greenkeeper import inbox, status

    try:
        inbox.ask(runtime, request)
    except OSError as error:
        raise GreenkeeperError(
            f"the request cannot be left in {runtime}: {error.strerror}; try with sudo"
        ) from error
    give_up_s = time.monotonic() + 2.5 * status.read(runtime)["poll_s"]
    while time.monotonic() < give_up_s:
        time.sleep(0.2)
        if seen(status.read(runtime)):
            return True
    return False
