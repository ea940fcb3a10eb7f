"""`greenkeeper check`: every fault of a settings file at once, or what it was taken to say."""

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from greenkeeper.commands.shared import DEFAULT_SETTINGS

if TYPE_CHECKING:
    from greenkeeper.settings.faults import SettingsFault
    from greenkeeper.settings.load import Loaded

NAME = "check"
HELP = """Check a settings file before the keeper uses it.

Names every fault at once, each with its line, what was found and what is allowed.
Without faults it tells what was understood: who is kept where, and by what.
A remark is worth reading and stops nothing.

With --broker it also makes one real connection to the broker in the file, beside a
keeper that may be running, and names the first thing that stands in the way.
Exit code 1 then too.

examples:
  greenkeeper check my-house.yaml
  greenkeeper check --broker
  greenkeeper check --topics > topics.json
  greenkeeper check --schema > greenkeeper.schema.json"""


_BOLD, _WARN, _PLAIN = "\x1b[1m", "\x1b[33m", "\x1b[0m"


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "file",
        nargs="?",
        type=Path,
        default=DEFAULT_SETTINGS,
        metavar="FILE",
        help=f"the settings file (default: {DEFAULT_SETTINGS})",
    )
    parser.add_argument("--json", action="store_true", help="for machines")
    parser.add_argument(
        "--broker", action="store_true", help="connect to the broker once, and say what fails"
    )
    parser.add_argument(
        "--topics",
        action="store_true",
        help="write what is said and heard on the broker, as an AsyncAPI 3 document",
    )
    parser.add_argument(
        "--schema",
        action="store_true",
        help="write a JSON Schema, for editors that complete and check; reads no file",
    )


def run(args: argparse.Namespace) -> int:
    """0: no fault. 1: faults, or a broker that cannot be used."""
    from greenkeeper.settings.load import SettingsError, load_placed

    if args.schema:
        from greenkeeper.settings.json_schema import schema_json

        sys.stdout.write(schema_json())
        return 0
    try:
        loaded = load_placed(args.file)
    except SettingsError as error:
        report = _faulty_json(args.file, error.faults) if args.json else _faulty(error.faults)
        print(report)
        return 1
    if args.topics:
        from greenkeeper.commands import check_broker

        return check_broker.write_topics(loaded.settings)
    if args.broker:
        from greenkeeper.commands import check_broker

        return check_broker.run(loaded.settings, as_json=args.json)
    print(_sound_json(loaded) if args.json else _sound(loaded))
    return 0


def _faulty(faults: "tuple[SettingsFault, ...]") -> str:
    count = _counted(len(faults), "fault")
    verdict = f"{count}. The keeper uses nothing of this file until all is put right."
    return "\n".join([*map(str, faults), "", _painted(_WARN, verdict)])


def _sound(loaded: "Loaded") -> str:
    from greenkeeper import folders, learned_file
    from greenkeeper.commands import check_summary

    lines = [_painted(_BOLD, f"{loaded.file} can be used."), ""]
    kept = learned_file.read(folders.state_folder(loaded.settings) / learned_file.FILE_NAME).kept
    lines += check_summary.lines(loaded.settings, kept.learned)
    remarks = loaded.remarks()
    if remarks:
        lines += ["", _painted(_WARN, f"{_counted(len(remarks), 'remark')}, nothing wrong:")]
        lines += map(str, remarks)
    return "\n".join(lines)


def _faulty_json(file: Path, faults: "tuple[SettingsFault, ...]") -> str:
    return _json(file=str(file), ok=False, faults=faults, remarks=(), zones={})


def _sound_json(loaded: "Loaded") -> str:
    from greenkeeper.commands import check_summary

    zones = check_summary.data(loaded.settings)
    return _json(file=loaded.file, ok=True, faults=(), remarks=loaded.remarks(), zones=zones)


def _json(**fields: Any) -> str:
    for group in ("faults", "remarks"):
        fields[group] = [fault._asdict() for fault in fields[group]]
    return json.dumps(fields, indent=1)


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _painted(code: str, text: str) -> str:
    from greenkeeper.reports.screen import wants_colour

    return f"{code}{text}{_PLAIN}" if wants_colour(sys.stdout) else text
