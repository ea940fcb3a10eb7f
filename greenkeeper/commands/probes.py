"""`greenkeeper probes`: what hangs on the 1-Wire bus and which one is which; and chips."""

import argparse
import json
import sys
import threading
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from greenkeeper.commands import probes_chips, shared

if TYPE_CHECKING:
    from greenkeeper.clock import Clock
    from greenkeeper.commands.probes_rounds import Subject
    from greenkeeper.probes.chip_survey import FoundChip
    from greenkeeper.probes.chips import Folders
    from greenkeeper.probes.survey import Found, Survey, Surveyor
    from greenkeeper.settings.schema import Settings

NAME = "probes"
HELP = """What hangs on the 1-Wire bus now, with what each probe reads, ready to paste;
and the temperature and humidity chips that the kernel reads by itself.

With --watch it stays: warm one with your hand and see which moves. It may run
beside a running keeper. Exit code 1 when a probe or the bus is not well.

With --ice it waits until each probe has come to rest in crushed ice and water,
and gives its offset_k for the settings, or says why there is none.

With --lag it watches a probe cool that your warm hand has let go, and says how far
it is behind the air: with that, heat in proportion wastes less.

examples:
  greenkeeper probes
  greenkeeper probes --watch --settings my-house.yaml
  greenkeeper probes --ice bench-left bench-right
  greenkeeper probes --lag bench-left"""

_WATCH_EVERY_S = 1.0
_SLOW_FROM = 3  # probes, at 0.75 s each: from here on a bar shows that it goes on
_BAR = 20  # columns


def configure(parser: argparse.ArgumentParser) -> None:
    shared.add_settings_option(parser)
    parser.add_argument(
        "--folder",
        type=Path,
        metavar="DIR",
        help="look at the 1-Wire devices in this folder, and at no chips",
    )
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--watch", action="store_true", help="stay, and show which one moves")
    how.add_argument(
        "--ice",
        nargs="*",
        metavar="NAME",
        help="check these in ice, by name or id; without a name, all there are",
    )
    how.add_argument(
        "--lag",
        nargs="*",
        metavar="NAME",
        help="watch these cool, by name or id; without a name, all there are",
    )
    parser.add_argument("--json", action="store_true", help="for programs; one line a look")


def run(args: argparse.Namespace) -> int:
    from greenkeeper.clock import SystemClock
    from greenkeeper.probes.survey import Surveyor

    known = _known(args)
    clock = SystemClock()
    surveyor = Surveyor(known.folder, clock)
    try:
        if args.ice is not None:
            return _ice(surveyor, known, clock, args.ice, as_json=args.json)
        if args.lag is not None:
            return _lag(surveyor, known, clock, args.lag, as_json=args.json)
        if not args.watch:
            return _once(surveyor, known, clock, as_json=args.json)
        for survey, changes in looks(surveyor, known, clock, threading.Event()):
            _show(survey, known, changes, as_json=args.json)
        return 0
    finally:
        surveyor.close()


class Known(NamedTuple):
    """What the settings say. names: ROM -> name; None when there are no settings."""

    folder: Path
    names: Mapping[str, str] | None
    offsets_k: Mapping[str, float] = MappingProxyType({})  # ROM -> as the settings have it
    chip_folders: "Folders | None" = None  # None: chips are not looked at
    chips: probes_chips.KnownChips = probes_chips.known_chips(None)


def looks(
    surveyor: "Surveyor", known: Known, clock: "Clock", stop: threading.Event
) -> "Iterator[tuple[Survey, dict[str, float]]]":
    """One survey after another, each with the kelvin every probe has moved since the first."""
    from greenkeeper.probes.survey import changes_k

    first: dict[str, float] = {}
    while not stop.is_set():
        survey = surveyor.look(known.names or ())
        for probe in survey.probes:
            if probe.reading.temp_c is not None:
                first.setdefault(probe.rom, probe.reading.temp_c)
        yield survey, changes_k(first, survey)
        clock.wait_until(clock.mono_s() + _WATCH_EVERY_S, stop)


def document(
    survey: "Survey", known: Known, changes: Mapping[str, float] | None = None
) -> dict[str, Any]:
    """The survey for programs; temperatures in °C, changes in kelvin, null for unknown."""
    from greenkeeper.commands.probes_sheet import all_well

    names = known.names or {}
    return {
        "folder": str(survey.folder),
        "trouble": survey.trouble or None,
        "buses": list(survey.masters),
        "probes": [_entry(probe, names, changes) for probe in survey.probes],
        "noise": list(survey.noise),
        "others": list(survey.others),
        "well": all_well(survey),
    }


def _entry(
    probe: "Found", names: Mapping[str, str], changes: Mapping[str, float] | None
) -> dict[str, Any]:
    reading = probe.reading
    entry: dict[str, Any] = {
        "rom": probe.rom,
        "name": names.get(probe.rom),
        "bus": probe.bus,
        "temp_c": reading.temp_c,
        "fault": None if reading.fault is None else reading.fault.value,
        "detail": reading.detail or None,
        "bits": probe.bits,
        "external_supply": probe.external_supply,
    }
    if changes is not None:
        entry["change_k"] = changes.get(probe.rom)
    return entry


def _known(args: argparse.Namespace) -> Known:
    from greenkeeper.probes.build import folders_of
    from greenkeeper.settings.sensors import Chips, Onewire, OnewireProbe

    settings = _settings(args.settings)
    onewire = Onewire.model_validate({}) if settings is None else settings.onewire
    folder = Path(onewire.folder) if args.folder is None else args.folder
    chips = Chips.model_validate({}) if settings is None else settings.chips
    chip_folders = folders_of(chips) if args.folder is None else None
    if settings is None:
        return Known(folder, None, chip_folders=chip_folders)
    wired = [(name, p) for name, p in settings.probes.items() if isinstance(p, OnewireProbe)]
    names = {probe.rom: name for name, probe in wired}
    offsets_k = {probe.rom: probe.offset_k for _, probe in wired}
    return Known(folder, names, offsets_k, chip_folders, probes_chips.known_chips(settings))


def _settings(file: Path) -> "Settings | None":
    """None when nobody asked for settings and there are none that could be used.

    Raises GreenkeeperError for a file that was asked for and has faults.
    """
    from greenkeeper.errors import GreenkeeperError
    from greenkeeper.settings.load import load

    usual = file == shared.DEFAULT_SETTINGS
    if usual and not file.exists():
        return None
    try:
        return load(file)
    except GreenkeeperError:
        if not usual:
            raise
        print(f"{file} has faults, so no names are shown: see greenkeeper check", file=sys.stderr)
        return None


def _once(surveyor: "Surveyor", known: Known, clock: "Clock", *, as_json: bool) -> int:
    from greenkeeper.commands.probes_sheet import all_well

    survey = surveyor.look(known.names or (), _bar)
    chips = _chips(known, clock)
    well = all(chip.well for chip in chips) and not probes_chips.absent(chips, known.chips)
    # Whoever has chips and names no 1-Wire probe needs no bus.
    busless = bool(chips) and not known.names and not survey.probes and not survey.noise
    well = well and (busless or all_well(survey))
    if as_json:
        said = {**document(survey, known), "well": well}
        said["chips"] = probes_chips.document(chips, known.chips)
        print(json.dumps(said, ensure_ascii=False), flush=True)
        return 0 if well else 1
    if not busless:
        _show(survey, known, None, as_json=False)
    lines = probes_chips.lines(chips, known.chips)
    if lines:
        print("\n".join(lines if busless else ["", *lines]))
    return 0 if well else 1


def _chips(known: Known, clock: "Clock") -> "list[FoundChip]":
    from greenkeeper.probes import chip_survey

    return [] if known.chip_folders is None else chip_survey.look(known.chip_folders, clock)


def _ice(
    surveyor: "Surveyor", known: Known, clock: "Clock", wanted: list[str], *, as_json: bool
) -> int:
    from greenkeeper.commands import probes_ice, probes_ice_sheet

    subjects = _subjects(surveyor, known, wanted)
    if not subjects:
        return _once(surveyor, known, clock, as_json=as_json)  # says what is wrong with the bus
    if not as_json:
        print(probes_ice_sheet.head([each.word for each in subjects]), flush=True)

    def progress(results: list[probes_ice.Checked], taken_s: float) -> None:
        _line(probes_ice_sheet.meanwhile(results, taken_s))

    results = probes_ice.check(surveyor, subjects, clock, progress)
    lines = probes_ice_sheet.lines(results, known.names)
    return _ended(probes_ice.document(results), lines, as_json=as_json)


def _lag(
    surveyor: "Surveyor", known: Known, clock: "Clock", wanted: list[str], *, as_json: bool
) -> int:
    from greenkeeper.commands import probes_lag, probes_lag_sheet

    subjects = _subjects(surveyor, known, wanted)
    if not subjects:
        return _once(surveyor, known, clock, as_json=as_json)
    if not as_json:
        print(probes_lag_sheet.head([each.word for each in subjects]), flush=True)

    def progress(results: list[probes_lag.Watched], taken_s: float) -> None:
        _line(probes_lag_sheet.meanwhile(results, taken_s))

    results = probes_lag.watch(surveyor, subjects, clock, progress)
    lines = probes_lag_sheet.lines(results)
    return _ended(probes_lag.document(results), lines, as_json=as_json)


def _ended(document: dict[str, Any], lines: list[str], *, as_json: bool) -> int:
    """What came of a check that took its time; its exit code."""
    _line("")
    print(json.dumps(document, ensure_ascii=False) if as_json else "\n".join(lines))
    return 0 if document["well"] else 1


def _subjects(surveyor: "Surveyor", known: Known, wanted: list[str]) -> "list[Subject]":
    """The probes to check; none where nothing is on the bus."""
    from greenkeeper.commands import probes_rounds

    named = {
        rom: probes_rounds.Subject(rom, name, known.offsets_k.get(rom))
        for rom, name in (known.names or {}).items()
    }
    on_the_bus = surveyor.roms()
    subjects = probes_rounds.subjects(wanted, named, on_the_bus)
    return subjects if on_the_bus else []


def _show(
    survey: "Survey", known: Known, changes: Mapping[str, float] | None, *, as_json: bool
) -> None:
    from greenkeeper.commands import probes_sheet
    from greenkeeper.reports import screen

    if as_json:
        print(json.dumps(document(survey, known, changes), ensure_ascii=False), flush=True)
        return
    lines = probes_sheet.lines(survey, known.names, changes)
    if changes is None:
        print("\n".join(lines))
    elif sys.stdout.isatty():
        screen.redraw(sys.stdout, [*lines, "", "Ctrl-C to leave"])
    else:
        print("\n".join([*lines, ""]), flush=True)


def _bar(done: int, total: int) -> None:
    """How far the reading is, wiped when it is over."""
    if total < _SLOW_FROM:
        return
    filled = _BAR * done // total
    bar = f"reading {done + 1} of {total}  [{'=' * filled}{' ' * (_BAR - filled)}]"
    _line(bar if done < total else "")


def _line(text: str) -> None:
    """On a terminal: one line, in place of the one before."""
    if sys.stderr.isatty():
        sys.stderr.write("\r\x1b[K" + text)
        sys.stderr.flush()
