"""What the keeper has learned of its house: each figure with its uncertainty, or why not.

Lives here: the noun that learning fills in, and its JSON form. Does not live here: working
it out (house/learning), the file (learned_file.py), what anybody does with it.

A figure is an Estimate or Unknown(reason); a missing one is never a number. It is learned
of one zone: the first that is heated. Pure Python, so that anybody may read it.
"""

import math
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

FORMAT = 1
MOST_PAST = 800  # two years of nights: some 100 kB


class Estimate(NamedTuple):
    value: float
    sigma: float  # one standard uncertainty, in the unit of the value: two thirds lie within

    def span(self, sigmas: float = 1.645) -> tuple[float, float]:
        """Where it lies nine times in ten, unless told otherwise."""
        return self.value - sigmas * self.sigma, self.value + sigmas * self.sigma


class Unknown(NamedTuple):
    reason: str  # in words, for people


Figure = Estimate | Unknown


class Notice(NamedTuple):
    """What an owner should hear of. code: one of errors.CATALOGUE."""

    code: str
    text: str


class Learned(NamedTuple):
    """The house as its own journal shows it. Figures are those of its winter nights: of the
    wind that blew in them, doors shut, no sun."""

    learned_utc_s: float  # when this was worked out
    from_utc_s: float  # the evening of the first night it rests on
    to_utc_s: float  # the morning of the last
    nights: int  # it rests on so many
    zone: str
    heater: str  # the output
    power_w: float | None  # of the heater, as the settings state it. None: not stated
    rise_k: Figure  # how far the heater, on for ever, would hold the air above outside
    loss_w_per_k: Figure  # power_w / rise_k: air inside to air outside
    fast_s: Figure  # time constant of the air while the mass stands still
    slow_s: Figure  # time constant of the house cooling freely in a long night
    air_kj_per_k: Figure  # what warms at once with the air
    mass_kj_per_k: Figure  # what warms through the air only
    mass_w_per_k: Figure  # between the two
    lag_s: Figure  # element and probe together: from a switching to its sight
    element_lag_s: Figure
    probe_lag_s: Figure
    dawn_offset_s: Figure  # from sunrise to the outdoor low; below zero: before
    notices: tuple[Notice, ...] = ()

    def value(self, name: str) -> float | None:
        """The figure's best guess, or None. name: one of FIGURES. Raises KeyError."""
        figure = self.figures()[name]
        return figure.value if isinstance(figure, Estimate) else None

    def figures(self) -> Mapping[str, Figure]:
        return {name: getattr(self, name) for name in FIGURES}


# Name -> below which no value makes sense.
_LEAST: Mapping[str, float] = {
    **dict.fromkeys(("rise_k", "loss_w_per_k", "fast_s", "slow_s"), 0.0),
    **dict.fromkeys(("air_kj_per_k", "mass_kj_per_k", "mass_w_per_k"), 0.0),
    **dict.fromkeys(("lag_s", "element_lag_s", "probe_lag_s"), 0.0),
    "dawn_offset_s": -math.inf,
}
FIGURES = tuple(_LEAST)


class Past(NamedTuple):
    """One line of the history: what was known after one night."""

    to_utc_s: float  # the morning after it
    from_utc_s: float  # what was known rested on nights since then
    figures: Mapping[str, Estimate]  # those that were known


class Kept(NamedTuple):
    """All that the file holds."""

    learned: Learned | None = None
    past: tuple[Past, ...] = ()  # oldest first, one for each night


def with_new(kept: Kept, learned: Learned) -> Kept:
    """This is what is known now; the history gets its line, in place of the same night's."""
    known = {n: f for n, f in learned.figures().items() if isinstance(f, Estimate)}
    line = Past(learned.to_utc_s, learned.from_utc_s, known)
    others = [past for past in kept.past if past.to_utc_s != line.to_utc_s]
    past = sorted([*others, line] if known else others, key=lambda each: each.to_utc_s)
    return Kept(learned, tuple(past[-MOST_PAST:]))


def document(kept: Kept) -> dict[str, Any]:
    """As JSON takes it."""
    return {
        "format": FORMAT,
        "learned": None if kept.learned is None else as_object(kept.learned),
        "past": [
            {**past._asdict(), "figures": _objects(past.figures.items())} for past in kept.past
        ],
    }


def as_object(learned: Learned) -> dict[str, Any]:
    plain = learned._asdict()
    plain.update(_objects(learned.figures().items()))
    plain["notices"] = [notice._asdict() for notice in learned.notices]
    return plain


def _objects(figures: Iterable[tuple[str, Figure]]) -> dict[str, Any]:
    return {name: figure._asdict() for name, figure in figures}


def from_document(found: object) -> Kept:
    """Raises ValueError for anything that is not what document() makes."""
    match found:
        case {"format": int(version), "learned": learned, "past": list(past)} if version == FORMAT:
            return Kept(
                None if learned is None else _learned(learned),
                tuple(map(_past, past[-MOST_PAST:])),
            )
    raise ValueError("not a file of this version")


def _learned(found: object) -> Learned:
    match found:
        case {
            "learned_utc_s": learned_utc_s,
            "from_utc_s": from_utc_s,
            "to_utc_s": to_utc_s,
            "nights": int(nights),
            "zone": str(zone),
            "heater": str(heater),
            "power_w": power_w,
            "notices": list(notices),
            **others,
        }:
            return Learned(
                _number(learned_utc_s),
                _number(from_utc_s),
                _number(to_utc_s),
                nights,
                zone,
                heater,
                None if power_w is None else _number(power_w),
                **{name: _figure(name, others.get(name)) for name in FIGURES},
                notices=tuple(map(_notice, notices)),
            )
    raise ValueError("not what was learned of a house")


def _past(found: object) -> Past:
    match found:
        case {"to_utc_s": to_utc_s, "from_utc_s": from_utc_s, "figures": dict(figures)}:
            told = {
                name: figure
                for name in FIGURES
                if name in figures and isinstance(figure := _figure(name, figures[name]), Estimate)
            }
            return Past(_number(to_utc_s), _number(from_utc_s), told)
    raise ValueError("not a line of the history")


def _figure(name: str, found: object) -> Figure:
    match found:
        case {"reason": str(reason)}:
            return Unknown(reason)
        case {"value": value, "sigma": sigma}:
            estimate = Estimate(_number(value), _number(sigma))
            if estimate.value > _LEAST[name] and estimate.sigma >= 0.0:
                return estimate
    raise ValueError(f"{name} is no figure: {found!r}")


def _notice(found: object) -> Notice:
    match found:
        case {"code": str(code), "text": str(text)}:
            return Notice(code, text)
    raise ValueError(f"not a notice: {found!r}")


def _number(found: object) -> float:
    """A finite number; JSON may hold others. Raises ValueError."""
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise ValueError(f"not a number: {found!r}")
    try:
        value = float(found)
    except OverflowError as error:
        raise ValueError("a number beyond all bounds") from error
    if not math.isfinite(value):
        raise ValueError(f"not a number: {found!r}")
    return value
