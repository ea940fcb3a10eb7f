"""The part of `greenkeeper probes` about chips that the kernel reads by itself.

Lives here: what the settings say of them, and how they look to people and programs. Does
not live here: reading them (probes/chip_survey.py), and the 1-Wire bus (probes_sheet.py).
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import count
from typing import TYPE_CHECKING, Any, NamedTuple

from greenkeeper.units import shown_c, shown_pct

if TYPE_CHECKING:
    from greenkeeper.model import HumidityReading, Reading
    from greenkeeper.probes.chip_survey import FoundChip
    from greenkeeper.probes.chips import Wanted
    from greenkeeper.settings.schema import Settings


class KnownChips(NamedTuple):
    """The settings' probes and hygrometers of that kind: name -> which chip is meant."""

    probes: "Mapping[str, Wanted]"
    hygrometers: "Mapping[str, Wanted]"
    taken: frozenset[str]  # every name the settings use already


def known_chips(settings: "Settings | None") -> KnownChips:
    if settings is None:
        return KnownChips({}, {}, frozenset())
    from greenkeeper.probes.chips import Wanted
    from greenkeeper.settings.damp import KernelHygrometer
    from greenkeeper.settings.sensors import KernelProbe

    return KnownChips(
        {
            name: Wanted(each.chip, each.at, each.channel)
            for name, each in settings.probes.items()
            if isinstance(each, KernelProbe)
        },
        {
            name: Wanted(each.chip, each.at, each.channel)
            for name, each in settings.hygrometers.items()
            if isinstance(each, KernelHygrometer)
        },
        frozenset({*settings.probes, *settings.hygrometers}),
    )


def absent(found: "Sequence[FoundChip]", known: KnownChips) -> list[str]:
    """The settings' names whose chip is not there."""
    temps = [each.wanted for each in found if each.temperature is not None]
    humids = [each.wanted for each in found if each.humidity is not None]
    gone = [name for name, wanted in known.probes.items() if not _any(wanted, temps)]
    return gone + [name for name, wanted in known.hygrometers.items() if not _any(wanted, humids)]


def lines(found: "Sequence[FoundChip]", known: KnownChips) -> list[str]:
    """This part of the sheet; empty where there is nothing to say."""
    gone = absent(found, known)
    if not found and not gone:
        return []
    sheet = ["Chips that the kernel reads", ""]
    if found:
        sheet.append(_row("chip", "at", "reads", "damp", "name").rstrip())
    for chip in found:
        sheet.append(_chip_row(chip, known))
        sheet += _troubles(chip)
    if gone:
        sheet += ["", f"In the settings, but not shown by the kernel: {', '.join(gone)}."]
    return [*sheet, *_snippet(found, known)]


def document(found: "Sequence[FoundChip]", known: KnownChips) -> list[dict[str, Any]]:
    """The same for programs; °C, per cent, null for unknown."""
    return [
        {
            "chip": chip.wanted.name,
            "at": chip.wanted.at,
            "channel": chip.wanted.channel,
            "names": _names(chip, known),
            "temp_c": None if chip.temperature is None else chip.temperature.temp_c,
            "rh_pct": None if chip.humidity is None else chip.humidity.rh_pct,
            "faults": [text.strip() for text in _troubles(chip)],
        }
        for chip in found
    ]


def _row(chip: str, at: str, reads: str, damp: str, name: str) -> str:
    return f"  {chip:<15}  {at:<15}  {reads:>10}  {damp:>9}  {name}"


def _chip_row(chip: "FoundChip", known: KnownChips) -> str:
    number = "" if chip.wanted.channel is None else f" ({chip.wanted.channel})"
    names = ", ".join(_names(chip, known)) or "-"
    reads = "" if chip.temperature is None else _reads(chip.temperature, chip.temperature.temp_c)
    damp = ""
    if chip.humidity is not None:
        rh_pct = chip.humidity.rh_pct
        damp = chip.humidity.fault or "?" if rh_pct is None else shown_pct(rh_pct)
    return _row(f"{chip.wanted.name}{number}", chip.wanted.at or "?", reads, damp, names)[:80]


def _reads(reading: "Reading", temp_c: float | None) -> str:
    return str(reading.fault or "?") if temp_c is None else shown_c(temp_c)


def _troubles(chip: "FoundChip") -> list[str]:
    said: list[Reading | HumidityReading | None] = [chip.temperature, chip.humidity]
    details = dict.fromkeys(each.detail for each in said if each is not None and each.fault)
    return [f"      {detail[:1].upper()}{detail[1:]}." for detail in details]


def _names(chip: "FoundChip", known: KnownChips) -> list[str]:
    names = []
    if chip.temperature is not None:
        names += [name for name, each in known.probes.items() if _means(each, chip.wanted)]
    if chip.humidity is not None:
        names += [name for name, each in known.hygrometers.items() if _means(each, chip.wanted)]
    return names


def _any(wanted: "Wanted", there: "list[Wanted]") -> bool:
    return any(_means(wanted, each) for each in there)


def _means(wanted: "Wanted", there: "Wanted") -> bool:
    return (
        wanted.name == there.name
        and wanted.at in (None, there.at)
        and (wanted.channel or None) == (there.channel or None)
    )


def _snippet(found: "Sequence[FoundChip]", known: KnownChips) -> list[str]:
    """Settings for every chip that has no name yet, ready to paste."""
    new = [chip for chip in found if not _names(chip, known)]
    if not new:
        return []
    probes, damps = _free("chip", known), _free("damp", known)
    offered: dict[str, list[str]] = {"probes": [], "hygrometers": []}
    for chip in new:
        fields = f"kind: kernel, chip: {chip.wanted.name}, at: {chip.wanted.at}"
        if chip.wanted.channel is not None:
            fields += f", channel: {chip.wanted.channel}"
        beside = ""
        if chip.temperature is not None:
            name = next(probes)
            beside = f", beside: {name}"
            offered["probes"].append(f"  {name}: {{{fields}}}")
        if chip.humidity is not None:
            offered["hygrometers"].append(f"  {next(damps)}: {{{fields}{beside}}}")
    head = ["", "For the settings; call each after the place where it hangs:", ""]
    return head + [
        line
        for section, entries in offered.items()
        if entries
        for line in (f"{section}:", *entries)
    ]


def _free(stem: str, known: KnownChips) -> Iterator[str]:
    return (name for n in count(1) if (name := f"{stem}-{n}") not in known.taken)
