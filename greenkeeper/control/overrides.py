"""Orders from afar: another heating setpoint for a while, or a zone switched off for a while.

Lives here: whether an order is allowed, how long it holds, and what it does to a zone's
wishes. Does not live here: where an order comes from (broker), and everything that keeps
people and plants safe, which never hears of orders: ceiling, latches and guard.

What holds whatever is ordered, and is repeated by a property test:
  - an ordered setpoint lies within the zone's ordered_c, hence never below a plant's minimum;
  - every order ends by itself, order_lasts_s after it was last given;
  - a zone that is off is measured and alarmed like any other. It only wishes for nothing,
    and when heat would be wanted, somebody is told at once, while plants are still well.
"""

import math
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control.plan import Plan
from greenkeeper.model import (
    Ask,
    Condition,
    Now,
    Order,
    Override,
    Overrides,
    Wish,
    ZoneView,
)
from greenkeeper.units import shown_c

TAKEN, ENDED, REFUSED = "order-taken", "order-ended", "order-refused"
COLD, HOT = "off-in-cold", "off-in-heat"

# The civil clock was set: what people were told of the end is told anew.
_CLOCK_STEP_S = 2.0

# An order that only repeats another moves the end by steps of this, so that one who repeats
# it every second does not have it written to the card every second.
_RENEWED_S = 600.0

NOTHING: Overrides = MappingProxyType({})
_NONE_OFF: frozenset[str] = frozenset()


class Ordered(NamedTuple):
    overrides: Overrides
    notes: Sequence[Condition]


class Silenced(NamedTuple):
    views: tuple[ZoneView, ...]
    zones: frozenset[str]  # those that are off
    conditions: Sequence[Condition]


def advance(before: Overrides, orders: Sequence[Order], plan: Plan, now: Now) -> Ordered:
    """What is in force in this tick, and what there is to note of it."""
    if not before and not orders:
        return Ordered(NOTHING, ())
    notes: list[Condition] = []
    after: dict[tuple[str, Ask], Override] = {}
    for key, override in before.items():
        if now.mono_s < override.until_s:
            after[key] = _redated(override, now)
        else:
            notes.append(Condition(ENDED, override.zone, f"{_words(override)}: its time is up"))
    for order in orders:
        _obey(order, after, notes, plan, now)
    return Ordered(after, notes)


def kept(overrides: Overrides, plan: Plan) -> Overrides:
    """What a new plan still allows."""
    return {key: each for key, each in overrides.items() if _allows(plan, each)} or NOTHING


def taken_up(saved: Iterable[Override], plan: Plan, now: Now) -> Overrides:
    """What an earlier run left behind, as far as it still holds and is still allowed.

    Monotonic time began anew, so the end is reckoned by civil time. A clock that stands
    wrong can prolong an order once, by no more than its usual length.
    """
    found: dict[tuple[str, Ask], Override] = {}
    for each in saved:
        left_s = min(each.until_utc_s - now.utc_s, plan.order_lasts_s)
        if left_s > 0.0 and _allows(plan, each):
            found[each.zone, each.ask] = each._replace(
                until_s=now.mono_s + left_s, until_utc_s=now.utc_s + left_s
            )
    return found or NOTHING


def setpoint_c(overrides: Overrides, zone: str) -> float | None:
    """The ordered heating setpoint of a zone, if there is one."""
    override = overrides.get((zone, Ask.SETPOINT))
    return None if override is None else override.setpoint_c


def silence(plan: Plan, views: tuple[ZoneView, ...], overrides: Overrides, now: Now) -> Silenced:
    """The views, without a wish in a zone that is off; and where one is missed."""
    off = frozenset(zone for zone, ask in overrides if ask is Ask.OFF) if overrides else _NONE_OFF
    if not off:
        return Silenced(views, off, ())
    conditions: list[Condition] = []
    after = []
    for view in views:
        override = overrides.get((view.name, Ask.OFF))
        if override is None:
            after.append(view)
            continue
        how_long = _how_long(override, plan, now)
        conditions += _missed(view, how_long)
        wishes = tuple(_off(wish, how_long) for wish in view.wishes)
        after.append(view._replace(wishes=wishes))
    return Silenced(tuple(after), off, conditions)


# --- one order -----------------------------------------------------------------------


def _obey(
    order: Order,
    after: dict[tuple[str, Ask], Override],
    notes: list[Condition],
    plan: Plan,
    now: Now,
) -> None:
    refusal = _refusal(order, plan)
    if refusal is not None:
        notes.append(Condition(REFUSED, order.zone, refusal))
    elif order.ask in (Ask.SETPOINT, Ask.OFF):
        _begin(order, after, notes, plan, now)
    else:
        ends = Ask.SETPOINT if order.ask is Ask.PLAN else Ask.OFF
        gone = after.pop((order.zone, ends), None)
        if gone is not None:
            notes.append(Condition(ENDED, order.zone, f"{_words(gone)}: taken back"))


def _begin(
    order: Order,
    after: dict[tuple[str, Ask], Override],
    notes: list[Condition],
    plan: Plan,
    now: Now,
) -> None:
    lasts_s = plan.order_lasts_s
    made = Override(
        order.zone, order.ask, order.setpoint_c, now.mono_s + lasts_s, now.utc_s + lasts_s
    )
    held = after.get((order.zone, order.ask))
    repeated = held is not None and held.setpoint_c == made.setpoint_c
    if held is not None and repeated and made.until_s - held.until_s < _RENEWED_S:
        return
    after[order.zone, order.ask] = made
    if not repeated:
        text = f"{_words(made)} {_how_long(made, plan, now)}"
        notes.append(Condition(TAKEN, order.zone, text))


def _refusal(order: Order, plan: Plan) -> str | None:
    zone = next((each for each in plan.zones if each.name == order.zone), None)
    if zone is None:
        return "there is no such zone"
    if order.ask in (Ask.OFF, Ask.ARMED):
        return None if zone.switchable else "this zone may not be switched over the broker"
    if zone.ordered_c is None:
        return "no setpoint may be ordered for this zone"
    if order.ask is Ask.PLAN:
        return None
    if order.setpoint_c is None or not math.isfinite(order.setpoint_c):
        return "a setpoint is a number"
    low_c, high_c = zone.ordered_c
    if low_c <= order.setpoint_c <= high_c:
        return None
    return f"{shown_c(order.setpoint_c)} is not within {shown_c(low_c)} to {shown_c(high_c)}"


def _allows(plan: Plan, override: Override) -> bool:
    order = Order(override.zone, override.ask, override.setpoint_c)
    return override.ask in (Ask.SETPOINT, Ask.OFF) and _refusal(order, plan) is None


def _redated(override: Override, now: Now) -> Override:
    until_utc_s = now.utc_s + (override.until_s - now.mono_s)
    if abs(until_utc_s - override.until_utc_s) <= _CLOCK_STEP_S:
        return override
    return override._replace(until_utc_s=until_utc_s)


# --- a zone that is off --------------------------------------------------------------


def _off(wish: Wish, how_long: str) -> Wish:
    """Blind or not, it wishes for nothing; how urgent it is stays as it was."""
    return wish._replace(on=False, reason=f"{wish.zone} is switched off {how_long}")


def _missed(view: ZoneView, how_long: str) -> list[Condition]:
    """What the zone would do by itself, were it not off. Not by its wishes: those remember
    whether they were on, and a blind zone has none."""
    found = []
    if _at_or_below(view.coldest_c, view.heat_setpoint_c):
        text = f"{_seen(view.coldest_probe, view.coldest_c)}, heat is off {how_long}"
        found.append(Condition(COLD, view.name, text))
    if _at_or_below(view.cool_setpoint_c, view.warmest_c):
        text = f"{_seen(view.warmest_probe, view.warmest_c)}, cooling is off {how_long}"
        found.append(Condition(HOT, view.name, text))
    return found


def _at_or_below(lower_c: float | None, upper_c: float | None) -> bool:
    return lower_c is not None and upper_c is not None and lower_c <= upper_c


def _seen(probe: str | None, temp_c: float | None) -> str:
    return "" if probe is None or temp_c is None else f"{probe} {shown_c(temp_c)}"


# --- words ---------------------------------------------------------------------------


def _words(override: Override) -> str:
    if override.setpoint_c is None:
        return "switched off"
    return f"heat at {shown_c(override.setpoint_c)}"


def _how_long(override: Override, plan: Plan, now: Now) -> str:
    """Until an hour where the clock can be trusted. What is left would be news every tick."""
    altogether = f"for {plan.order_lasts_s / 3600.0:.1f} h"
    if not now.clock_trusted:
        return altogether
    try:
        end = datetime.fromtimestamp(override.until_utc_s, UTC).astimezone(plan.timezone)
    except (ValueError, OverflowError, OSError):
        return altogether
    return end.strftime("until %a %H:%M")
