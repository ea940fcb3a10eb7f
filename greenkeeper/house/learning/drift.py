"""Whether the house still is what it was: the lining down, a pane out, a cover laid.

Lives here: what is held against what, and from when on it is worth a word. Does not live
here: the figures (figures.py), their history (greenkeeper/learned.py).

Held against each other are nights that are not the same: the newest ones against the last
line of the history that ended before they began. A notice so stands for some weeks, and
ends by itself once the new state is the usual one.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from greenkeeper.learned import Estimate, Figure, Notice, Past

CODE = "loss-changed"
LEAST_SHARE = 0.2  # less, and a windy fortnight would be told as a broken pane
_SIGMAS = 2.5
_OLDEST_S = 400 * 86_400.0


class Newest(NamedTuple):
    """What the nights since from_utc_s say."""

    from_utc_s: float
    loss_w_per_k: Figure
    rise_k: Figure


def drift(newest: Sequence[Newest], past: Sequence[Past]) -> Notice | None:
    """newest: the shortest span first; the first that shows a change is told."""
    for span in newest:
        before = _before(span, past)
        notice = None if before is None else _notice(span, before)
        if notice is not None:
            return notice
    return None


def _before(span: Newest, past: Sequence[Past]) -> Past | None:
    earlier = [
        each for each in past
        if span.from_utc_s - _OLDEST_S <= each.to_utc_s <= span.from_utc_s
    ]  # fmt: skip
    return max(earlier, key=lambda each: each.to_utc_s, default=None)


def _notice(span: Newest, before: Past) -> Notice | None:
    known = before.figures
    if isinstance(span.loss_w_per_k, Estimate) and "loss_w_per_k" in known:
        now, then, unit = span.loss_w_per_k, known["loss_w_per_k"], "W/K"
    elif isinstance(span.rise_k, Estimate) and "rise_k" in known:
        # Without a power: what the heater would have to be, for the rise to be one kelvin.
        now, then, unit = _inverse(span.rise_k), _inverse(known["rise_k"]), "of the heater per K"
    else:
        return None
    change = math.log(now.value / then.value)
    sigma = math.hypot(now.sigma / now.value, then.sigma / then.value)
    if abs(change) < math.log1p(LEAST_SHARE) or abs(change) < _SIGMAS * sigma:
        return None
    grown = change > 0.0
    return Notice(
        CODE,
        f"the house loses {'more' if grown else 'less'} than before: "
        f"{'up' if grown else 'down'} {100.0 * abs(math.expm1(change)):.0f} %, from "
        f"{_shown(then.value, unit)} to {_shown(now.value, unit)}. "
        + (
            "Has a lining come down, a pane gone, a vent stayed open? Or the heater gives less"
            if grown
            else "Was it lined or covered? Or the heater gives more"
        ),
    )


def _inverse(estimate: Estimate) -> Estimate:
    value = 1.0 / estimate.value
    return Estimate(value, value * estimate.sigma / estimate.value)


def _shown(value: float, unit: str) -> str:
    return f"{value:.0f} {unit}" if unit == "W/K" else f"{100.0 * value:.1f} % {unit}"
