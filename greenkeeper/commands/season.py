"""`greenkeeper season`: what the house costs to heat, and what would make it cheaper."""

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from greenkeeper.commands import shared

if TYPE_CHECKING:
    from greenkeeper.commands.journal_output import Progress
    from greenkeeper.commands.season_switching import Told
    from greenkeeper.house.seasonal import Climate
    from greenkeeper.reports.season_house import Held
    from greenkeeper.settings.schema import Settings

NAME = "season"
_SWITCHING_SHARE = 0.7  # of all the work
HELP = """What the house costs to heat, and what would make it cheaper.

By month, in kWh and in money; what each improvement in the settings saves, alone and
together, and when it has paid for itself; what each degree costs and which plant it is
for; what heat in proportion would save against a plain switch of 1 K, from a few days
that are rehearsed for it; whether the heater is enough for the coldest night; and how
sure all that is. It goes by the settings' group house.

The weather comes from a file: EPW, TMY3, a CSV of hours (time,outdoor_c,...), or a
CSV of days (date,low_c,high_c) as a maximum-minimum thermometer tells them. Without a
file it comes from the settings' site.monthly_mean_c.

--sheet shows instead, step by step, what each surface of the house loses and why.

Exit code 1 when the heater is too small for the coldest night.

examples:
  greenkeeper season --settings my-house.yaml --weather typical-year.epw
  greenkeeper season --settings my-house.yaml --picture season.png
  greenkeeper season --settings my-house.yaml --sheet"""


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.add_argument("--weather", type=Path, metavar="FILE", help="a weather file")
    parser.add_argument("--sheet", action="store_true", help="the heat-loss sheet, step by step")
    parser.add_argument(
        "--zone", metavar="ZONE", help="the zone to hold (default: the one most strongly heated)"
    )
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="draw it as well, as PNG or SVG"
    )
    parser.add_argument("--json", action="store_true", help="for programs")
    parser.set_defaults(refuse=parser.error)


def run(args: argparse.Namespace) -> int:
    """0: fine. 1: the heater is too small."""
    from greenkeeper.reports import picture, season_house
    from greenkeeper.settings.load import load

    if args.sheet and args.weather is not None:
        args.refuse("the sheet needs no weather: leave out --weather or --sheet")
    if args.sheet and args.picture is not None:
        args.refuse("the picture shows the season: leave out --picture or --sheet")
    if args.picture is not None:
        picture.checked(args.picture)
    settings = load(args.settings)
    who = season_house.held(settings, args.zone)
    spare = _sheet(settings, who, args) if args.sheet else _season(settings, who, args)
    return int(spare is not None and spare < 0.0)


def _sheet(settings: "Settings", who: "Held", args: argparse.Namespace) -> float | None:
    from greenkeeper.reports import season_sheet

    data = season_sheet.data(settings, who)
    _tell(args, data, list(season_sheet.lines(settings, who)))
    spare: float | None = data["heater"]["spare"]
    return spare


def _season(settings: "Settings", who: "Held", args: argparse.Namespace) -> float | None:
    from greenkeeper.commands.journal_output import Progress
    from greenkeeper.reports import (
        picture,
        season,
        season_climate,
        season_data,
        season_house,
        season_picture,
        season_words,
    )

    sheet = season_house.described(settings)
    with Progress("working it out", quiet=args.json) as progress:
        weather = None if args.weather is None else season_climate.read_file(args.weather)
        climate = season_climate.climate(settings, sheet, weather)
        switching = _switching(settings, who, climate, progress)
        found = season.facts(
            settings, who, climate,
            lambda done: progress.share(_SWITCHING_SHARE + (1.0 - _SWITCHING_SHARE) * done),
            switching.excesses,
        )  # fmt: skip
    if args.picture is not None:
        picture.save(season_picture.drawn(found, settings.site.name), args.picture)
    lines = list(season_words.lines(found, settings))
    if switching.trouble:
        why = f"What heat in proportion would save cannot be told: {switching.trouble}."
        lines += ["", *season_words.wrapped(why)]
    _tell(args, season_data.data(found, settings), lines)
    return found.heater.spare


def _switching(
    settings: "Settings", who: "Held", climate: "Climate", progress: "Progress"
) -> "Told":
    from greenkeeper import folders, learned_file
    from greenkeeper.commands import season_switching

    learned = learned_file.read(folders.state_folder(settings) / learned_file.FILE_NAME).kept
    return season_switching.told(
        settings, who, climate, learned.learned,
        lambda done: progress.share(_SWITCHING_SHARE * done),
    )  # fmt: skip


def _tell(args: argparse.Namespace, data: dict[str, Any], lines: list[str]) -> None:
    print(json.dumps(data, indent=1) if args.json else "\n".join(lines))
