"""The board: how things are, in eighty columns of plain text.

Lives here: the layout that `run`, `now` and the demo show, from the status document.
Does not live here: wording (words.py), and writing to a terminal (reports/screen.py).
Without colour nothing is lost: an output that runs says ON, an alarm says what it is.
"""

import textwrap
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from greenkeeper.errors import Level
from greenkeeper.reports import words
from greenkeeper.status import (
    AlarmStatus,
    ContactStatus,
    OutputStatus,
    StatusDocument,
    ZoneStatus,
)

WIDTH = 80

_BOLD, _DIM, _WARM, _COLD, _PLAIN = "\x1b[1m", "\x1b[2m", "\x1b[33m", "\x1b[36m", "\x1b[0m"
_ALERT = "\x1b[1;31m"
_LEVEL_WORD = {1: "notice", 2: "warning", 3: "ALARM"}


class Strip(NamedTuple):
    """The last hours in one line each: a temperature's course and when heat ran."""

    label: str
    temps_c: Sequence[float | None]
    heated: Sequence[float]  # share of each column's time
    span: str


def lines(
    status: StatusDocument,
    *,
    colour: bool = False,
    strip: Strip | None = None,
    silence: str | None = None,
    tonight: Sequence[tuple[str, str]] = (),
) -> list[str]:
    """The whole board. strip: the recent course, if somebody kept it. tonight: zones and advice."""
    paint = _Paint(colour)
    out = [_title(status, paint), ""]
    if silence is not None:
        out += [paint.alert(silence), ""]
    headline = words.headline(status)
    if silence is not None:
        # What was true when it last spoke must not read as if it were so.
        headline = f"It last said: {headline}"
    head = paint.bold if silence is None else paint.dim
    out += [head(line) for line in textwrap.wrap(headline, WIDTH)]
    out.append("")
    for name, zone in status["zones"].items():
        out += _zone(name, zone, status, paint)
    out += _free_probes(status)
    out += [_hygrometer_line(name, status) for name in status["hygrometers"]]
    if strip is not None:
        out += ["", *_strip(strip, paint)]
    out.append("")
    for name, output in status["outputs"].items():
        out += _output(name, output, status, paint)
    column = max(14, *(len(name) + 2 for name in status["contacts"]), 0)
    for name, contact in status["contacts"].items():
        out += _contact(name, contact, status, column)
    for name, advice in tonight:
        out += ["", *_advice(name if len(tonight) > 1 else "", advice)]
    out += _relays(status, paint)
    out += _alarms(status, paint)
    return out


class _Paint:
    def __init__(self, colour: bool) -> None:
        self._colour = colour

    def _with(self, code: str, text: str) -> str:
        return f"{code}{text}{_PLAIN}" if self._colour else text

    def bold(self, text: str) -> str:
        return self._with(_BOLD, text)

    def dim(self, text: str) -> str:
        return self._with(_DIM, text)

    def running(self, mode: str, text: str) -> str:
        return self._with(_WARM if mode == "heat" else _COLD, text)

    def alert(self, text: str) -> str:
        return self._with(_ALERT, text)


def _title(status: StatusDocument, paint: _Paint) -> str:
    when = words.moment(status["utc_s"], status["timezone"])
    if not status["clock_trusted"]:
        when += " (clock not set)"
    return paint.dim(f"{status['site']}{when:>{WIDTH - len(status['site'])}}")


def _zone(name: str, zone: ZoneStatus, status: StatusDocument, paint: _Paint) -> Iterable[str]:
    wants = words.zone_wants(zone, status["timezone"])
    yield f"{name:<14}{words.temperature(zone['coldest_c']):>11}   {wants}"
    spare = words.margin(zone)
    if spare:
        yield paint.dim(f"{'':<28}{spare}")
    for line in textwrap.wrap(words.airing(zone), WIDTH - 28):
        yield paint.dim(f"{'':<28}{line}")
    for probe in zone["probes"]:
        yield _probe_line(probe, status)


def _free_probes(status: StatusDocument) -> Iterable[str]:
    in_zones = {probe for zone in status["zones"].values() for probe in zone["probes"]}
    free = [name for name in status["probes"] if name not in in_zones]
    for name in sorted(free, key=lambda each: each == status["outdoor_probe"]):
        yield _probe_line(name, status)


def _probe_line(name: str, status: StatusDocument) -> str:
    probe = status["probes"][name]
    if probe["temp_c"] is None:
        return textwrap.shorten(f"  {name:<12}  {words.probe(probe)}", WIDTH, placeholder=" …")
    return f"  {name:<12}{words.probe(probe):>11}"


def _hygrometer_line(name: str, status: StatusDocument) -> str:
    hygrometer = status["hygrometers"][name]
    said = words.hygrometer(hygrometer)
    if hygrometer["rh_pct"] is None:
        return textwrap.shorten(f"  {name:<12}  {said}", WIDTH, placeholder=" …")
    return f"  {name:<12}{said:>11}   {words.dew_point(hygrometer)}".rstrip()


def _output(
    name: str, output: OutputStatus, status: StatusDocument, paint: _Paint
) -> Iterable[str]:
    lasted = words.duration(status["utc_s"] - output["since_utc_s"])
    head = f"{name:<14}{words.switch(output):<5}{lasted:<12}"
    why = textwrap.wrap(output["reason"], WIDTH - len(head)) or [""]
    yield (paint.running(output["mode"], head) if output["on"] else head) + why[0]
    for more in why[1:]:
        yield " " * len(head) + more


def _contact(
    name: str, contact: ContactStatus, status: StatusDocument, column: int
) -> Iterable[str]:
    lasted = words.duration(status["utc_s"] - contact["since_utc_s"])
    yield f"{name:<{column}}{words.contact(contact):<17}{lasted}"
    if contact["active"] is None:
        indent = " " * column
        yield from textwrap.wrap(
            contact["detail"], WIDTH, initial_indent=indent, subsequent_indent=indent
        )


def _advice(zone: str, advice: str) -> Iterable[str]:
    label = f"tonight {zone}".rstrip()
    column = max(14, len(label) + 2)
    head, indent = f"{label:<{column}}", " " * column
    yield from textwrap.wrap(advice, WIDTH, initial_indent=head, subsequent_indent=indent)


def _relays(status: StatusDocument, paint: _Paint) -> Iterable[str]:
    used = [
        f"{name} {share}"
        for name, output in status["outputs"].items()
        if (share := words.life_used(output)) is not None
    ]
    if used:
        text = f"of their rated life, relays have used: {', '.join(used)}"
        yield from (paint.dim(line) for line in textwrap.wrap(text, WIDTH))


def _alarms(status: StatusDocument, paint: _Paint) -> Iterable[str]:
    if not status["alarms"]:
        return
    yield ""
    for alarm in status["alarms"]:
        yield from _alarm(alarm, status, paint)
    for latch in status["latches"]:
        yield f"  locked until you say:  greenkeeper clear {latch}"


def _alarm(alarm: AlarmStatus, status: StatusDocument, paint: _Paint) -> Iterable[str]:
    since = words.moment(alarm["since_utc_s"], status["timezone"], with_day=False)
    head = f"{_LEVEL_WORD[alarm['level']]:<9}{since}  "
    seen = ", seen" if alarm["seen"] else ""
    body = textwrap.wrap(
        f"{alarm['subject']}: {alarm['title']} ({alarm['text']}){seen}", WIDTH - len(head)
    )
    for i, line in enumerate(body):
        text = (head if i == 0 else " " * len(head)) + line
        yield paint.alert(text) if alarm["level"] >= Level.ALARM else text


_BARS = "▁▂▃▄▅▆▇█"
_SHADES = " ░▒▓█"


def _strip(strip: Strip, paint: _Paint) -> Iterable[str]:
    known = [temp_c for temp_c in strip.temps_c if temp_c is not None]
    if not known:
        return
    low_c, high_c = min(known), max(known)
    span_k = max(high_c - low_c, 1.0)
    course = "".join(
        " " if temp_c is None else _BARS[round((temp_c - low_c) / span_k * (len(_BARS) - 1))]
        for temp_c in strip.temps_c
    )
    heat = "".join(_SHADES[round(share * (len(_SHADES) - 1))] for share in strip.heated)
    yield f"{strip.label:<14}{course}  {words.temperature(low_c)} to {words.temperature(high_c)}"
    yield f"{'heat':<14}{paint.running('heat', heat)}"
    yield paint.dim(f"{'':<14}{strip.span}")
