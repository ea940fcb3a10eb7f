"""`greenkeeper season`: what the house loses, and what its heater must be able to do."""

import argparse
import json

from greenkeeper.commands import shared

NAME = "season"
HELP = """What the house costs to heat, and what would make it cheaper.

The heat-loss sheet shows every step: how large each surface of the house is, what it lets
through and why, what that adds up to, and whether the heater is enough for the coldest
night. It goes by the settings' group house.

Exit code 1 when the heater is too small for the coldest night.

examples:
  greenkeeper season --sheet --settings my-house.yaml
  greenkeeper season --sheet --json"""


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.add_argument(
        "--sheet", action="store_true", required=True, help="the heat-loss sheet, step by step"
    )
    parser.add_argument(
        "--zone", metavar="ZONE", help="the zone to hold (default: the one most strongly heated)"
    )
    parser.add_argument("--json", action="store_true", help="for programs")


def run(args: argparse.Namespace) -> int:
    """0: fine. 1: the heater is too small."""
    from greenkeeper.reports import season_house, season_sheet
    from greenkeeper.settings.load import load

    settings = load(args.settings)
    who = season_house.held(settings, args.zone)
    data = season_sheet.data(settings, who)
    if args.json:
        print(json.dumps(data, indent=1))
    else:
        print("\n".join(season_sheet.lines(settings, who)))
    spare = data["heater"]["spare"]
    return int(spare is not None and spare < 0.0)
