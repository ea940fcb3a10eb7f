"""What several commands need: the settings option and the way to the folders."""

import argparse
from pathlib import Path

DEFAULT_SETTINGS = Path("/etc/greenkeeper/greenkeeper.yaml")


def add_settings_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--settings",
        type=Path,
        default=DEFAULT_SETTINGS,
        metavar="FILE",
        help=f"the settings file (default: {DEFAULT_SETTINGS})",
    )


def runtime_folder(args: argparse.Namespace) -> Path:
    """--runtime, else where the settings say the keeper keeps its runtime files.

    Raises GreenkeeperError for settings that are there but faulty.
    """
    from greenkeeper import folders
    from greenkeeper.settings.load import load

    if args.runtime is not None:
        return Path(args.runtime)
    if args.settings == DEFAULT_SETTINGS and not args.settings.exists():
        return folders.runtime_folder(None)
    return folders.runtime_folder(load(args.settings))


def add_runtime_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--runtime",
        type=Path,
        metavar="DIR",
        help="the keeper's runtime folder (default: as the settings say)",
    )
