"""The command line: one module per command, found by its name.

Lives here: which commands there are, and how their errors and ends look. A command
module has NAME, HELP, configure(parser) and run(args) -> exit code; heavy imports
happen inside run, so that --help stays quick.

Exit codes: 0 fine, 1 a finding, 2 wrong usage.
"""

import argparse
import importlib
import os
import sys
import textwrap
from collections.abc import Sequence
from typing import NoReturn

from greenkeeper import __version__
from greenkeeper.errors import GreenkeeperError

COMMANDS = (
    "run",
    "demo",
    "setup",
    "now",
    "lastnight",
    "tonight",
    "page",
    "learn",
    "check",
    "probes",
    "season",
    "rehearse",
    "clear",
    "seen",
    "alarms",
    "journal",
    "safe",
)

_WIDTH = 80

_STORY = """\
Keeps every plant in a small greenhouse between its limits.

first steps:
  greenkeeper demo                 watch an invented house through a frosty night
  greenkeeper setup                a settings file from a few plain questions
  greenkeeper probes               what hangs on the 1-Wire bus, ready to paste
  greenkeeper check my-house.yaml  every fault in a settings file, at once
  greenkeeper run --settings my-house.yaml
"""


class _Help(argparse.RawDescriptionHelpFormatter):
    """Paragraphs filled to eighty columns; what is indented stays as it stands."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=_WIDTH)

    def _fill_text(self, text: str, width: int, indent: str) -> str:  # noqa: ARG002 - argparse asks
        return "\n\n".join(
            part if "\n  " in part else textwrap.fill(" ".join(part.split()), width)
            for part in text.split("\n\n")
        )


class _Parser(argparse.ArgumentParser):
    """argparse, with a guess at what was meant."""

    takes_settings: frozenset[str] = frozenset()  # the commands that have --settings

    def error(self, message: str) -> NoReturn:
        words = [word for word in sys.argv[1:] if not word.startswith("-")]
        if "argument COMMAND: invalid choice" in message and words:
            import difflib  # a slip alone needs it

            near = difflib.get_close_matches(words[0], COMMANDS, n=1)
            guess = f" Did you mean '{near[0]}'?" if near else ""
            message = f"there is no command '{words[0]}'.{guess} See {self.prog} --help"
        lost = [word for word in words[1:] if word.endswith((".yaml", ".yml"))]
        if "unrecognized arguments" in message and lost and words[0] in self.takes_settings:
            message += f". To name the settings write: {self.prog} {words[0]} --settings {lost[0]}"
        super().error(message)


def build_parser(names: Sequence[str] = COMMANDS) -> argparse.ArgumentParser:
    """The parser of these commands alone."""
    parser = _Parser(
        prog="greenkeeper",
        description=_STORY,
        formatter_class=_Help,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"greenkeeper {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name in names:
        module = importlib.import_module(f"greenkeeper.commands.{name}")
        sub = commands.add_parser(
            name,
            help=module.HELP.splitlines()[0],
            description=module.HELP,
            formatter_class=_Help,
            allow_abbrev=False,
        )
        module.configure(sub)
        sub.set_defaults(run=module.run)
        if "--settings" in sub.format_usage():
            parser.takes_settings |= {name}
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns its exit code; argparse itself exits with 2."""
    words = sys.argv[1:] if argv is None else argv
    # Only the command that was named is imported: `safe` must work whatever is broken
    # beside it, and none should wait for the others.
    named = words[:1] if words and words[0] in COMMANDS else COMMANDS
    args = build_parser(named).parse_args(words)
    try:
        return int(args.run(args))
    except GreenkeeperError as error:
        print(f"greenkeeper {args.command}: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        # The reader (head, less) has seen enough; Python must not complain at its exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
