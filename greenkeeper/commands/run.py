"""`greenkeeper run`: keep the house until told to stop."""

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.commands import shared

if TYPE_CHECKING:
    from greenkeeper.reports.screen import LiveView

NAME = "run"
HELP = """Keep the house: read the probes, switch the outputs, until told to stop.

On a terminal it shows how things are; elsewhere it writes log lines. TERM or Ctrl-C
stops it with every output off; HUP makes it read its settings again.

example:
  greenkeeper run --settings my-house.yaml"""


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.add_argument(
        "--log", action="store_true", help="write log lines on a terminal too, no living view"
    )


def run(args: argparse.Namespace) -> int:
    from greenkeeper.assembly import assemble, reassemble
    from greenkeeper.clock import SystemClock
    from greenkeeper.daemon import Keeper, Signals
    from greenkeeper.notify import Notifier
    from greenkeeper.settings.load import load

    settings_file = Path(args.settings).absolute()
    settings = load(settings_file)
    viewer = _prepare_output(log_lines=args.log)
    clock = SystemClock(trusted=settings.site.clock == "trusted")
    signals = Signals(os._exit)
    parts = assemble(settings_file, settings, clock)
    keeper = Keeper(parts, clock, rebuild=reassemble, notifier=Notifier(), viewer=viewer)
    signals.serve(keeper)
    keeper.run()
    return 0


def _prepare_output(*, log_lines: bool) -> "LiveView | None":
    from greenkeeper import logs

    if log_lines or not sys.stdout.isatty():
        logs.set_up(sys.stderr)
        return None
    from greenkeeper.reports import screen  # memory that a service need not spend

    # The board shows every event itself; log lines would tear it.
    logs.set_up(open(os.devnull, "w"))  # noqa: SIM115 - open for the process's life
    screen.clear(sys.stdout)
    return screen.LiveView(sys.stdout)
