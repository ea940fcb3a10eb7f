"""`greenkeeper tonight`: what the coming night will bring, and what to do about it."""

import argparse
import json
import time
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.commands import shared

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from greenkeeper.journal.reader import Journal
    from greenkeeper.model import Morning
    from greenkeeper.outlook.course import Course
    from greenkeeper.outlook_file import Said
    from greenkeeper.reports.outlook import Outlook
    from greenkeeper.reports.outlook_data import Situation
    from greenkeeper.reports.outlook_score import Scored
    from greenkeeper.settings.schema import Settings

NAME = "tonight"
HELP = """How cold the coming night gets at the plants, with heat and without, and what to do.

The outdoor air comes from the forecast that forecast: in the settings names, if it is
of this place and fresh. Else it is reckoned from the journal: in the afternoon from how
far the last nights fell from this hour on, from two hours after sunset by the FAO's
evening method, fitted to this place's own nights. Then the house is run forward to an hour after
sunrise: as learned (greenkeeper learn), else as the settings describe it. What is laid
by hand are the improvements under house: that say nights_only. Every zone that is heated
or has plants with a minimum gets an outlook of its own; one under a tent with the tent's.

Without a forecast a change of the weather during the night is not seen. --score says
how far each way has been out here.

examples:
  greenkeeper tonight
  greenkeeper tonight --at 2031-01-14T16:00
  greenkeeper tonight --picture tonight.png
  greenkeeper tonight --score
  greenkeeper tonight --json

--keep remembers what was said, to be scored next morning, unless it says no more than
what was kept of this night before (a timer does that). Exit code 1 when plants will
fall below their minimum whatever the heater does; with --keep only when it could not be done."""


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.add_argument("--file", type=Path, help="the journal (default: as the settings say)")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--score", action="store_true", help="what the last outlooks were worth")
    what.add_argument(
        "--at", type=shared.moment, metavar="TIME", help="as it would have been said then"
    )
    what.add_argument("--keep", action="store_true", help="remember it, to be scored")
    parser.add_argument("--picture", type=Path, metavar="FILE", help="draw it as PNG or SVG")
    parser.add_argument("--json", action="store_true", help="for programs")


def run(args: argparse.Namespace) -> int:
    from greenkeeper import folders, morning_file, outlook_file
    from greenkeeper.commands.journal import journal_file
    from greenkeeper.journal.reader import Journal
    from greenkeeper.reports import outlook_score
    from greenkeeper.reports.darkness import NothingToReckonError
    from greenkeeper.settings.load import load

    if args.picture is not None:
        from greenkeeper.reports import picture

        picture.checked(args.picture)
    settings = load(args.settings)
    now_utc_s = time.time() if args.at is None else shared.utc_s(args.at, settings.site.zone)
    file = folders.state_folder(settings) / outlook_file.FILE_NAME
    with Journal(journal_file(args)) as journal:
        past = outlook_score.scored(journal, settings, outlook_file.read(file), now_utc_s)
        if args.score:
            return _score(args, settings, past)
        try:
            found = _outlooks(journal, settings, past, now_utc_s)
        except NothingToReckonError as error:
            if not args.keep:
                raise
            print(error)  # to a timer, nothing is wrong
            return 0
        if args.picture is not None:
            from greenkeeper.reports import outlook_picture

            outlook_picture.draw(journal, settings, found, args.picture)
    if args.keep:
        _keep(file, [_said(each) for each in found], now_utc_s)
        if found[0].morning is not None:
            morning_file.write(file.with_name(morning_file.FILE_NAME), found[0].morning)
    if args.json:
        from greenkeeper.commands.lastnight import plain

        print(json.dumps(plain(found), indent=2))
    else:
        from greenkeeper.reports import outlook_sheet

        print("\n".join(outlook_sheet.sheet(found, settings)))
    # The keeper raises the alarm of what is kept; to a timer 1 means that something is wrong.
    return 1 if any(each.advice.grave for each in found) and not args.keep else 0


def _outlooks(
    journal: "Journal", settings: "Settings", past: "list[Scored]", now_utc_s: float
) -> "list[Outlook]":
    """Of every zone with something to keep, the house's own air first."""
    from greenkeeper import folders, learned_file
    from greenkeeper.reports import (
        night,
        outlook,
        outlook_data,
        outlook_house,
        outlook_score,
        reminders,
    )

    read = learned_file.read(folders.state_folder(settings) / learned_file.FILE_NAME)
    learned = read.kept.learned
    settings, powers = outlook_house.with_learned_power(settings, learned)
    situations = outlook_data.situations(journal, settings, now_utc_s)
    course, morning, notes = _forecast(settings, situations[0])
    if course is None:
        course = outlook.course(situations[0])
    course = outlook.with_misses(course, outlook_score.misses_k(past, course.kind))
    first, *others = [
        outlook.with_inside_band(each, outlook_score.inside_misses_k(past, course.kind, each.zone))
        for each in outlook.outlooks(settings, situations, course, learned, notes + powers)
    ]
    today = datetime.fromtimestamp(now_utc_s, settings.site.zone).date()
    evening = night.last_evening(now_utc_s, settings.site.zone)
    before = reminders.lately(journal, settings, evening)
    due = reminders.due(settings, today, before, first.outdoor_band_c[0])
    return [first._replace(reminders=tuple(due), morning=morning), *others]


def _forecast(
    settings: "Settings", found: "Situation"
) -> "tuple[Course | None, Morning | None, list[str]]":
    """The first that can be believed, what it says of the morning, and why not the others."""
    from greenkeeper.outlook import forecast
    from greenkeeper.reports import outlook_data

    where = outlook_data.place(settings)
    notes: list[str] = []
    for name, fetch in _sources(settings, where, found.now_utc_s):
        try:
            said = forecast.parse(fetch())
            course = forecast.course(said, *where, found.now_utc_s, found.dark)
            return course, forecast.morning(said, found.dark), notes
        except forecast.ForecastError as error:
            notes.append(f"the forecast {name} is not used: {error}")
    return None, None, notes


def _sources(
    settings: "Settings", where: tuple[float, float], now_utc_s: float
) -> "Iterator[tuple[str, Callable[[], bytes]]]":
    from greenkeeper import folders, forecast_fetch

    asked = settings.forecast
    if asked is None:
        return
    if asked.topic is not None:
        topic = asked.topic
        yield "on the broker", lambda: _left_on_the_broker(settings, topic)
    if asked.url is not None:
        file = folders.state_folder(settings) / forecast_fetch.FILE_NAME
        yield "of the service", lambda: forecast_fetch.fetched(asked, where, file, now_utc_s)


def _left_on_the_broker(settings: "Settings", topic: str) -> bytes:
    """Raises ForecastError."""
    from greenkeeper.broker.roll_call import call_roll
    from greenkeeper.errors import GreenkeeperError
    from greenkeeper.outlook.forecast import ForecastError

    assert settings.broker is not None  # noqa: S101 - the checks of the settings ask for one
    try:
        found = call_roll(settings.broker, [topic])
    except GreenkeeperError as error:
        raise ForecastError(str(error)) from error
    if topic not in found:
        raise ForecastError(f"nothing is retained on {topic}")
    return found[topic]


def _keep(file: Path, said: "list[Said]", now_utc_s: float) -> None:
    from greenkeeper import outlook_file

    if outlook_file.is_news(said, outlook_file.standing(file, now_utc_s)):
        outlook_file.add(file, *said)
    else:
        print("It is as it was said before: not kept once more.\n")


def _said(found: "Outlook") -> "Said":
    from greenkeeper.outlook_file import Said

    stands = found.ways.stands
    return Said(
        found.made_utc_s,
        found.until_utc_s,
        found.zone,
        found.kind,
        found.outdoor_low.temp_c,
        *found.outdoor_band_c,
        stands.low_c,
        found.outdoor_low.utc_s,
        found.ways.cold.low_c,
        stands.kwh,
        found.advice.text,
        found.advice.grave,
        " ".join(each.text for each in found.reminders),
        found.corrected_k,
    )


def _score(args: argparse.Namespace, settings: "Settings", past: "list[Scored]") -> int:
    from greenkeeper.reports import outlook_sheet

    if args.json:
        from greenkeeper.commands.lastnight import plain

        print(json.dumps([plain(each) for each in past], indent=2))
    else:
        print("\n".join(outlook_sheet.score(past, settings)))
    return 0
