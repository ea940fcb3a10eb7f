"""How a survey of the 1-Wire bus looks to people: a sheet of 80 columns.

Lives here: the words and the layout of `greenkeeper probes`, as plain lines. Does not
live here: reading the bus (probes/survey.py).
"""

import textwrap
from collections.abc import Iterable, Iterator, Mapping
from itertools import count

from greenkeeper.model import Fault, Reading
from greenkeeper.probes.survey import Found, Survey
from greenkeeper.units import shown, shown_c

WIDTH = 80
MOVED_K = 0.5  # a hand moves a probe by many kelvin; a draught by less than this

# What to look at first, for each reason a probe may give. Common practice, no source.
ADVICE = {
    Fault.MISSING: "Check its plug and its three wires. A probe that is plugged in again shows "
    "within ten seconds.",
    Fault.CHECKSUM: "The cable is long, branched, or beside a mains or motor lead; on a long line "
    "2.2 kΩ between data and 3.3 V often helps where 4.7 kΩ does not.",
    Fault.POWER_ON: "Its supply fails for moments: check the 3.3 V and ground wires and joints.",
    Fault.ALL_ZERO: "The data wire touches ground, water is in a joint, or the resistor between "
    "data and 3.3 V is missing.",
    Fault.CONVERSION: "Its supply is too weak: check the 3.3 V and ground wires and joints.",
    Fault.UNREADABLE: "If it stays so, replace the probe; it may be of a kind this keeper does "
    "not know.",
}

_PARASITE = (
    "It feeds on the data wire (parasite supply): its 3.3 V wire is open, or joined to ground. "
    "Long or cold lines then fail; give it 3.3 V."
)

_ENABLE = """\
On a Raspberry Pi, add this line to /boot/firmware/config.txt (it is
/boot/config.txt before Raspberry Pi OS 12), and restart:

    dtoverlay=w1-gpio

The probes' data wire then belongs on BCM 4 (header pin 7), with a resistor of
4.7 kΩ between data and 3.3 V. Never connect a probe to 5 V.
"""

_NO_PROBE = (
    "The bus is there, but no probe answers on it. Check that the data wire is on the right pin "
    "(BCM 4, unless the dtoverlay line names another), that each probe has 3.3 V and ground, and "
    "that a resistor of 4.7 kΩ joins data and 3.3 V."
)


def lines(
    survey: Survey, names: Mapping[str, str] | None, changes: Mapping[str, float] | None = None
) -> list[str]:
    """The whole sheet.

    names: ROM -> name in the settings; None: there are no settings. changes: ROM ->
    kelvin since the watch began; None: no watch.
    """
    sheet: list[str] = []
    if survey.probes and not survey.trouble:
        sheet += [*_wrapped(f"1-Wire probes in {survey.folder}"), ""]
        sheet += _table(survey.probes, names, changes)
    for trouble in bus_troubles(survey):
        sheet += ["", *trouble] if sheet else trouble
    if survey.others:
        sheet += ["", *_wrapped(f"Not thermometers: {', '.join(survey.others)}")]
    return sheet + _snippet(survey, names)


def bus_troubles(survey: Survey) -> list[list[str]]:
    """What is wrong with the bus as a whole, as paragraphs of lines."""
    if survey.trouble:
        seen = f"There is no 1-Wire bus: {survey.folder} cannot be listed ({survey.trouble})."
        return [[*_wrapped(seen), "", *_ENABLE.splitlines()]]
    troubles = []
    if not survey.masters and not survey.probes:
        seen = f"{survey.folder} is there, but there is no bus in it."
        troubles.append([*_wrapped(seen), "", *_ENABLE.splitlines()])
    elif not survey.probes:
        troubles.append(_wrapped(_NO_PROBE))
    if survey.noise:
        made_up = ", ".join(survey.noise[:3])
        troubles.append(
            _wrapped(
                f"Noise on the bus looks like devices ({made_up}): the resistor between data and "
                "3.3 V is missing, or the data wire is open."
            )
        )
    return troubles


def all_well(survey: Survey) -> bool:
    return not bus_troubles(survey) and all(one.reading.fault is None for one in survey.probes)


def _table(
    probes: Iterable[Found],
    names: Mapping[str, str] | None,
    changes: Mapping[str, float] | None,
) -> list[str]:
    head = _row(" ", "ROM", "reads", None if changes is None else "moved", "bits", "supply")
    table = [head.rstrip() if names is None else f"{head}  name"]
    mover = _mover(changes or {})
    for probe in probes:
        moved = None if changes is None else _change(changes.get(probe.rom))
        mark = ">" if probe.rom == mover else " "
        row = _row(mark, probe.rom, _reads(probe), moved, str(probe.bits or "?"), _supply(probe))
        if names is not None:
            row += "  " + _cut(names.get(probe.rom, "-"), WIDTH - len(row) - 2)
        table += [row.rstrip(), *_remarks(probe)]
    if changes is not None and mover is None:
        table += ["", "Nothing has moved yet: hold one in your hand for a minute."]
    elif changes is not None:
        table += ["", "> has moved most since the start: is it the one in your hand?"]
    return table


def _row(mark: str, rom: str, reads: str, moved: str | None, bits: str, supply: str) -> str:
    middle = "" if moved is None else f"  {moved:>8}"
    return f"{mark} {rom:<15}  {reads:>10}{middle}  {bits:>4}  {supply:<8}"


def _reads(probe: Found) -> str:
    if probe.reading.fault is not None:
        return probe.reading.fault.value
    return "?" if probe.reading.temp_c is None else shown_c(probe.reading.temp_c)


def _supply(probe: Found) -> str:
    return {True: "own wire", False: "parasite", None: "?"}[probe.external_supply]


def _change(change_k: float | None) -> str:
    if change_k is None:
        return ""
    return f"{shown(change_k, signed=round(change_k, 1) != 0.0)} K"


def _mover(changes: Mapping[str, float]) -> str | None:
    """The probe that moved most, if any moved at all."""
    rom = max(changes, key=lambda rom: abs(changes[rom]), default=None)
    return rom if rom is not None and abs(changes[rom]) >= MOVED_K else None


def _remarks(probe: Found) -> list[str]:
    remarks = []
    fault = probe.reading.fault
    if fault is not None:
        seen = probe.reading.detail
        remarks.append(f"{seen[:1].upper()}{seen[1:]}. {ADVICE[fault]}")
    if probe.external_supply is False:
        remarks.append(_PARASITE)
    if probe.bits is not None and probe.bits < 12:
        remarks.append(
            f"It measures in steps of {probe.step_k:g} °C; 12 bits give steps of 0.0625 °C."
        )
    return [line for remark in remarks for line in _wrapped(remark, indent="      ")]


def _snippet(survey: Survey, names: Mapping[str, str] | None) -> list[str]:
    """Settings for every probe that has no name yet, ready to paste."""
    unnamed = [probe.rom for probe in survey.probes if probe.rom not in (names or {})]
    if not unnamed:
        return _absent(survey, names or {}, replaced=False)
    if names is None:
        head = ["For the settings; call each after the place where it hangs:", "", "probes:"]
    else:
        head = ["Not in the settings yet. Under 'probes:', named after their places:", ""]
    free = free_names(names)
    entries = [f"  {next(free)}: {{kind: onewire, rom: {rom}}}" for rom in unnamed]
    return [*_absent(survey, names or {}, replaced=True), "", *head, *entries]


def _absent(survey: Survey, names: Mapping[str, str], *, replaced: bool) -> list[str]:
    """The settings name it, and no bus shows it: said apart from what merely fails."""
    gone = [f"{names[p.rom]} ({p.rom})" for p in survey.probes if not p.bus and p.rom in names]
    if not gone or survey.trouble:
        return []
    text = f"In the settings, but not on the bus: {', '.join(gone)}."
    if replaced:
        text += (
            " If a probe was replaced, put the new one's id (below) beside the old name, which "
            "keeps its place in the zones and in the record. Its offset_k is another one."
        )
    return ["", *_wrapped(text)]


def free_names(names: Mapping[str, str] | None) -> Iterator[str]:
    """Names to offer for probes that have none: probe-1, probe-2 …, none that is taken."""
    taken = set((names or {}).values())
    return (name for name in (f"probe-{number}" for number in count(1)) if name not in taken)


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent,
        break_on_hyphens=False,
    )


def wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="    ", break_on_hyphens=False)


def now_c(reading: Reading) -> str:
    """What a probe under a check says now."""
    if reading.temp_c is not None:
        return exact_c(reading.temp_c)
    return "?" if reading.fault is None else reading.fault.value


def exact_c(temp_c: float) -> str:
    """Hundredths matter in a check."""
    return f"{shown(temp_c, 2)} °C"
