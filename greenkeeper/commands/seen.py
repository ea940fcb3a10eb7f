"""`greenkeeper seen`: a person's word that they know of an alarm, and need no reminders."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError

if TYPE_CHECKING:
    from greenkeeper.status import AlarmStatus, StatusDocument

NAME = "seen"
HELP = """Say that you know of an alarm: you are not reminded of it again.

It changes nothing about the house. You are still told when it grows worse, when it is
over, and when it comes back after that. Without a name, lists what stands.

examples:
  greenkeeper seen below-minimum-bench
  greenkeeper seen all"""

EVERYTHING = "all"


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    shared.add_runtime_option(parser)
    parser.add_argument(
        "name", nargs="?", metavar="NAME", help="the alarm, as the message names it, or: all"
    )


def run(args: argparse.Namespace) -> int:
    from greenkeeper import status

    runtime = shared.runtime_folder(args)
    standing = status.read(runtime)["alarms"]
    if args.name is None:
        print("\n".join(map(_line, standing)) or "no alarm stands")
        return 0
    meant = [each for each in standing if args.name in (each["name"], EVERYTHING)]
    if not meant:
        names = ", ".join(each["name"] for each in standing)
        known = f"standing now: {names}" if names else "no alarm stands"
        raise GreenkeeperError(f"there is no alarm '{args.name}'; {known}")
    return _see(runtime, args.name, [each["name"] for each in meant])


def _see(runtime: Path, name: str, meant: list[str]) -> int:
    from greenkeeper.model import Request

    def noted(status: "StatusDocument") -> bool:
        return all(each["seen"] for each in status["alarms"] if each["name"] in meant)

    if shared.granted(runtime, Request(seen=name), noted):
        print(f"noted: {', '.join(meant)}")
        return 0
    print(
        f"{name} is not noted: the keeper has not answered, or is to tell nobody of it "
        "(greenkeeper alarms says whom it tells of what)"
    )
    return 1


def _line(alarm: "AlarmStatus") -> str:
    mark = "seen" if alarm["seen"] else ""
    return f"{mark:<6}{alarm['name']}: {alarm['text']}"
