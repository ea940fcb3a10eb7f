"""`greenkeeper journal`: look at the record, ask whether it is whole, take it elsewhere."""

import argparse
import json
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.commands import shared
from greenkeeper.commands.journal_output import Progress, opened

if TYPE_CHECKING:
    from greenkeeper.journal.reader import Journal

NAME = "journal"
HELP = """The record of temperatures, switchings and events.

It only reads, and may run beside a running keeper. All times are UTC.

examples:
  greenkeeper journal summary --from 2031-01-14
  greenkeeper journal check
  greenkeeper journal export --table hours --from 2031-01-01 --out january.csv"""

_SUMMARY = "What is in it: lowest and highest temperatures, hours on, energy."
_CHECK = """Is the file whole, and was the keeper always there?

Names damage, ends without a goodbye (a power cut), and stretches without a record
that no stop explains. Exit code 1 when there is something to name."""
_EXPORT = """One table as CSV or, with --json, as JSON lines.

Beside a running keeper it may lag by one batch, the settings' journal.batch_s: what
is not in the journal's file yet, switchings included, is not in the table either."""

# Named here and not taken from journal.export, so that --help loads nothing of it; a test
# holds both together.
TABLES = (
    *("minutes", "hours", "humidity-minutes", "humidity-hours", "output-minutes", "output-hours"),
    *("switchings", "zones", "events"),
)


def configure(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    for name, text in (("summary", _SUMMARY), ("check", _CHECK), ("export", _EXPORT)):
        action = actions.add_parser(
            name,
            help=text.splitlines()[0],
            description=text,
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )
        shared.add_settings_option(action)
        action.add_argument("--file", type=Path, help="the journal (default: as the settings say)")
        action.add_argument("--json", action="store_true", help="for programs")
        action.set_defaults(refuse=action.error)
        if name != "check":
            _add_span_options(action)
        if name == "export":
            _add_export_options(action)


def _add_span_options(parser: argparse.ArgumentParser) -> None:
    for option, which in (("--from", "the first moment"), ("--to", "the moment it ends before")):
        parser.add_argument(
            option,
            dest=f"{option[2:]}_utc_s",
            type=utc_time,
            metavar="TIME",
            help=f"{which}: 2031-01-14 or 2031-01-14T06:30Z (default: all there is)",
        )


def _add_export_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--table", choices=TABLES, default="minutes", help="which one (default: minutes)"
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="into a file (default: shown)")


def utc_time(text: str) -> float:
    """POSIX seconds of an ISO 8601 date or time; UTC unless it says otherwise."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(
            f"'{text}' is no time: write 2031-01-14 or 2031-01-14T06:30Z"
        ) from error
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def run(args: argparse.Namespace) -> int:
    from greenkeeper.journal.reader import Journal

    actions = {"summary": _summary, "check": _check, "export": _export}
    with Journal(journal_file(args)) as journal:
        code = actions[args.action](journal, args)
    # Here, where a broken pipe is still ours to take quietly, and not at Python's exit.
    sys.stdout.flush()
    return code


def journal_file(args: argparse.Namespace) -> Path:
    """--file, else where the settings say. Raises GreenkeeperError for faulty settings."""
    from greenkeeper import folders
    from greenkeeper.settings.load import load

    if args.file is not None:
        return Path(args.file)
    usual = args.settings == shared.DEFAULT_SETTINGS
    settings = None if usual and not args.settings.exists() else load(args.settings)
    return folders.journal_file(settings)


def _span(journal: "Journal", args: argparse.Namespace) -> tuple[float, float]:
    """What was asked for, and the journal's own ends where nothing was."""
    first, last = journal.span() or (0, 0)
    start = first if args.from_utc_s is None else args.from_utc_s
    end = last if args.to_utc_s is None else args.to_utc_s
    if args.from_utc_s is not None and args.to_utc_s is not None and start >= end:
        args.refuse("--from must come before --to")
    return start, max(start, end)


def _summary(journal: "Journal", args: argparse.Namespace) -> int:
    from greenkeeper.commands import journal_sheet

    with Progress("reading") as progress:
        journal.while_working(progress.alive)
        facts = journal_sheet.facts(journal, *_span(journal, args))
    if args.json:
        print(json.dumps(facts, ensure_ascii=False, indent=1))
    else:
        print("\n".join(journal_sheet.lines(facts)))
    return 0


def _check(journal: "Journal", args: argparse.Namespace) -> int:
    from greenkeeper.commands import journal_sheet
    from greenkeeper.journal.check import findings

    with Progress("checking") as progress:
        journal.while_working(progress.alive)
        found = findings(journal)
    if args.json:
        print(json.dumps({"file": str(journal.file), "findings": found}, ensure_ascii=False))
    else:
        print("\n".join(journal_sheet.verdict(journal.file, found)))
    return 1 if found else 0


def _export(journal: "Journal", args: argparse.Namespace) -> int:
    from greenkeeper.journal.export import pieces

    span = _span(journal, args)
    shown = args.out is None and sys.stdout.isatty()
    with opened(args.out) as out, Progress("exporting", quiet=shown) as progress:
        for piece in pieces(journal, args.table, *span, as_json=args.json):
            out.write(piece.text)
            progress.share(piece.done)
    return 0
