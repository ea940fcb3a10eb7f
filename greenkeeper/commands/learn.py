"""`greenkeeper learn`: what the house's own nights teach about it."""

import argparse
import json
import time
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError

if TYPE_CHECKING:
    from greenkeeper.house.learning.lesson import Lesson
    from greenkeeper.learned import Learned
    from greenkeeper.learned_file import Read
    from greenkeeper.settings.schema import Settings

NAME = "learn"
HELP = """What the house loses, how fast it cools and how it lags, from its own journal.

It takes the last fourteen dark nights that can teach something: the heater was watched,
a probe hung outdoors, nothing aired the house. Each figure comes with the span in which
it lies nine times in ten, or with the reason why it is not known. What is learned is
kept in the state folder, where the keeper and other commands find it; a timer does it
every noon.

Needs numpy: install Greenkeeper with the extra 'learn'.

examples:
  greenkeeper learn
  greenkeeper learn --kept
  greenkeeper learn --json

With --file, of another journal, nothing is kept. Exit code 1 when nothing could be
learned, when the house has changed, or when it could not be kept."""


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.add_argument("--file", type=Path, help="another journal, to look only")
    parser.add_argument(
        "--kept", action="store_true", help="show what was learned last, learning nothing anew"
    )
    parser.add_argument("--json", action="store_true", help="for programs")
    parser.set_defaults(refuse=parser.error)


def run(args: argparse.Namespace) -> int:
    from greenkeeper import folders, learned_file
    from greenkeeper.settings.load import load

    if args.kept and args.file is not None:
        args.refuse("--kept shows what is in the state folder: leave --file out")
    settings = load(args.settings)
    file = folders.state_folder(settings) / learned_file.FILE_NAME
    read = learned_file.read(file)
    if read.trouble is not None:
        shared.complain(args, read.trouble)
    if args.kept:
        return _show_kept(args, settings, read)
    found = _lesson(args, settings, read)
    _tell(args, settings, found.learned, found)
    kept = args.file is not None or _keep(args, file, read, found.learned)
    known = found.learned.nights > 0 and found.learned.value("rise_k") is not None
    return 0 if kept and known and not found.learned.notices else 1


def _show_kept(args: argparse.Namespace, settings: "Settings", read: "Read") -> int:
    learned = read.kept.learned
    if learned is None:
        raise GreenkeeperError("nothing has been learned yet: run greenkeeper learn")
    _tell(args, settings, learned, None)
    return 1 if learned.notices else 0


def _lesson(args: argparse.Namespace, settings: "Settings", read: "Read") -> "Lesson":
    from greenkeeper.commands.journal import journal_file
    from greenkeeper.commands.journal_output import Progress
    from greenkeeper.journal.reader import Journal

    try:
        import numpy  # noqa: F401 - asked here, so that its want is told in words
    except ImportError as error:
        raise GreenkeeperError(
            "learning needs numpy: install Greenkeeper with the extra 'learn' "
            "(sudo make install EXTRAS=learn)"
        ) from error
    from greenkeeper.house.learning.lesson import lesson
    from greenkeeper.reports import learning_data

    now_utc_s = time.time()
    about = learning_data.subject(settings)
    learning_data.place(settings)
    with (
        Journal(journal_file(args)) as journal,
        Progress("learning", quiet=args.json) as progress,
    ):
        return lesson(
            about,
            learning_data.evidence(journal, settings, now_utc_s),
            learning_data.dawns(journal, settings, now_utc_s),
            read.kept.past,
            now_utc_s,
            progress.share,
        )


def _keep(args: argparse.Namespace, file: Path, read: "Read", learned: "Learned") -> bool:
    from greenkeeper import learned_file
    from greenkeeper.learned import with_new

    try:
        learned_file.write(file, with_new(read.kept, learned))
    except OSError as error:
        shared.complain(args, f"not kept: {file} cannot be written: {error.strerror}")
        return False
    return True


def _tell(
    args: argparse.Namespace, settings: "Settings", learned: "Learned", found: "Lesson | None"
) -> None:
    from greenkeeper.learned import as_object
    from greenkeeper.reports import learning_sheet

    skipped = () if found is None else found.skipped
    if args.json:
        told = {
            "site": settings.site.name,
            "learned": as_object(learned),
            "settings": dict(learning_sheet.settled(settings)),
            "skipped": [night._asdict() for night in skipped],
        }
        print(json.dumps(told, indent=1))
    else:
        print("\n".join(learning_sheet.lines(learned, skipped, settings)))
