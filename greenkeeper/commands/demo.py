"""`greenkeeper demo`: an invented house lives through a frosty night, in about a minute."""

import argparse
import os
import re
import shutil
import sys
import tempfile
from datetime import date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greenkeeper.daemon import Viewer
    from greenkeeper.journal.writer import JournalWriter
    from greenkeeper.model import Tick
    from greenkeeper.reports.screen import HourlyView, LiveView
    from greenkeeper.settings.schema import Settings
    from greenkeeper.status import StatusDocument

NAME = "demo"
HELP = """Watch an invented house live through a frosty night, with no hardware at all.

The very keeper that would run in your shed runs here: only the probes, the heater and
the clock are modelled. At the end it says what happened and where the journal lies.

example:
  greenkeeper demo --for 14h --speed 600"""

# The invented night begins here, in the demo house's own civil time: a January afternoon.
_BEGINS = datetime(2026, 1, 14, 15, 30)  # noqa: DTZ001 - its zone is the settings' own
_CARD_S = 30.0  # longer than this a card takes only if it hangs
_UNITS_S = {"s": 1.0, "m": 60.0, "min": 60.0, "h": 3600.0, "d": 86_400.0}


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--for",
        dest="for_s",
        type=_duration_s,
        default=_duration_s("18h"),
        metavar="TIME",
        help="how long to live there: 90min, 14h, 2d (default: 18h)",
    )
    parser.add_argument(
        "--speed",
        type=_speed,
        default=1500.0,
        metavar="N",
        help="seconds of the house in a second of yours; 0: as fast as it goes (default: 1500)",
    )
    parser.add_argument(
        "--settings", type=Path, metavar="FILE", help="another house, with modelled parts"
    )
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="where the journal goes (default: a new one)"
    )


def _duration_s(text: str) -> float:
    match = re.fullmatch(r"(\d+(?:\.\d+)?)(s|min|m|h|d)", text)
    if match is None or float(match[1]) == 0.0:
        raise argparse.ArgumentTypeError(f"'{text}' is no time; write 90min, 14h or 2d")
    return float(match[1]) * _UNITS_S[match[2]]


def _speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = -1.0
    if not 0.0 <= speed <= 1e6:
        raise argparse.ArgumentTypeError(f"'{text}' is no speed; write a number from 0 to 1000000")
    return speed


def run(args: argparse.Namespace) -> int:
    from greenkeeper.assembly import assemble
    from greenkeeper.clock import HandClock
    from greenkeeper.daemon import Keeper, Signals

    settings_file = args.settings or _shipped("demo.yaml")
    settings = _settings(settings_file, args.folder)
    begins = _BEGINS.replace(tzinfo=settings.site.zone)
    clock = HandClock(utc_s=begins.timestamp(), speed=args.speed or None)
    view = _view(args.for_s)
    viewer: Viewer = view
    signals = Signals(os._exit)
    start = clock.now()
    parts = assemble(settings_file, settings, clock)
    if parts.journal is not None:
        viewer = _Unhurried(view, parts.journal, settings.journal.batch_s)
    keeper = Keeper(parts, clock, viewer=viewer)
    signals.serve(keeper)
    keeper.run(until_s=start.mono_s + args.for_s)
    view.finish()
    _tell(settings, settings_file, start.utc_s, clock.now().utc_s)
    return 0


class _Unhurried:
    """A viewer that waits for the card once a batch: a demo's clock can outrun any card."""

    def __init__(self, viewer: "Viewer", journal: "JournalWriter", every_s: float) -> None:
        self._viewer = viewer
        self._journal = journal
        self._every_s = every_s
        self._next_s = 0.0

    def show(self, tick: "Tick", document: "StatusDocument") -> None:
        self._viewer.show(tick, document)
        if tick.now.mono_s >= self._next_s:
            self._next_s = tick.now.mono_s + self._every_s
            self._journal.settled(_CARD_S)


def _shipped(name: str) -> Path:
    """A file of config/: inside an installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "shipped" / "config" / name
    checkout = package.parent / "config" / name
    return installed if installed.exists() else Path(os.path.relpath(checkout))


def _settings(file: Path, folder: Path | None) -> "Settings":
    from greenkeeper.errors import GreenkeeperError
    from greenkeeper.settings.load import load
    from greenkeeper.settings.schema import Folders
    from greenkeeper.settings.switches import GpioOutput

    settings = load(file)
    real = any(isinstance(output, GpioOutput) for output in settings.outputs.values())
    if real or settings.enable is not None:
        # A demo's clock runs a thousand times too fast for a real relay.
        raise GreenkeeperError(f"{file} drives real relays; a demo needs modelled outputs")
    kept = folder or Path(tempfile.mkdtemp(prefix="greenkeeper-demo-"))
    folders = Folders(state=str(kept / "state"), runtime=str(kept / "runtime"))
    return settings.model_copy(update={"folders": folders, "broker": None})


def _view(for_s: float) -> "LiveView | HourlyView":
    from greenkeeper import logs
    from greenkeeper.reports import screen

    if sys.stdout.isatty():
        logs.set_up(open(os.devnull, "w"))  # noqa: SIM115 - open for the process's life
        screen.clear(sys.stdout)
        return screen.LiveView(sys.stdout, span_s=for_s)
    logs.set_up(sys.stderr, quiet=True)
    return screen.HourlyView(sys.stdout)


def _tell(settings: "Settings", settings_file: Path, from_utc_s: float, to_utc_s: float) -> None:
    from greenkeeper import folders
    from greenkeeper.journal.reader import Journal
    from greenkeeper.reports import night, night_sheet, words

    file = folders.journal_file(settings)
    with Journal(file) as journal:
        facts = night.facts(journal, settings, night.Span(from_utc_s, to_utc_s))
    timezone = settings.site.timezone
    title = f"{words.moment(from_utc_s, timezone)} to {words.moment(to_utc_s, timezone)}"
    print("\n".join(["", *night_sheet.one(facts, settings, title)]))
    print(f"\nThe journal of that time: {file}\n\nwhat to try next")
    program = _program()
    evening = _evening(from_utc_s, to_utc_s, settings.site.zone)
    for arguments, gives in (
        (f"lastnight --settings {settings_file} --file {file} --evening {evening}", ""),
        (f"journal summary --file {file}", ""),
        (f"journal export --table switchings --file {file}", ""),
        ("demo --for 3d --speed 0", "three such days, as fast as it goes"),
        ("probes", "what hangs on your own 1-Wire bus"),
        (f"check {_shipped('small.yaml')}", "the shortest settings that start"),
    ):
        print(f"  {program} {arguments}" + (f"\n      {gives}" if gives else ""))


def _evening(from_utc_s: float, to_utc_s: float, timezone: tzinfo) -> date:
    """Of the night that was lived, the last if there were several: that before today is none."""
    half_a_day = timedelta(hours=12)
    within = max(from_utc_s, to_utc_s - half_a_day.total_seconds())
    return (datetime.fromtimestamp(within, timezone) - half_a_day).date()


def _program() -> str:
    """How this program is called here: by its name, or by its place in a checkout."""
    if shutil.which("greenkeeper") is not None:
        return "greenkeeper"
    place = Path(sys.argv[0])
    return os.path.relpath(place) if place.is_absolute() else str(place)
