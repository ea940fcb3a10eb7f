"""What this keeper shows of one zone, and what may be ordered of it.

Lives here: the zone's node, and the meaning of a payload on its command topics. Does not
live here: whether a command is believed at all (orders.py) and obeyed (control). Pure.

    heat-setpoint   what holds now, ordered or not; settable where the settings allow it
    back-to-plan    a momentary command: the ordered setpoint ends
    switch          armed or off; settable where the settings allow it
"""

from collections.abc import Callable

from greenkeeper.broker import damp, payloads
from greenkeeper.broker.homie import CELSIUS, Node, Property
from greenkeeper.broker.orders import Reads
from greenkeeper.model import Ask, Order, Tick, ZoneView
from greenkeeper.settings import derived
from greenkeeper.settings.schema import Settings

_PERIODS = ("day", "night")
_SWITCH = (Ask.ARMED.value, Ask.OFF.value)
_PLAN = Ask.PLAN.value

_Property = Property[Tick]
_Value = Callable[[Tick], str | None]


def zone_node(settings: Settings, name: str) -> Node[Tick]:
    zone = settings.zones[name]
    properties = {
        "coldest": _celsius(name, "coldest trusted probe", lambda view: view.coldest_c),
        "warmest": _celsius(name, "warmest trusted probe", lambda view: view.warmest_c),
    }
    if zone.heat is not None:
        properties |= _heat(settings, name)
    if zone.cool is not None:
        properties["cool-setpoint"] = _celsius(
            name, "cool on at", lambda view: view.cool_setpoint_c
        )
    if zone.air is not None:
        properties |= damp.airing(name)
    if derived.may_be_switched(settings, name):
        properties |= _switch(name)
    period = _seen(name, lambda view: payloads.member(view.period, _PERIODS))
    properties["period"] = Property("day or night", "enum", period, format=",".join(_PERIODS))
    properties["reason"] = Property("why", "string", _seen(name, _reason))
    return Node(name, "zone", properties)


# --- what may be ordered -------------------------------------------------------------


def _heat(settings: Settings, name: str) -> dict[str, _Property]:
    shown = _celsius(name, "heat on at", lambda view: view.heat_setpoint_c)
    between_c = derived.ordered_range_c(settings, name)
    if between_c is None:
        return {"heat-setpoint": shown}
    return {
        "heat-setpoint": shown._replace(
            format=_format(settings, name, between_c), reads=_setpoint(name, between_c)
        ),
        "heat-setpoint-until": _until(name, Ask.SETPOINT, "ordered setpoint holds until"),
        "back-to-plan": Property(
            "end the ordered setpoint",
            "enum",
            None,
            format=_PLAN,
            reads=_chosen(name, {_PLAN: Ask.PLAN}),
        ),
    }


def _format(settings: Settings, name: str, between_c: tuple[float, float]) -> str:
    """What the value may be: what may be ordered, and what the settings say."""
    planned = (derived.heat_setpoint_c(settings, name, night) for night in (False, True))
    known = [*between_c, *(each for each in planned if each is not None)]
    return f"{payloads.bound(min(known))}:{payloads.bound(max(known))}"


def _switch(name: str) -> dict[str, _Property]:
    def value(tick: Tick) -> str:
        off = (name, Ask.OFF) in tick.memory.overrides
        return Ask.OFF.value if off else Ask.ARMED.value

    orders = {each: Ask(each) for each in _SWITCH}
    return {
        "switch": Property(
            "armed or off", "enum", value, format=",".join(_SWITCH), reads=_chosen(name, orders)
        ),
        "off-until": _until(name, Ask.OFF, "off until"),
    }


def _setpoint(name: str, between_c: tuple[float, float]) -> Reads:
    low_c, high_c = between_c

    def order(payload: str) -> Order:
        wanted_c = payloads.number(payload)
        if not low_c <= wanted_c <= high_c:
            bounds = f"{payloads.bound(low_c)} to {payloads.bound(high_c)} {CELSIUS}"
            raise ValueError(f"{payloads.shown(payload)} is not within {bounds}")
        # As it will be shown: whoever asks for more digits must find what he asked for.
        return Order(name, Ask.SETPOINT, min(max(round(wanted_c, 2), low_c), high_c))

    return order


def _chosen(name: str, asks: dict[str, Ask]) -> Reads:
    return lambda payload: Order(name, asks[payloads.word(payload, asks)])


def _until(name: str, ask: Ask, words: str) -> _Property:
    def value(tick: Tick) -> str | None:
        override = tick.memory.overrides.get((name, ask))
        return None if override is None else payloads.civil(tick.now, override.until_s)

    return Property(words, "datetime", value)


# --- what is shown -------------------------------------------------------------------


def _seen(name: str, write: Callable[[ZoneView], str | None]) -> _Value:
    def value(tick: Tick) -> str | None:
        return next((write(each) for each in tick.zones if each.name == name), None)

    return value


def _celsius(name: str, words: str, read: Callable[[ZoneView], float | None]) -> _Property:
    write = _seen(name, lambda view: payloads.decimal(read(view)))
    return Property(words, "float", write, unit=CELSIUS)


def _reason(view: ZoneView) -> str:
    """What the zone asks for and why; what it does not ask for, only while it asks nothing."""
    asking = [wish for wish in view.wishes if wish.on] or view.wishes
    reasons = dict.fromkeys(wish.reason for wish in asking)
    return payloads.text("; ".join(reasons) or "nothing heats or cools here")
