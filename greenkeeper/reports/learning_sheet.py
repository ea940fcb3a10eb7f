"""What was learned of the house, in eighty columns, beside what its settings say.

Lives here: words and layout. Does not live here: the figures (greenkeeper/learned.py).
"""

import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import NamedTuple, Protocol

from greenkeeper.house import envelope
from greenkeeper.learned import Estimate, Figure, Learned
from greenkeeper.reports import words
from greenkeeper.reports.season_house import described, loss_factor
from greenkeeper.settings.derived import bears_both, heat_power_w
from greenkeeper.settings.schema import Settings

_WIDTH = 80
_NAME, _FOUND, _SPAN = 24, 14, 20


class Unused(Protocol):
    """A night that taught nothing."""

    @property
    def from_utc_s(self) -> float: ...
    @property
    def reason(self) -> str: ...


class _Row(NamedTuple):
    name: str
    told: str
    shown: Callable[[float], str]


def _hours(seconds: float) -> str:
    return f"{seconds / 3600.0:.1f} h"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.1f} min"


def _whole(unit: str) -> Callable[[float], str]:
    return lambda value: f"{value:.0f} {unit}" if abs(value) >= 10.0 else f"{value:.1f} {unit}"


_ROWS = (
    _Row("loss_w_per_k", "heat loss", _whole("W/K")),
    _Row("rise_k", "heater holds above out", _whole("K")),
    _Row("slow_s", "cools by two thirds in", _hours),
    _Row("fast_s", "its air alone in", _minutes),
    _Row("lag_s", "heater and probe lag", _minutes),
    _Row("element_lag_s", "the heater's part of it", _minutes),
    _Row("probe_lag_s", "the probe's part of it", _minutes),
    _Row("air_kj_per_k", "warms with the air", _whole("kJ/K")),
    _Row("mass_kj_per_k", "pots, soil, paving", _whole("kJ/K")),
    _Row("mass_w_per_k", "between air and those", _whole("W/K")),
    _Row("dawn_offset_s", "coldest after sunrise", _minutes),
)


def lines(learned: Learned, skipped: Sequence[Unused], settings: Settings) -> Iterator[str]:
    """skipped may be empty: what is kept does not remember it."""
    timezone = settings.site.timezone
    yield f"What the nights of {settings.site.name} teach about it"
    yield from textwrap.wrap(f"{_rests_on(learned, timezone)}{_second(learned, settings)}", _WIDTH)
    known = [row for row in _ROWS if isinstance(learned.figures()[row.name], Estimate)]
    if known:
        yield ""
        yield from _table(learned, known, settled(settings))
    unknown = [row for row in _ROWS if row not in known]
    if unknown:
        yield ""
        yield "Not known"
        yield from _reasons(learned, unknown)
    if skipped:
        yield ""
        yield "Nights that taught nothing"
        for reason, nights in groupby(skipped, key=lambda night: night.reason):
            yield _listed(_evenings(list(nights), timezone), reason)
    for notice in learned.notices:
        yield ""
        yield from textwrap.wrap(f"Changed: {notice.text}.", _WIDTH)


def settled(settings: Settings) -> Mapping[str, float]:
    """The same figures as the settings have them: those that somebody wrote, and the loss of
    the sheet where a house is described."""
    house = settings.house
    found: dict[str, float] = {
        name: float(getattr(house, name))
        for name in ("air_kj_per_k", "mass_kj_per_k", "mass_w_per_k", "element_lag_s",
                     "probe_lag_s")
        if name in house.model_fields_set
    }  # fmt: skip
    if house.loss_w_per_k is not None:
        found["loss_w_per_k"] = envelope.loss_w_per_k(house)
    elif {"length_m", "width_m"} <= house.model_fields_set:
        sheet = described(settings)
        found["loss_w_per_k"] = sheet.loss_w_k * loss_factor(settings, sheet)
    return found


def _evenings(nights: Sequence[Unused], timezone: str) -> str:
    first, last = (words.moment(night.from_utc_s, timezone) for night in (nights[0], nights[-1]))
    return first if len(nights) == 1 else f"{len(nights)} nights, {first} to {last}"


def _rests_on(learned: Learned, timezone: str) -> str:
    if learned.nights == 0:
        return f"No night so far could teach anything about zone {learned.zone}."
    power = "power not stated" if learned.power_w is None else f"of {learned.power_w:.0f} W"
    return (
        f"{learned.nights} nights, {words.moment(learned.from_utc_s, timezone)} to "
        f"{words.moment(learned.to_utc_s, timezone)}; zone {learned.zone}, {learned.heater} {power}"
    )


def _second(learned: Learned, settings: Settings) -> str:
    """What a second heater of the zone has to do with it: what is held above outside is the
    first's alone."""
    zone = settings.zones.get(learned.zone)
    heat = None if zone is None else zone.heat
    if heat is None or heat.second_output is None or learned.nights == 0:
        return ""
    name, power_w = heat.second_output, settings.outputs[heat.second_output].power_w
    if learned.heater != heat.output or learned.power_w is None or power_w is None:
        return f". Hours in which {name} ran too taught nothing: that takes both power_w"
    rise_k, most_w = learned.value("rise_k"), heat_power_w(settings, heat)
    told = f". {name} counts by its {power_w:.0f} W"
    if rise_k is None or most_w is None:
        return told
    whose = "both together hold" if bears_both(settings, heat) else "the stronger of them holds"
    return f"{told}: {whose} about {_whole('K')(rise_k * most_w / learned.power_w)} above out"


def _table(learned: Learned, rows: Sequence[_Row], settings: Mapping[str, float]) -> Iterator[str]:
    told = f"{'':<{_NAME}}{'found':>{_FOUND}}{'nine times in ten':>{_SPAN}}"
    yield told + (f"{'settings':>{_FOUND}}" if settings else "")
    for row in rows:
        figure = learned.figures()[row.name]
        assert isinstance(figure, Estimate)  # noqa: S101 - the caller chose them
        low, high = figure.span()
        span = f"{row.shown(low).split()[0]} to {row.shown(high).split()[0]}"
        line = f"{row.told:<{_NAME}}{row.shown(figure.value):>{_FOUND}}{span:>{_SPAN}}"
        written = settings.get(row.name)
        if written is not None:
            outside = "" if low <= written <= high else "  differs"
            line += f"{row.shown(written):>{_FOUND}}{outside}"
        yield line.replace("-", "\N{MINUS SIGN}")


def _reasons(learned: Learned, rows: Sequence[_Row]) -> Iterator[str]:
    """One reason for several is told once."""
    by_reason: dict[str, list[str]] = {}
    figures: Mapping[str, Figure] = learned.figures()
    for row in rows:
        figure = figures[row.name]
        if not isinstance(figure, Estimate):
            by_reason.setdefault(figure.reason, []).append(row.told)
    for reason, names in by_reason.items():
        yield _listed(", ".join(names), reason)


def _listed(what: str, reason: str) -> str:
    return textwrap.fill(f"{what}: {reason}", _WIDTH, initial_indent="  ", subsequent_indent="    ")
