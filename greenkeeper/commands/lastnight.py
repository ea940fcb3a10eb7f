"""`greenkeeper lastnight`: how low it went, whether heat was used, what it cost."""

import argparse
import json
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from greenkeeper.commands import shared

if TYPE_CHECKING:
    from greenkeeper.journal.reader import Journal
    from greenkeeper.reports.night import Facts, Span
    from greenkeeper.reports.reminders import Reminder
    from greenkeeper.reports.unheated import Unheated
    from greenkeeper.settings.schema import Settings

NAME = "lastnight"
HELP = """How low it went last night, whether heat was used, and what it cost.

A night is from noon to noon by the clock on the wall and bears the date of its
evening. Degree-hours say how far a plant was below its minimum times for how long:
2 K below for half an hour is 1 K·h. The tables count whole hours of the record, and
an hour by its start.

examples:
  greenkeeper lastnight
  greenkeeper lastnight --evening 2031-01-14 --picture night.png
  greenkeeper lastnight --from 2031-01-14T06:00 --to 2031-01-14T09:00
  greenkeeper lastnight --nights 14
  greenkeeper lastnight --winter

It only reads, and may run beside a running keeper; --keep writes one small file, from
which the keeper shows the night on the broker (a timer does that every morning). Exit
code 1 when a plant fell below its minimum or nothing is known; with --keep only when it
could not be done."""

_MOST_NIGHTS = 400


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.add_argument("--file", type=Path, help="the journal (default: as the settings say)")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--evening", type=_day, metavar="DATE", help="another night, by its evening")
    what.add_argument("--nights", type=_how_many, metavar="N", help="a table of the last N nights")
    what.add_argument(
        "--winter", action="store_true", help="this winter so far, beside the last one"
    )
    what.add_argument(
        "--keep", action="store_true", help="hand the night to the keeper, for the broker"
    )
    # Not of that group: argparse cannot break its line, which would be too long.
    parser.add_argument(
        "--from", dest="begins", type=shared.moment, metavar="TIME", help="any span, from then on"
    )
    parser.add_argument(
        "--to",
        dest="ends",
        type=shared.moment,
        metavar="TIME",
        help="with --from: until then (now)",
    )
    parser.add_argument("--picture", type=Path, metavar="FILE", help="draw the night as PNG or SVG")
    parser.add_argument("--json", action="store_true", help="for programs")
    parser.set_defaults(refuse=parser.error)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"'{text}' is no date: write it as 2031-01-14") from error


def _how_many(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= _MOST_NIGHTS:
        raise argparse.ArgumentTypeError(f"'{text}': a number from 1 to {_MOST_NIGHTS}")
    return int(text)


def run(args: argparse.Namespace) -> int:
    from greenkeeper.commands.journal import journal_file
    from greenkeeper.journal.reader import Journal
    from greenkeeper.reports import picture
    from greenkeeper.settings.load import load

    if args.picture is not None and (args.winter or args.nights):
        args.refuse("--picture draws one night: leave --nights and --winter out")
    if args.picture is not None:
        picture.checked(args.picture)
    if args.ends is not None and args.begins is None:
        args.refuse("--to goes with --from")
    if args.begins is not None and (args.evening or args.nights or args.winter or args.keep):
        args.refuse("--from goes with --to alone")
    settings = load(args.settings)
    with Journal(journal_file(args)) as journal:
        if args.winter:
            return _winter(args, journal, settings)
        if args.nights:
            return _table(args, journal, settings)
        return _one(args, journal, settings)


def _one(args: argparse.Namespace, journal: "Journal", settings: "Settings") -> int:
    from greenkeeper.commands.journal_output import Progress
    from greenkeeper.reports import night, night_sheet

    now_utc_s = time.time()
    evening = args.evening or night.last_evening(now_utc_s, settings.site.zone)
    if args.begins is not None:
        span, title = _any_span(args, settings, now_utc_s)
    else:
        span = night.night(evening, settings.site.zone)
        title = f"the night of {evening.strftime('%A %-d %B %Y')}"
        if span.from_utc_s >= now_utc_s:
            args.refuse(f"--evening {evening}: that night has not begun")
    span = span._replace(to_utc_s=min(span.to_utc_s, now_utc_s))
    with Progress("reading", quiet=args.json) as progress:
        found = night.facts(journal, settings, span, progress.share)
    without, unknown = ([], "") if args.begins else _without_heat(journal, settings, found)
    due = [] if args.evening or args.begins else _due(journal, settings, evening)
    if args.json:
        of = {} if args.begins else {"evening": evening.isoformat()}
        told = {**of, **plain(found), "without_heat": plain(without)}
        told |= {"without_heat_unknown": unknown or None, "reminders": plain(due)}
        print(json.dumps(told, indent=2))
    else:
        rows = night_sheet.one(found, settings, title, without, due, unknown=unknown)
        print("\n".join(rows))
    if args.picture is not None:
        from greenkeeper.reports import night_picture

        night_picture.draw(journal, settings, found, f"{settings.site.name}, {title}", args.picture)
    if args.keep:
        _keep(settings, evening, found)
    spared = all(
        zone.low is not None and (zone.minimum_c is None or zone.low.temp_c >= zone.minimum_c)
        for zone in found.zones
    )
    # To the timer that keeps it, 1 means that something is wrong with the keeping.
    return 0 if spared or args.keep else 1


def _any_span(
    args: argparse.Namespace, settings: "Settings", now_utc_s: float
) -> "tuple[Span, str]":
    from greenkeeper.reports import night, words
    from greenkeeper.reports.night import Span

    zone = settings.site.zone
    from_s = shared.utc_s(args.begins, zone)
    to_s = now_utc_s if args.ends is None else shared.utc_s(args.ends, zone)
    if not from_s < min(to_s, now_utc_s):
        args.refuse("--from TIME --to TIME: a span that has begun, and ends after it begins")
    years = night.is_of_years(from_s, to_s)
    begins, ends = (
        words.moment(each, settings.site.timezone, with_year=years) for each in (from_s, to_s)
    )
    return Span(from_s, to_s), f"{begins} to {ends}"


def _due(journal: "Journal", settings: "Settings", evening: date) -> "list[Reminder]":
    from greenkeeper.reports import reminders

    before = reminders.lately(journal, settings, evening)
    return reminders.due(settings, evening + timedelta(days=1), before)


def _without_heat(
    journal: "Journal", settings: "Settings", found: "Facts"
) -> "tuple[list[Unheated], str]":
    """Empty where nothing heated; or why nobody knows."""
    from greenkeeper import folders, learned_file
    from greenkeeper.reports.unheated import NotReckonedError, unheated
    from greenkeeper.settings.derived import heaters

    if not any(each.on_s for each in found.ran if each.output in heaters(settings)):
        return [], ""
    read = learned_file.read(folders.state_folder(settings) / learned_file.FILE_NAME)
    try:
        return unheated(journal, settings, found.span, read.kept.learned), ""
    except NotReckonedError as error:
        return [], str(error)


def _keep(settings: "Settings", evening: date, found: "Facts") -> None:
    from greenkeeper import folders, last_night
    from greenkeeper.reports import night, night_sheet
    from greenkeeper.settings.derived import heaters

    summary = " ".join(night_sheet.verdict(zone) for zone in found.zones)
    file = folders.state_folder(settings) / last_night.FILE_NAME
    last_night.write(file, night.in_brief(found, evening, summary, heaters(settings)))


def _table(args: argparse.Namespace, journal: "Journal", settings: "Settings") -> int:
    from greenkeeper.reports import night, night_sheet, winters

    now_utc_s = time.time()
    last = night.last_evening(now_utc_s, settings.site.zone)
    first, until = last - timedelta(days=args.nights - 1), last + timedelta(days=1)
    rows = winters.by_night(journal, settings, first, until, now_utc_s)
    if args.json:
        told = [{"evening": day.isoformat(), **plain(each)} for day, each in rows]
        print(json.dumps(told, indent=2))
    else:
        print("\n".join(night_sheet.nights(rows, settings)))
    spared = not any(each.below for _, each in rows)
    return 0 if spared and any(each.recorded_h for _, each in rows) else 1


def _winter(args: argparse.Namespace, journal: "Journal", settings: "Settings") -> int:
    from greenkeeper.reports import night, night_sheet, winters

    rows = winters.winters(journal, settings, night.last_evening(time.time(), settings.site.zone))
    if args.json:
        print(json.dumps([plain(each) for each in rows], indent=2))
    else:
        print("\n".join(night_sheet.winters(rows, settings)))
    return 1 if rows[0].below or not rows[0].nights else 0


def plain(value: Any) -> Any:
    """Named tuples as objects, times as ISO 8601 in UTC under a name without its unit."""
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return dict(_named(name, each) for name, each in value._asdict().items())
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    return dict(value) if hasattr(value, "items") else value


def _named(name: str, value: Any) -> tuple[str, Any]:
    if name.endswith("utc_s"):
        moment = datetime.fromtimestamp(value, UTC).isoformat(timespec="seconds")
        return name.removesuffix("_s"), moment.replace("+00:00", "Z")
    return name, plain(value)
