"""The catalogue as a printed table, 80 columns wide.

Lives here: how a row looks, the sums, and the bar that shows how far it is. Does not live
here: playing a row (play.py).
"""

import sys
import textwrap
from collections.abc import Iterator, Sequence
from itertools import zip_longest
from typing import IO, NamedTuple

from tests.faults.fault import Outcome

WIDTH = 80
_NAME, _HAPPENS, _OUTCOME, _TOLD = 25, 28, 6, 18  # columns, and one between each
_MOST_WHY = 12  # lines
_BAR = 24

LEGEND = """\
The whole keeper in an invented house, on a clock turned by hand. The bench is
cold, so it heats from second 60 on. The fault comes at 200 s and is mended at
600 s; at 900 s the keeper is stopped. After every fault: nothing is on without
permission; the loop ticks on or has stopped with all outputs off; the journal
opens and is whole; exactly the codes shown have told of it; no thread or file
handle is left behind. The line with > says what the heater did. In the last
room the real program runs, on real time."""


class Played(NamedTuple):
    name: str
    broken: str
    outcome: Outcome | None  # None: it does not hold
    why: str = ""  # it does not


def head(room: str, faults: int) -> Iterator[str]:
    title = f"{room}: {faults} fault{'' if faults == 1 else 's'}"
    yield ""
    yield from _row([title[:_NAME]], ["what happens"], ["result"], ["told of by"])
    yield " ".join("-" * width for width in (_NAME, _HAPPENS, _OUTCOME, _TOLD))


def lines(played: Played) -> Iterator[str]:
    """Some lines of four cells, and below them why it does not hold, if it does not."""
    happens = textwrap.wrap(played.broken, _HAPPENS)
    told: tuple[str, ...] = ()
    if played.outcome is not None:
        happens += textwrap.wrap(f"> {played.outcome.did}", _HAPPENS, subsequent_indent="  ")
        told = played.outcome.told or ("nothing to tell",)
    verdict = "BROKEN" if played.outcome is None else "held"
    yield from _row(textwrap.wrap(played.name, _NAME), happens, [verdict], told)
    for text in played.why.splitlines()[:_MOST_WHY]:
        yield from textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")


def _row(*cells: Sequence[str]) -> Iterator[str]:
    widths = (_NAME, _HAPPENS, _OUTCOME, _TOLD)
    for texts in zip_longest(*cells, fillvalue=""):
        yield " ".join(
            f"{text:<{width}}" for text, width in zip(texts, widths, strict=True)
        ).rstrip()


def summed(played: list[Played], seconds: float) -> str:
    broken = [each.name for each in played if each.outcome is None]
    took = f"{seconds / 60:.1f} minutes" if seconds >= 120.0 else f"{seconds:.0f} s"
    sums = f"{len(played)} faults in {took}: {len(played) - len(broken)} held, {len(broken)} broken"
    return "\n".join([sums, *(f"  broken: {name}" for name in broken)])


class Bar:
    """How far it is, on the last line of a terminal; elsewhere nothing."""

    def __init__(self, whole: int, out: IO[str] = sys.stderr) -> None:
        self._whole, self._out = whole, out
        self._shown = out.isatty()

    def show(self, done: int, name: str) -> None:
        if self._shown:
            full = round(_BAR * done / self._whole)
            bar = "#" * full + "." * (_BAR - full)
            self._out.write(f"\r\x1b[K[{bar}] {done} of {self._whole}  {name}"[: WIDTH + 3])
            self._out.flush()

    def wipe(self) -> None:
        if self._shown:
            self._out.write("\r\x1b[K")
            self._out.flush()
