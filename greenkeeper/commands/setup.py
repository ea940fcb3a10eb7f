"""`greenkeeper setup`: a settings file from plain questions, or from a file of answers.

Lives here: the terminal, and where the file goes. Does not live here: what is asked and
written (setup/), the hardware (setup_bench.py, setup_relay.py).
"""

import argparse
import os
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from greenkeeper.commands import shared
from greenkeeper.errors import GreenkeeperError

if TYPE_CHECKING:
    from collections.abc import Callable

    from greenkeeper.setup.answers import Answers, Begun

NAME = "setup"
HELP = """Write a settings file from a few plain questions.

It finds the probes on the bus and lets you name each by warming it in your hand,
tries each relay for a moment if you like, and asks what stands where. Settings are
written after the last answer, and none is ever overwritten. Until then the answers
are kept beside them (greenkeeper.answers.yaml), and the next start offers to go on.

A relay is closed for --seconds at most and is off at the end however that comes,
Ctrl-C and a lost terminal included. None is touched while the keeper runs.

Without a terminal, --answers takes them from a file and touches no relay:

  cautions: read        # hardware-notes/safety.md was read
  site: {name: lean-to, timezone: Europe/Brussels, outdoor_probe: outdoors}
  probes: {bench: 28-0316a2795a01, outdoors: 28-0316d2c3e4f5}
  outputs:
    heater: {pin: 17, on_level: high, power_w: 1500}
    fan: {pin: 23}
  zones:
    bench: {probes: [bench], heater: heater, heat_c: 5, fan: fan, cool_c: 26}
  plants:
    - {name: lemon, zone: bench, min_c: 5}
  tariff: {currency: EUR, per_kwh: 0.32}

cautions, site.name, probes and zones must be there. Where a plant has a minimum,
the tenderest one's decides in place of heat_c.

With --commission it goes through the sheet of tests before the first night
(hardware-notes/commissioning.md), beside the running keeper, which writes each result
into its journal. What was passed before is not asked again. Exit code 1: not all is.

examples:
  sudo greenkeeper setup
  sudo greenkeeper setup --commission
  greenkeeper setup --answers answers.yaml --out my-house.yaml"""

_TRIAL_S = 5.0
_LONGEST_TRIAL_S = 10.0  # as setup_relay.LONGEST_S, which is not imported for --help


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--answers", type=Path, metavar="FILE", help="ask nothing, read this")
    parser.add_argument(
        "--out",
        type=Path,
        default=shared.DEFAULT_SETTINGS,
        metavar="FILE",
        help=f"where the settings go (default: {shared.DEFAULT_SETTINGS})",
    )
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="the folder of the 1-Wire devices"
    )
    parser.add_argument(
        "--seconds",
        type=_trial_s,
        default=_TRIAL_S,
        metavar="S",
        help=f"a relay is closed so long at most (default: {_TRIAL_S:g})",
    )
    parser.add_argument(
        "--commission", action="store_true", help="go through the tests before the first night"
    )
    shared.add_settings_option(parser)
    shared.add_runtime_option(parser)


def _trial_s(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 1.0 <= seconds <= _LONGEST_TRIAL_S:
        raise argparse.ArgumentTypeError(f"1 to {_LONGEST_TRIAL_S:g} seconds are allowed")
    return seconds


def run(args: argparse.Namespace) -> int:
    """0: a file was written, or every test is passed. 1: otherwise."""
    if args.commission:
        return _commission(args)
    from greenkeeper.settings.faults import SettingsError
    from greenkeeper.settings.load import parse_placed
    from greenkeeper.setup.writing import settings_text

    _check_writable(args.out.parent)
    if args.answers is not None:
        from greenkeeper.setup.answers import read_answers

        answers = read_answers(args.answers)
    elif sys.stdin.isatty():
        answers = _asked(args)
    else:
        raise GreenkeeperError(
            "there is no terminal to ask on: give the answers in a file, --answers FILE "
            "(see greenkeeper setup --help)"
        )
    text = settings_text(answers, None if args.folder is None else str(args.folder.absolute()))
    try:
        parse_placed(text, f"the settings from these answers:\n{textwrap.indent(text, '    ')}\n")
    except SettingsError:
        if args.answers is None:  # a quarter of an hour of somebody's
            _keep_draft(args.out, text)
        raise
    written = write_beside(args.out, text)
    if args.answers is None:
        _answers_file(args.out).unlink(missing_ok=True)
    _tell(written, args.out)
    if args.answers is not None:
        _tell_absent(answers, _bus(args))
    return 0


def _check_writable(folder: Path) -> None:
    """Before a quarter of an hour is spent on answers. Raises GreenkeeperError."""
    if not folder.is_dir():
        raise GreenkeeperError(f"there is no folder {folder}: make it, or name a file with --out")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise GreenkeeperError(
            f"nothing can be written into {folder} by you: try with sudo, or name a file with --out"
        )


def _commission(args: argparse.Namespace) -> int:
    from greenkeeper.commands import setup_record
    from greenkeeper.setup.commissioning import TRIALS, walk

    if not sys.stdin.isatty():
        raise GreenkeeperError("the tests are gone through by a person, on a terminal")
    runtime = shared.runtime_folder(args)
    earlier = setup_record.earlier(args.settings)
    try:
        missing = walk(_Terminal(), setup_record.to_keeper(runtime), earlier)
    except EOFError:
        raise GreenkeeperError("nobody answers any more; what was answered is recorded") from None
    print(f"\n{len(TRIALS) - missing} of {len(TRIALS)} passed.")
    return 1 if missing else 0


def _asked(args: argparse.Namespace) -> "Answers":
    from greenkeeper import folders
    from greenkeeper.commands.setup_bench import RealBench
    from greenkeeper.setup.guide import Guide

    kept = _answers_file(args.out)
    begun = _begun(kept)
    bench = RealBench(_bus(args), args.runtime or folders.runtime_folder(None))
    try:
        guide = Guide(
            _Terminal(),
            bench,
            trial_s=args.seconds,
            timezone=_machine_zone(),
            begun=begun,
            keep=_keeper(kept),
        )
        return guide.answers()
    except EOFError:
        raise GreenkeeperError(f"nobody answers any more: {_what_is_kept(kept)}") from None
    except KeyboardInterrupt:
        print(f"\nLeft: {_what_is_kept(kept)}. Every relay that was tried is off.")
        raise
    finally:
        bench.close()


def _answers_file(out: Path) -> Path:
    return out.with_name(f"{out.stem}.answers.yaml")


def _begun(kept: Path) -> "Begun | None":
    """Raises GreenkeeperError: it is there, and makes no sense."""
    from greenkeeper.setup.answers import read_begun

    try:
        return read_begun(kept)
    except GreenkeeperError as error:
        raise GreenkeeperError(
            f"{error}\nThese are the answers of an earlier setup. Put that right, or begin anew:\n"
            f"  rm {kept}"
        ) from error


def _keeper(kept: Path) -> "Callable[[Begun], None]":
    """Writes the answers after every part: a lost terminal gives nobody time to."""
    from greenkeeper import files
    from greenkeeper.setup.answers import begun_text

    def keep(begun: "Begun") -> None:
        try:
            files.replace(kept, begun_text(begun), durable=True, mode=0o600)
        except OSError as error:
            raise GreenkeeperError(f"{kept} cannot be written: {error.strerror}") from error

    return keep


def _what_is_kept(kept: Path) -> str:
    if not kept.exists():
        return "nothing was written"
    return f"the settings are not written yet; the answers so far are in {kept}"


def _bus(args: argparse.Namespace) -> Path:
    from greenkeeper.settings.sensors import Onewire

    return args.folder or Path(Onewire.model_validate({}).folder)


def _tell_absent(answers: "Answers", bus: Path) -> None:
    """Somebody may prepare a card at a desk, so this is told and stops nothing."""
    absent = [name for name, rom in answers.probes.items() if not (bus / rom).exists()]
    if absent:
        print(f"Not on the bus of this machine now: {', '.join(absent)}")


class _Terminal:
    """greenkeeper.setup.talk.Talk on the terminal this runs on."""

    def say(self, *lines: str) -> None:
        print("\n".join(lines), flush=True)

    def ask(self, question: str, default: str = "") -> str:
        suggestion = f" [{default}]" if default else ""
        return input(f"{question}{suggestion}: ").strip() or default


def _machine_zone() -> str:
    """The machine's own time zone; UTC where it does not say."""
    try:
        place = Path("/etc/localtime").resolve().as_posix()
    except OSError:
        return "UTC"
    _, found, name = place.partition("/zoneinfo/")
    return name if found and "/" in name and not name.startswith("Etc/") else "UTC"


def write_beside(wanted: Path, text: str) -> Path:
    """Write where nothing is: at this path, or beside it under a new name. Returns where.

    Raises GreenkeeperError with the text in it, so that no answer is lost.
    """
    candidates = [wanted, *(_numbered(wanted, number) for number in range(1, 100))]
    try:
        for path in candidates:
            try:
                with path.open("x", encoding="utf-8") as file:
                    file.write(text)
            except FileExistsError:
                continue
            return path
    except OSError as error:
        raise GreenkeeperError(
            f"{wanted} cannot be written: {error.strerror}. Try with sudo, or name another file "
            f"with --out. So that nothing is lost, here it is:\n\n{text}"
        ) from error
    raise GreenkeeperError(f"beside {wanted} there are a hundred drafts: remove some. {text}")


def _keep_draft(wanted: Path, text: str) -> NoReturn:
    """Answers that hold one by one and not together. Raises GreenkeeperError: what is wrong."""
    from greenkeeper.settings.load import load

    kept = write_beside(wanted.with_name(f"{wanted.stem}.draft{wanted.suffix}"), text)
    _answers_file(wanted).unlink(missing_ok=True)
    try:
        load(kept)
    except GreenkeeperError as error:
        raise GreenkeeperError(
            f"your answers do not go together yet:\n{error}\n"
            f"They are kept in {kept}. Put right there what is named above, then:\n"
            f"  greenkeeper check {kept}\n"
            f"  mv {kept} {wanted}"
        ) from error
    raise GreenkeeperError(f"{kept} was written, and is in order: mv {kept} {wanted}")


def _numbered(path: Path, number: int) -> Path:
    return path.with_name(f"{path.stem}.new-{number}{path.suffix}")


def _tell(written: Path, wanted: Path) -> None:
    print(f"\nWritten, and found in order: {written}")
    if written != wanted:
        print(f"{wanted} was there already and stays as it was. To use the new one:")
        print(f"  mv {written} {wanted}")
    print(f"  greenkeeper check {written}         what was understood")
    if wanted == shared.DEFAULT_SETTINGS:
        print("  sudo systemctl enable --now greenkeeper")
    print("Before the first night: greenkeeper setup --commission")
