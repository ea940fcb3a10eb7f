"""`greenkeeper now --all`: every house on the broker, in one table of eighty columns.

Lives here: asking the broker, and the layout. Does not live here: recognising keepers
(broker/houses.py). A dead house shows no temperature: what it last said is not how it is.
"""

import json
import sys
import textwrap
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from greenkeeper.errors import GreenkeeperError

if TYPE_CHECKING:
    from greenkeeper.broker.houses import House, ZoneThere
    from greenkeeper.settings.schema import Settings

_WIDTH = 80
_HOUSE, _HOW, _ZONE, _TEMP = 22, 12, 16, 11
_MOST_ALERTS = 3
_ALERT, _WARN, _PLAIN = "\x1b[1;31m", "\x1b[33m", "\x1b[0m"


def run(settings_file: Path, *, as_json: bool) -> int:
    """0: every house is kept and calm. 1: one is not, or there is none."""
    from greenkeeper.settings.load import load

    settings = load(settings_file)
    found = _found(settings)
    if as_json:
        print(json.dumps([_data(house) for house in found], indent=1, ensure_ascii=False))
    else:
        print("\n".join(_table(found, settings)))
    return 0 if found and all(house.fine for house in found) else 1


def _found(settings: "Settings") -> "list[House]":
    from greenkeeper.broker import houses
    from greenkeeper.broker.roll_call import call_roll

    broker = settings.broker
    if broker is None:
        raise GreenkeeperError("the settings name no broker: (broker: {host: ...}) to ask")
    messages = call_roll(broker, houses.wanted(broker.domain), houses.missing, progress=_progress)
    return houses.houses(messages, time.time())


def _progress(done: int, of: int) -> None:
    if not sys.stderr.isatty():
        return
    width = 30
    bar = "=" * (width * done // of)
    end = "\r\x1b[K" if done == of else ""
    sys.stderr.write(f"\rasking  [{bar:<{width}}] {100 * done // of:3} %{end}")
    sys.stderr.flush()


# --- the table -------------------------------------------------------------------------


def _table(found: "list[House]", settings: "Settings") -> Iterator[str]:
    from greenkeeper.reports import words

    broker, timezone = settings.broker, settings.site.timezone
    assert broker is not None  # noqa: S101 - _found has refused settings without one
    if not found:
        text = (
            f"No house can be seen under {broker.domain}/5/ on {broker.host}. Is a keeper "
            "publishing there, under this domain, and may this account read it?"
        )
        yield from textwrap.wrap(text, _WIDTH)
        return
    when = words.moment(time.time(), timezone)
    head = _headline(found, broker.host)
    yield f"{head}{when:>{max(1, _WIDTH - len(head))}}"
    yield ""
    yield f"{'house':<{_HOUSE}}{'how':<{_HOW}}{'coldest':<{_ZONE + _TEMP}}on"
    for house in found:
        yield from _lines(house, timezone)


def _headline(found: "list[House]", host: str) -> str:
    counts = [f"{len(found)} house{'' if len(found) == 1 else 's'} on {host}"]
    dead = sum(house.dead for house in found)
    troubled = sum(not house.dead and not house.fine for house in found)
    if dead:
        counts.append(f"{dead} DEAD")
    if troubled:
        counts.append(f"{troubled} to look at")
    return ", ".join(counts)


def _lines(house: "House", timezone: str) -> Iterator[str]:
    name = _cut(house.device, _HOUSE - 2)
    how = house.how.upper() if house.dead else house.how
    head = f"{name:<{_HOUSE}}{how:<{_HOW}}"
    if house.dead:
        yield _painted(_ALERT, head + _last_heard(house, timezone))
        return
    coldest = _coldest(house)
    zone = "" if coldest is None else _cut(coldest.name, _ZONE - 2)
    running = ", ".join(house.on) or "–"
    line = f"{head}{zone:<{_ZONE}}{_temperature(coldest):<{_TEMP}}"
    line += _cut(running, _WIDTH - len(line))
    yield line if house.fine else _painted(_WARN, line)
    for text in house.alerts[:_MOST_ALERTS]:
        yield "  " + _cut(text, _WIDTH - 2)
    if len(house.alerts) > _MOST_ALERTS:
        yield f"  and {len(house.alerts) - _MOST_ALERTS} more"


def _last_heard(house: "House", timezone: str) -> str:
    from greenkeeper.reports import words

    if house.told_utc_s is None:
        return "last heard: not known"
    return f"last heard {words.moment(house.told_utc_s, timezone)}"


def _coldest(house: "House") -> "ZoneThere | None":
    """A zone that cannot see before one that can; then the coldest."""

    def order(zone: "ZoneThere") -> tuple[bool, float]:
        return zone.coldest_c is not None, zone.coldest_c or 0.0

    return min(house.zones, key=order, default=None)


def _temperature(zone: "ZoneThere | None") -> str:
    from greenkeeper.reports import words

    return "" if zone is None else words.temperature(zone.coldest_c)


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: max(0, width - 1)] + "…"


def _painted(code: str, text: str) -> str:
    from greenkeeper.reports.screen import wants_colour

    return f"{code}{text}{_PLAIN}" if wants_colour(sys.stdout) else text


def _data(house: "House") -> dict[str, object]:
    return {
        **house._asdict(),
        "dead": house.dead,
        # What a dead house last said is not how it is.
        "zones": [] if house.dead else [zone._asdict() for zone in house.zones],
        "on": [] if house.dead else house.on,
    }
