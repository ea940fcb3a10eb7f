"""Which houses are on a broker, and how each stands: retained topics -> House.

Lives here: recognising a keeper among all devices, and reading its values back. Does
not live here: fetching the topics (roll_call.py), and how they are shown (reports/). Pure.

A keeper is a device of the Homie convention whose description has a node "keeper" of
type "keeper" with a property "state": what keeper.py publishes. Nothing that comes from
a broker is trusted: what makes no sense counts as not said.
"""

import json
import math
import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, NamedTuple

# What a house may be, worst first. Those before SLEEPING keep nobody's plants.
LOST, SILENT, STOPPED, STARTING, UNKNOWN = "lost", "silent", "stopped", "starting", "unknown"
DEAD = frozenset({LOST, SILENT, STOPPED})
_BY_URGENCY = (
    *(LOST, SILENT, STOPPED, "stalled", "locked-out", "blind", "alarmed"),
    *(UNKNOWN, STARTING, "guarding"),
)
FINE = "guarding"

# The device says "ready", but its newest word is older: it is told every minute.
SILENT_AFTER_S = 600.0

_DEVICE_STATES = {"lost": LOST, "disconnected": STOPPED, "init": STARTING, "sleeping": STOPPED}
_STATE_TOPIC = re.compile(r"([^/]+)/5/([^/]+)/\$description")
_DURATION = re.compile(r"PT(?=.)(?:(\d{1,9})H)?(?:(\d{1,9})M)?(?:(\d{1,9})S)?")
_LONGEST = 120  # characters of a text that is shown


class ZoneThere(NamedTuple):
    name: str
    coldest_c: float | None  # None: it has no trusted probe, or does not say
    heat_setpoint_c: float | None


class House(NamedTuple):
    device: str
    how: str  # one of the words above, or what the keeper says of its watch
    zones: tuple[ZoneThere, ...]
    on: tuple[str, ...]  # outputs
    alerts: tuple[str, ...]
    told_utc_s: float | None  # its newest word, to the minute; None: not known
    program: str

    @property
    def dead(self) -> bool:
        return self.how in DEAD

    @property
    def fine(self) -> bool:
        return self.how == FINE


def wanted(domain: str) -> tuple[str, ...]:
    """What to subscribe to, one after the other."""
    root = f"{domain}/5/+"
    return (
        f"{root}/$description",
        f"{root}/$state",
        f"{root}/keeper/state",
        f"{root}/keeper/started",
        f"{root}/keeper/uptime",
        f"{root}/keeper/program",
        f"{root}/+/coldest",
        f"{root}/+/heat-setpoint",
        f"{root}/+/on",
        f"{root}/$alert/+",
    )


def missing(found: Mapping[str, bytes]) -> tuple[str, ...]:
    """Topics that a keeper must have, and that did not come: worth asking for once more."""
    return tuple(
        topic
        for root, nodes in _keepers(found)
        for topic in (
            f"{root}/$state",
            f"{root}/keeper/state",
            f"{root}/keeper/uptime",
            *(f"{root}/{name}/on" for name, _ in _of_kind(nodes, "output")),
            *(f"{root}/{name}/coldest" for name, _ in _of_kind(nodes, "zone")),
        )
        if topic not in found
    )


def houses(found: Mapping[str, bytes], now_utc_s: float) -> list[House]:
    """The keepers among all devices, the worst first. found: topic -> retained payload."""
    made = [_house(root, nodes, found, now_utc_s) for root, nodes in _keepers(found)]
    return sorted(made, key=lambda house: (_urgency(house.how), house.device))


def _urgency(how: str) -> int:
    return _BY_URGENCY.index(how) if how in _BY_URGENCY else _BY_URGENCY.index(UNKNOWN)


def _keepers(found: Mapping[str, bytes]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Root topic and nodes of every keeper. One that was removed has no state any more."""
    for topic in found:
        place = _STATE_TOPIC.fullmatch(topic)
        if place is None:
            continue
        match _json(found[topic]):
            case {"nodes": {"keeper": {"type": "keeper", "properties": {"state": _}}} as nodes}:
                yield f"{place[1]}/5/{place[2]}", nodes


def _of_kind(nodes: Mapping[str, Any], kind: str) -> Iterator[tuple[str, str]]:
    """Node and what it is called."""
    for name, node in nodes.items():
        match node:
            case {"type": str(said), "name": str(called)} if said == kind:
                yield name, _clean(called)


def _house(
    root: str, nodes: Mapping[str, Any], found: Mapping[str, bytes], now_utc_s: float
) -> House:
    told_utc_s = _told_utc_s(root, found)
    return House(
        device=_clean(root.rpartition("/")[2]),
        how=_how(root, found, told_utc_s, now_utc_s),
        zones=tuple(
            ZoneThere(
                called,
                _number(found.get(f"{root}/{name}/coldest")),
                _number(found.get(f"{root}/{name}/heat-setpoint")),
            )
            for name, called in _of_kind(nodes, "zone")
        ),
        on=tuple(
            called
            for name, called in _of_kind(nodes, "output")
            if found.get(f"{root}/{name}/on") == b"true"
        ),
        alerts=tuple(
            _text(payload)
            for topic, payload in sorted(found.items())
            if topic.startswith(f"{root}/$alert/")
        ),
        told_utc_s=told_utc_s,
        program=_text(found.get(f"{root}/keeper/program", b"")),
    )


def _how(root: str, found: Mapping[str, bytes], told_utc_s: float | None, now_utc_s: float) -> str:
    state = _text(found.get(f"{root}/$state", b""))
    if state != "ready":
        return _DEVICE_STATES.get(state, UNKNOWN)
    # A broker that came back from its own crash may hold the "ready" of a keeper that died.
    if told_utc_s is not None and now_utc_s - told_utc_s > SILENT_AFTER_S:
        return SILENT
    watch = _text(found.get(f"{root}/keeper/state", b""))
    return watch if watch in _BY_URGENCY else UNKNOWN


def _told_utc_s(root: str, found: Mapping[str, bytes]) -> float | None:
    """Its start and how long it has run since: the only stamp that a value carries."""
    started = _text(found.get(f"{root}/keeper/started", b""))
    uptime = _DURATION.fullmatch(_text(found.get(f"{root}/keeper/uptime", b"")))
    if uptime is None:
        return None
    hours, minutes, seconds = (int(part or 0) for part in uptime.groups())
    try:
        begun = datetime.fromisoformat(started)
    except ValueError:
        return None
    if begun.tzinfo is None:
        return None
    return begun.timestamp() + hours * 3600.0 + minutes * 60.0 + seconds


def _number(payload: bytes | None) -> float | None:
    try:
        value = float(_text(payload or b""))
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) < 1000.0 else None


def _json(payload: bytes) -> object:
    try:
        return json.loads(payload)
    except (ValueError, RecursionError):
        return None


def _text(payload: bytes) -> str:
    return _clean(payload.decode("utf-8", errors="replace"))


def _clean(text: str) -> str:
    """What a terminal can be given: a stranger's control characters could repaint it."""
    return "".join(each for each in text if each.isprintable())[:_LONGEST]
