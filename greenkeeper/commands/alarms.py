"""`greenkeeper alarms`: who is told of what, and whether a message reaches them."""

import argparse
import json
import stat
import sys
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError

if TYPE_CHECKING:
    from greenkeeper.settings.schema import Alarms, Settings

NAME = "alarms"
HELP = """Who is told of what; with --test, send everybody a message now.

The addresses are secrets and never shown: each is called by its number in the file and
its kind. The test says of each whether it took the message, and why not; it also calls
the heartbeat once. Run it as the user who may read the files (usually with sudo).

Exit code 1 when the test did not reach everybody.

examples:
  greenkeeper alarms
  sudo greenkeeper alarms --test"""

_OF_WHAT = {
    "notice": "everything",
    "warning": "warnings and alarms",
    "alarm": "alarms only",
}
_LABEL, _LABEL_OF_TEST = 13, 22
_WIDTH = 80


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.add_argument("--test", action="store_true", help="send a message to everybody, now")
    parser.add_argument("--json", action="store_true", help="for machines")


def run(args: argparse.Namespace) -> int:
    from greenkeeper.settings.load import load

    settings = load(args.settings)
    if settings.alarms is None:
        raise GreenkeeperError(
            f"{args.settings} has no alarms: so nobody is told; config/greenkeeper.yaml shows how"
        )
    if args.test:
        return _test(settings, settings.alarms, as_json=args.json)
    lines = dict(_rules(settings, settings.alarms))
    if args.json:
        print(json.dumps(lines, indent=1, ensure_ascii=False))
    else:
        for label, text in lines.items():
            _show(label, text, _LABEL)
    return 0


def _rules(settings: "Settings", alarms: "Alarms") -> Iterator[tuple[str, str]]:
    from greenkeeper.reports.words import duration

    if alarms.addresses_file is None:
        yield "told", "nobody: there is no addresses_file"
    else:
        yield "told", _who(alarms.addresses_file)
        yield "of", _OF_WHAT[alarms.tell_from]
        if alarms.quiet is not None:
            span = f"{alarms.quiet.from_} to {alarms.quiet.to}, {settings.site.timezone}"
            yield "quiet", f"{span}: only an alarm disturbs"
        every = duration(alarms.repeat_s)
        yield "an alarm", f"is told at once, and again every {every} until somebody has seen it"
        yield "the rest", f"gathers for {duration(alarms.gather_s)}"
        most = f"{alarms.most_an_hour} messages an hour"
        yield "at most", f"{most}, but an alarm's first word always goes"
    if alarms.heartbeat_file is not None:
        every = duration(alarms.heartbeat_s)
        yield "heartbeat", f"every {every}, to the address in {alarms.heartbeat_file}"


def _who(file: str) -> str:
    from greenkeeper.alarms.addresses import addresses

    try:
        found = addresses(file)
    except GreenkeeperError as error:
        return f"as far as can be seen from here, nobody: {error}"
    kinds = ", ".join(f"{each.number} {each.kind}" for each in found)
    many = "address" if len(found) == 1 else "addresses"
    return f"{len(found)} {many} in {file}: {kinds}{_warning(file)}"


def _warning(file: str) -> str:
    from greenkeeper.credentials import locate

    path = locate(file)
    if path.stat().st_mode & (stat.S_IRGRP | stat.S_IROTH) == 0:
        return ""
    return f". Others on this machine may read it, and write in your name: chmod 600 {path}"


def _test(settings: "Settings", alarms: "Alarms", *, as_json: bool) -> int:
    if not as_json:
        print("sending; this may take a minute", file=sys.stderr)
    results: list[dict[str, Any]] = []
    if alarms.addresses_file is not None:
        results += _messages(settings, alarms.addresses_file)
    if alarms.heartbeat_file is not None:
        results.append(_heartbeat(alarms.heartbeat_file))
    if as_json:
        print(json.dumps(results, indent=1, ensure_ascii=False))
    else:
        for each in results:
            fate = "taken" if each["taken"] else f"NOT TAKEN: {each['why']}"
            _show(each["what"], fate, _LABEL_OF_TEST)
    return 0 if all(each["taken"] for each in results) else 1


def _show(label: str, text: str, column: int) -> None:
    first, more = f"{label:<{column}}", " " * column
    print(textwrap.fill(text, _WIDTH, initial_indent=first, subsequent_indent=more))


def _messages(settings: "Settings", file: str) -> Iterator[dict[str, Any]]:
    from greenkeeper.alarms.courier import Errand, send
    from greenkeeper.alarms.letter import INFO, Post

    post = Post(
        f"{settings.site.name}: a test",
        "Somebody tries, by hand, whether alarms reach you here. Nothing is wrong.",
        INFO,
    )
    outcome = send(Errand(file, post, None))
    for each in outcome.deliveries:
        what = f"address {each.number} ({each.kind})"
        yield {"what": what, "taken": each.sent, "why": each.why}
    if outcome.fault is not None and not outcome.deliveries:
        yield {"what": "addresses", "taken": False, "why": outcome.fault}


def _heartbeat(file: str) -> dict[str, Any]:
    from greenkeeper.alarms.heartbeat import call, only_address

    try:
        call(only_address(file))
    except GreenkeeperError as error:
        return {"what": "heartbeat", "taken": False, "why": str(error)}
    return {"what": "heartbeat", "taken": True, "why": ""}
