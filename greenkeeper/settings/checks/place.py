"""Where the house stands: does its place fit its time zone?

A sign forgotten in a longitude or a latitude makes bright day dark, and the sun that warms the
house by then would be held to be a heater that does not stop (control/watching/stuck.py).
Both are held against the time zone, which people rarely get wrong by so much.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path

from greenkeeper.settings.checks.finding import Finding, is_written
from greenkeeper.settings.faults import number
from greenkeeper.settings.schema import Settings, Site

# Civil time strays from the sun's by three hours at most (western China); summer time is left
# out by asking in both halves of the year.
_MOST_ASTRAY_H = 4.0
_DEG_PER_H = 15.0

# Nearer to the equator one zone may reach to both sides of it.
_SURE_DEG = 15.0

_HALVES = (datetime(2026, 1, 1, tzinfo=UTC), datetime(2026, 7, 1, tzinfo=UTC))
_ZONE_LEAN = (("site", "timezone"),)


def faults(settings: Settings) -> Iterator[Finding]:
    yield from of_site(settings.site)


def of_site(site: Site) -> Iterator[Finding]:
    """The same, before there are settings."""
    if is_written(site, "timezone") and site.timezone != "UTC":
        yield from _longitude(site)
        yield from _latitude(site)


def _longitude(site: Site) -> Iterator[Finding]:
    if site.longitude is None:
        return
    offsets_h = [_offset_h(site, moment) for moment in _HALVES]
    astray_h = min(_round_the_clock(hours - site.longitude / _DEG_PER_H) for hours in offsets_h)
    if astray_h > _MOST_ASTRAY_H:
        found = f"{number(site.longitude)}, where the sun is {astray_h:.0f} h off the clock"
        allowed = f"a longitude that goes with {site.timezone}"
        hint = "Degrees east are positive, degrees west negative."
        yield Finding(("site", "longitude"), found, allowed, hint, _ZONE_LEAN)


def _latitude(site: Site) -> Iterator[Finding]:
    usual_deg = None if site.latitude is None else _usual_deg(site.timezone)
    if site.latitude is None or usual_deg is None:
        return
    if min(abs(site.latitude), abs(usual_deg)) > _SURE_DEG and site.latitude * usual_deg < 0.0:
        side = "north" if usual_deg > 0.0 else "south"
        found = f"{number(site.latitude)}, though {site.timezone} lies {side} of the equator"
        allowed = f"a latitude that goes with {site.timezone}"
        hint = "Degrees north are positive, degrees south negative."
        yield Finding(("site", "latitude"), found, allowed, hint, _ZONE_LEAN)


def _offset_h(site: Site, moment: datetime) -> float:
    offset = moment.astimezone(site.zone).utcoffset()
    return 0.0 if offset is None else offset.total_seconds() / 3600.0


def _round_the_clock(hours: float) -> float:
    """Across the date line 13 h ahead are 11 h behind."""
    return abs((hours + 12.0) % 24.0 - 12.0)


def _usual_deg(timezone: str) -> float | None:
    """Degrees north of the zone's principal place, from the tz database's own table."""
    folder = Path(import_module("tzdata").__path__[0])
    table = (folder / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    rows = (line.split("\t") for line in table.splitlines() if not line.startswith("#"))
    return next((_degrees_north(row[1]) for row in rows if row[2] == timezone), None)


def _degrees_north(coordinates: str) -> float:
    """Of ±DDMM±DDDMM or ±DDMMSS±DDDMMSS (ISO 6709)."""
    return float(coordinates[:3]) + float(coordinates[0] + coordinates[3:5]) / 60.0
