"""`greenkeeper clear`: a person's word that a latch may go, or that a relay is a new one."""

import argparse
import re
from pathlib import Path

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError

NAME = "clear"
HELP = """Clear a latch, after you have looked what caused it.

A latch is a lock-out that waits for a person: go and see first. Without a name, lists
what is latched. The keeper refuses while the cause still holds.

After a relay was replaced, --new-relay lets its switchings be counted from nothing.

examples:
  greenkeeper clear over-ceiling-bench
  greenkeeper clear --new-relay heater"""

_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    shared.add_runtime_option(parser)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("name", nargs="?", metavar="NAME", help="the latch, as 'now' names it")
    what.add_argument("--new-relay", metavar="OUTPUT", help="the output with the new relay")


def run(args: argparse.Namespace) -> int:
    runtime = shared.runtime_folder(args)
    if args.new_relay is not None:
        return _renew(runtime, args.new_relay)
    latches = _latches(runtime)
    if args.name is None:
        print("\n".join(latches) if latches else "nothing is latched")
        return 0
    if args.name not in latches or not _NAME.fullmatch(args.name):
        known = f"latched now: {', '.join(latches)}" if latches else "nothing is latched"
        raise GreenkeeperError(f"there is no latch '{args.name}'; {known}")
    return _clear(runtime, args.name)


def _latches(runtime: Path) -> list[str]:
    from greenkeeper import status

    return status.read(runtime)["latches"]


def _clear(runtime: Path, name: str) -> int:
    from greenkeeper.model import Request

    if shared.granted(runtime, Request(clear=name), lambda status: name not in status["latches"]):
        print(f"{name} is cleared")
        return 0
    print(f"{name} stands: the keeper found its cause still there (greenkeeper now says more)")
    return 1


def _renew(runtime: Path, output: str) -> int:
    from greenkeeper import status
    from greenkeeper.model import Request

    outputs = status.read(runtime)["outputs"]
    if output not in outputs or not _NAME.fullmatch(output):
        raise GreenkeeperError(f"there is no output '{output}' in use; known: {', '.join(outputs)}")
    before = outputs[output]["operations"]
    if before == 0:
        print(f"{output} is counted from nothing already")
        return 0
    request = Request(new_relay=output)
    if shared.granted(
        runtime, request, lambda status: status["outputs"][output]["operations"] < before
    ):
        print(f"{output} is counted from nothing; its old relay had switched on {before} times")
        return 0
    print(f"{output} still counts {before}: the keeper has not answered")
    return 1
