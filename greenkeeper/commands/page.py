"""`greenkeeper page`: what a phone shows of the house."""

import argparse
import sys
import time
from pathlib import Path

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError

NAME = "page"
HELP = """Show the house to a browser: how things are, the nights, the outlook, the season.

It can be looked at and nothing more: no command can be given from it, and the keeper does
not know of it. It reads the status file, the journal and the outlooks, and serves
them where page: in the settings says; without that to this machine alone.

Never lead it to the internet by a rule in your router. From outside come in by a tunnel
(a VPN).

examples:
  greenkeeper page
  greenkeeper page --address 0.0.0.0"""


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    shared.add_runtime_option(parser)
    parser.add_argument("--file", type=Path, help="the journal (default: as the settings say)")
    parser.add_argument("--address", help="where to listen (default: as the settings say)")
    parser.add_argument("--port", type=_port, help="and on which port (likewise)")


def _port(text: str) -> int:
    if not text.isdecimal() or not 0 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"'{text}': a whole number from 0 (any) to 65535")
    return int(text)


def run(args: argparse.Namespace) -> int:
    try:
        from greenkeeper.page import gate, server
        from greenkeeper.page.app import application
        from greenkeeper.page.sources import Sources
    except ImportError as error:
        raise GreenkeeperError(
            f"the page needs libraries that are not here ({error.name}): "
            "pip install 'greenkeeper[page]'"
        ) from error
    from greenkeeper import logs

    sources = Sources(args.settings, time.time, runtime=args.runtime, journal=args.file)
    settings, _ = sources.settings()
    page = settings.page
    word = None if page.access_word_file is None else gate.read_word(page.access_word_file)
    port = page.port if args.port is None else args.port
    logs.set_up(sys.stderr, quiet=True)
    with server.listening(args.address or page.address, port) as sock:
        host, port = sock.getsockname()[:2]
        print(f"http://{f'[{host}]' if ':' in host else host}:{port}/", flush=True)
        server.serve(gate.Gate(application(sources), names=page.names, word=word), sock)
    return 0
