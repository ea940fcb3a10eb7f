"""What `greenkeeper journal` shows: the summary and the verdict of a check.

Lives here: layout in eighty columns, and the facts behind it for --json. Does not live
here: asking the journal (journal/reader.py) and judging it (journal/check.py).
"""

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TypedDict

from greenkeeper.journal.answers import Extreme
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import DAY_S, HOUR_S, utc_text
from greenkeeper.units import shown_c

WIDTH = 80
_NAME = 22


class ProbeFacts(TypedDict):
    lowest_c: float
    lowest_utc: str
    highest_c: float
    highest_utc: str


class OutputFacts(TypedDict):
    on_s: float | None
    switchings_on: int
    energy_kwh: float | None


class Facts(TypedDict):
    file: str
    site: str
    from_utc: str | None  # None: nothing is recorded
    to_utc: str | None
    days: float
    starts: int
    probes: dict[str, ProbeFacts | None]
    outputs: dict[str, OutputFacts]
    events: int


def facts(journal: Journal, from_utc_s: float, to_utc_s: float) -> Facts:
    """All there is to tell of a span; of an empty one, that it is empty."""
    span = from_utc_s, to_utc_s
    empty = from_utc_s >= to_utc_s
    lows, highs = journal.lows(*span), journal.highs(*span)
    started_on = [each.output for each in journal.switchings(*span) if each.on]
    return {
        "file": str(journal.file),
        "site": journal.site(),
        "from_utc": None if empty else utc_text(from_utc_s),
        "to_utc": None if empty else utc_text(to_utc_s),
        "days": (to_utc_s - from_utc_s) / DAY_S,
        "starts": sum(from_utc_s <= run.started_utc_s < to_utc_s for run in journal.runs()),
        "probes": {
            name: _probe(lows[name], highs[name]) if name in lows else None
            for name in journal.probes()
        },
        "outputs": {
            name: {
                "on_s": journal.on_seconds(name, *span),
                "switchings_on": started_on.count(name),
                "energy_kwh": journal.energy_kwh(name, *span),
            }
            for name in journal.outputs()
        },
        "events": len(journal.events(*span)),
    }


def _probe(low: Extreme, high: Extreme) -> ProbeFacts:
    return {
        "lowest_c": low.temp_c,
        "lowest_utc": utc_text(low.utc_s),
        "highest_c": high.temp_c,
        "highest_utc": utc_text(high.utc_s),
    }


def lines(told: Facts) -> list[str]:
    """The summary for people."""
    head = f"{told['site']}  {told['file']}"
    if told["from_utc"] is None or told["to_utc"] is None:
        return [head, "nothing is recorded"]
    return [
        head,
        f"{_short(told['from_utc'])} to {_short(told['to_utc'])} UTC, {told['days']:.1f} days",
        f"{_count(told['starts'], 'start')} of the keeper, {_count(told['events'], 'event')}",
        "",
        f"{'probe':<{_NAME}}{'lowest':>10}  {'at (UTC)':<16}{'highest':>12}  at (UTC)",
        *(line for name, probe in told["probes"].items() for line in _probe_lines(name, probe)),
        "",
        f"{'output':<{_NAME}}{'on':>10}{'switched on':>16}{'energy':>14}",
        *(line for name, output in told["outputs"].items() for line in _output_lines(name, output)),
    ]


def _probe_lines(name: str, probe: ProbeFacts | None) -> list[str]:
    if probe is None:
        return _row(name, f"{'no measurement':>18}")
    return _row(
        name,
        f"{shown_c(probe['lowest_c']):>10}  {_short(probe['lowest_utc']):<16}"
        f"{shown_c(probe['highest_c']):>12}  {_short(probe['highest_utc'])}",
    )


def _output_lines(name: str, output: OutputFacts) -> list[str]:
    on = "not watched" if output["on_s"] is None else f"{output['on_s'] / HOUR_S:.1f} h"
    energy = output["energy_kwh"]
    shown = "power not set" if energy is None else f"{energy:.1f} kWh"
    return _row(name, f"{on:>10}{output['switchings_on']:>16}{shown:>14}")


def _row(name: str, rest: str) -> list[str]:
    """A name too long for its column gets a line of its own."""
    if len(name) >= _NAME:
        return [name, " " * _NAME + rest]
    return [f"{name:<{_NAME}}{rest}"]


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _short(utc: str) -> str:
    """'2031-01-14T05:40:00Z' as '2031-01-14 05:40'."""
    return utc[:16].replace("T", " ")


def verdict(file: Path, found: Sequence[str]) -> list[str]:
    """What a check came to, for people."""
    if not found:
        return [f"{file} is whole, and nothing is missing from it"]
    told = [f"{file}: {_count(len(found), 'finding')}"]
    for text in found:
        told += textwrap.wrap(text, WIDTH, initial_indent="- ", subsequent_indent="  ")
    return told
