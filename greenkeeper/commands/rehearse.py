"""`greenkeeper rehearse`: the very control that would run, through a winter of weather."""

import argparse
import json
import re
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from greenkeeper.commands import shared
from greenkeeper.commands.journal_output import Progress

if TYPE_CHECKING:
    from greenkeeper.house.records.record import Record
    from greenkeeper.rehearsal.faults import Fault
    from greenkeeper.rehearsal.ledger import Result
    from greenkeeper.rehearsal.run import Span, Stage
    from greenkeeper.settings.schema import Settings

NAME = "rehearse"
HELP = """Rehearse your settings in your modelled house, through a season of weather.

The very control that would run decides every ten seconds; only probes, outputs, house and
weather are modelled. Nothing real is switched, and no journal is written. It says how cold
and how warm it got at the plants, how long the heat ran, and what that cost. A lock-out,
which waits for a person, is cleared twelve hours later, but not with --fault.

Without --weather the year is invented, as warm on average as your months where the settings
have site.monthly_mean_c: good for comparing settings, not for a bill. Weather files: EPW and
TMY3, as public weather services give them away, or a CSV whose first line is time,outdoor_c
(and sun_w_m2, diffuse_w_m2, wind_m_s, sky_w_m2).

--compare sets this strategy beside plain hysteresis of 0.5, 1 and 2 K, one of 1 K that
anticipates and heat in proportion (both as far as your house is known by now: see
greenkeeper learn), and the ideal heater: perfectly modulated, without lag, holding the air at
the tenderest plant's minimum exactly. No heater that keeps the plants can use less. Every
strategy's setpoints are moved until the lowest temperature it achieves is that minimum, so
that the energies are comparable; hours in which even full power is not enough, and the two
after each, are left out of that lowest, and counted in the energies. Where the tariff has hours
at different prices, one more row heats ahead in the cheap ones (ahead_in_cheap_hours), or
leaves that, and a sentence says whether it can pay.

--fault lets something break on the coldest night, for half a day unless --fault-for says
otherwise: welded-relay, dead-element, probe-displaced, probe-dead, door-open, power-cut.

examples:
  greenkeeper rehearse --settings my-house.yaml --weather my-town.epw
  greenkeeper rehearse --from 2025-12-01 --to 2026-03-01 --picture winter.png
  greenkeeper rehearse --compare --from 2026-01-01 --to 2026-02-01
  greenkeeper rehearse --sweep zones.bench.heat.hysteresis_k=0.3,0.5,1
  greenkeeper rehearse --fault welded-relay"""

_FAULTS = (
    "welded-relay", "dead-element", "probe-displaced", "probe-dead", "door-open", "power-cut",
)  # fmt: skip

# A winter like any other. A typical year's weather is the same in all of them.
_WINTER = {"north": ("2025-10-01", "2026-05-01"), "south": ("2025-04-01", "2025-11-01")}

_UNITS_S = {"min": 60.0, "m": 60.0, "h": 3600.0, "d": 86_400.0}
_BROKEN_S = 12 * 3600.0
_LONGEST_S = 3 * 366 * 86_400.0


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.set_defaults(refuse=parser.error)
    parser.add_argument(
        "--weather", type=Path, metavar="FILE", help="an EPW, TMY3 or CSV file (default: invented)"
    )
    for option, which in (("--from", "first day"), ("--to", "the day after the last one")):
        parser.add_argument(
            option, dest=f"{option[2:]}_day", type=_day, metavar="DAY",
            help=f"{which}, such as 2026-01-14 (default: the heating season)",
        )  # fmt: skip
    parser.add_argument(
        "--picture", type=Path, metavar="FILE",
        help="draw it: .png or .svg; of --compare the ideal heater's run, of --sweep the first",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="everything, for machines")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--compare", action="store_true", help="beside other strategies")
    kind.add_argument("--sweep", type=_sweep, metavar="KEY=A,B,...", help="one setting, varied")
    kind.add_argument("--fault", choices=_FAULTS, metavar="NAME", help="let something break")
    parser.add_argument(
        "--fault-at", type=_moment, metavar="TIME",
        help="when, such as 2026-01-14T22:00 (default: eight hours before the coldest)",
    )  # fmt: skip
    parser.add_argument(
        "--fault-for", type=_duration_s, metavar="TIME",
        help="how long: 90min, 12h, 3d (default: 12h)",
    )  # fmt: skip
    parser.add_argument(
        "--workers", type=int, metavar="N", help="processes at once (default: one for each core)"
    )


class Sweep(NamedTuple):
    key: str
    values: tuple[str, ...]


def _day(text: str) -> datetime:
    try:
        return datetime.strptime(text, "%Y-%m-%d")  # noqa: DTZ007 - the site's own day
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no day: write 2026-01-14") from None


def _moment(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no time: write 2026-01-14T22:00") from None


def _duration_s(text: str) -> float:
    match = re.fullmatch(r"(\d+(?:\.\d+)?)(min|m|h|d)", text)
    if match is None or float(match[1]) == 0.0:
        raise argparse.ArgumentTypeError(f"'{text}' is no time: write 90min, 12h or 3d")
    return float(match[1]) * _UNITS_S[match[2]]


def _sweep(text: str) -> Sweep:
    key, equals, values = text.partition("=")
    parts = tuple(part.strip() for part in values.split(","))
    if not equals or not key or not all(parts):
        raise argparse.ArgumentTypeError(
            f"'{text}' is no sweep: write zones.bench.heat.hysteresis_k=0.3,0.5,1"
        )
    return Sweep(key, parts)


def run(args: argparse.Namespace) -> int:
    from greenkeeper.reports import picture
    from greenkeeper.settings.load import load

    if args.workers is not None and args.workers < 1:
        args.refuse("--workers must be 1 or more")
    if args.fault is None and (args.fault_at is not None or args.fault_for is not None):
        args.refuse("--fault-at and --fault-for say when: --fault says what breaks")
    settings = load(args.settings)
    record = _record(args, settings)
    if args.picture is not None:
        picture.checked(args.picture)
    fault = _fault_span(args, settings, record)
    span = _span(args, settings, record, fault)
    with Progress("rehearsing") as progress:
        lines, document, drawn = _work(args, settings, record, span, fault, progress)
    if args.picture is not None:
        from greenkeeper.reports import rehearsal_picture

        rehearsal_picture.draw(args.picture, settings, drawn.result, fault, drawn.whose)
        lines.append(f"\nThe picture: {args.picture}")
    print(json.dumps(document, ensure_ascii=False, indent=1) if args.json else "\n".join(lines))
    sys.stdout.flush()
    return 0


class _Drawn(NamedTuple):
    """The one rehearsal of which there is a picture. whose: empty where there is no other."""

    result: "Result"
    whose: str


def _work(
    args: argparse.Namespace,
    settings: "Settings",
    record: "Record | None",
    span: "Span",
    fault: "Fault | None",
    progress: Progress,
) -> tuple[list[str], dict[str, object], "_Drawn"]:
    """What was asked for: as lines, as a document, and the rehearsal to draw."""
    from greenkeeper.commands import rehearse_document as document
    from greenkeeper.commands import rehearse_several as several
    from greenkeeper.commands import rehearse_sheet as sheet
    from greenkeeper.commands.rehearse_head import About
    from greenkeeper.rehearsal.compare import compare
    from greenkeeper.rehearsal.run import rehearse
    from greenkeeper.rehearsal.sweep import sweep
    from greenkeeper.settings.load import with_value

    stage = _stage(settings, record)
    weather = None if record is None else args.weather
    about = About(settings, weather, record, span, stage.learned)
    if args.compare:
        found = compare(settings, stage, span, progress.share, workers=args.workers)
        lines = several.comparison_lines(about, found)
        facts = document.comparison_facts(about, found)
        return lines, facts, _Drawn(found.ideal, "the ideal heater")
    if args.sweep is not None:
        varied = [with_value(args.settings, args.sweep.key, each) for each in args.sweep.values]
        stages = [_stage(each, record) for each in varied]
        swept = sweep(args.sweep.values, varied, stages, span, progress.share, workers=args.workers)
        return (
            several.sweep_lines(about, args.sweep.key, swept),
            document.sweep_facts(about, args.sweep.key, swept),
            _Drawn(swept[0].result, f"{args.sweep.key}={args.sweep.values[0]}"),
        )
    result = rehearse(settings, stage, span, fault=fault, progress=progress.share)
    drawn = _Drawn(result, "")
    return sheet.lines(about, result, fault), document.facts(about, result, fault), drawn


def _record(args: argparse.Namespace, settings: "Settings") -> "Record | None":
    """The weather file, read. Raises GreenkeeperError for one that cannot be."""
    from greenkeeper.house.records.read import parse
    from greenkeeper.house.records.record import Place
    from greenkeeper.reports.season_climate import read_file

    if args.weather is None:
        return None
    name, content = read_file(args.weather)
    site = settings.site
    place = None
    if site.latitude is not None and site.longitude is not None:
        place = Place(site.name, site.latitude, site.longitude, 0.0)
    return parse(content, name, place)


def _stage(settings: "Settings", record: "Record | None") -> "Stage":
    from greenkeeper import folders, learned_file
    from greenkeeper.rehearsal.stage import stage_of

    # What the keeper would go by is what it has learned; the house itself is as described.
    kept = learned_file.read(folders.state_folder(settings) / learned_file.FILE_NAME).kept
    return stage_of(settings, record)._replace(learned=kept.learned)


def _span(
    args: argparse.Namespace,
    settings: "Settings",
    record: "Record | None",
    fault: "Fault | None",
) -> "Span":
    """From and to, by the site's own days. Raises GreenkeeperError for one that cannot be."""
    from greenkeeper.rehearsal.run import Span

    zone = settings.site.zone
    reach = None if record is None else record.span
    from_utc_s, to_utc_s = _season(settings, record) if reach is None else _whole_hours(reach)
    if fault is not None and args.from_day is None and args.to_day is None:
        about = fault.from_utc_s - 86_400.0, fault.to_utc_s + 86_400.0
        if reach is not None:  # as much of the days about it as the weather has
            about = max(about[0], from_utc_s), min(about[1], to_utc_s)
        from_utc_s, to_utc_s = about
    if args.from_day is not None:
        from_utc_s = args.from_day.replace(tzinfo=zone).timestamp()
    if args.to_day is not None:
        to_utc_s = args.to_day.replace(tzinfo=zone).timestamp()
    if fault is not None and not from_utc_s <= fault.from_utc_s < to_utc_s:
        args.refuse("--fault-at must lie between --from and --to, and within the weather")
    if to_utc_s - from_utc_s < 3600.0:
        args.refuse("--from must come before --to, and before the weather's end")
    if to_utc_s - from_utc_s > _LONGEST_S:
        args.refuse("a rehearsal of more than three years is too long")
    if reach is not None and not (reach[0] <= from_utc_s and to_utc_s <= reach[1]):
        shown = " to ".join(
            datetime.fromtimestamp(s, zone).isoformat("T", "minutes") for s in reach
        )
        args.refuse(f"the weather of {args.weather} reaches from {shown}")
    return Span(from_utc_s, to_utc_s)


def _whole_hours(reach: tuple[float, float]) -> tuple[float, float]:
    from greenkeeper.rehearsal.run import LEAD_S

    first, last = -(-reach[0] // 3600.0) * 3600.0, reach[1] // 3600.0 * 3600.0
    # The first day is lived in and not counted, where there are days enough.
    return first + (LEAD_S if last - first >= 3.0 * LEAD_S else 0.0), last


def _season(settings: "Settings", record: "Record | None") -> tuple[float, float]:
    """The winter half of the year, in the hemisphere of the house."""
    from greenkeeper.rehearsal.stage import place_of

    latitude, _ = place_of(settings, record, settings.site.monthly_mean_c)
    begins, ends = _WINTER["south" if latitude < 0.0 else "north"]
    zone = settings.site.zone
    return (
        _day(begins).replace(tzinfo=zone).timestamp(), _day(ends).replace(tzinfo=zone).timestamp()
    )  # fmt: skip


def _fault_span(
    args: argparse.Namespace, settings: "Settings", record: "Record | None"
) -> "Fault | None":
    """What is to break, and when: on the coldest night, where nobody says."""
    from greenkeeper.rehearsal.faults import Fault

    if args.fault is None:
        return None
    if args.fault_at is not None:
        moment = args.fault_at
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=settings.site.zone)
        begins = moment.timestamp()
    else:
        season = _span(args, settings, record, None)
        weather = _stage(settings, record).weather
        hours = range(int(season.from_utc_s), int(season.to_utc_s), 3600)
        coldest = min(hours, key=lambda utc_s: weather.at(float(utc_s)).outdoor_c)
        begins = coldest - timedelta(hours=8).total_seconds()
    return Fault(args.fault, begins, begins + (args.fault_for or _BROKEN_S))
