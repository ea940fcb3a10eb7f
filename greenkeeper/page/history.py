"""Any span of the record: which one is asked for, and what there is of it.

Lives here: spans by day, night, week, month and winter, or from one day to another, and
the way from each to the next. Does not live here: pictures (courses.py), layout.
"""

from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple
from urllib.parse import urlencode

from greenkeeper.errors import GreenkeeperError
from greenkeeper.page.figures import Figures
from greenkeeper.reports import night, winters
from greenkeeper.reports.night import Span
from greenkeeper.settings.schema import Settings

VIEWS = ("day", "night", "week", "month", "winter")
_FIRST_YEAR, _LAST_YEAR = 2000, 2200  # what a journal can hold, and far beyond
_LONGEST = timedelta(days=366 * 12)


class AskedError(GreenkeeperError):
    """What was asked for makes no sense; the message says what does."""


class Asked(NamedTuple):
    """From the begin of the first day to the begin of `until`; a night from noon to noon."""

    view: str  # one of VIEWS, or "span"
    first: date
    until: date
    span: Span

    @property
    def last(self) -> date:
        return self.until - timedelta(days=1)

    def query(self) -> str:
        return urlencode({"from": self.first, "to": self.last})


class Link(NamedTuple):
    words: str
    query: str
    here: bool


def asked(query: Mapping[str, str], settings: Settings, now_utc_s: float) -> Asked:
    """Of the words of an address: view and day, or from and to (both included).

    Raises AskedError.
    """
    zone = settings.site.zone
    today = datetime.fromtimestamp(now_utc_s, UTC).astimezone(zone).date()
    if query.get("from") or query.get("to"):
        first = _day(query.get("from") or query["to"])
        last = _day(query.get("to") or query["from"])
        if last < first:
            raise AskedError(f"from {first} to {last} runs backwards")
        if last - first > _LONGEST:
            raise AskedError("longer than twelve years: ask for less")
        return _asked("span", first, last + timedelta(days=1), zone)
    view = query.get("view") or "week"
    if view not in VIEWS:
        raise AskedError(f"view is one of {', '.join(VIEWS)}")
    day = _day(query["day"]) if query.get("day") else _usual(view, today)
    return _asked(view, *_bounds(view, day, settings), zone)


def _usual(view: str, today: date) -> date:
    return today - timedelta(days=1) if view == "night" else today


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise AskedError(f"'{text[:40]}' is no day: write it as 2031-01-14") from error
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise AskedError(f"{day}: a day from {_FIRST_YEAR} to {_LAST_YEAR}")
    return day


def _bounds(view: str, day: date, settings: Settings) -> tuple[date, date]:
    if view in ("day", "night"):
        return day, day + timedelta(days=1)
    if view == "week":
        return day - timedelta(days=6), day + timedelta(days=1)
    if view == "month":
        first = day.replace(day=1)
        return first, (first + timedelta(days=31)).replace(day=1)
    southern = settings.site.latitude is not None and settings.site.latitude < 0.0
    found = winters.winter_of(day, southern=southern)
    return found.first, found.next_first


def _asked(view: str, first: date, until: date, zone: tzinfo) -> Asked:
    if view == "night":
        return Asked(view, first, until, night.night(first, zone))
    begins, ends = (datetime.combine(each, time(), zone).timestamp() for each in (first, until))
    return Asked(view, first, until, Span(begins, ends))


def views(found: Asked) -> list[Link]:
    """The same time by day, by week and so on."""
    last = found.until - timedelta(days=1)
    return [
        Link(view, urlencode({"view": view, "day": last}), view == found.view) for view in VIEWS
    ]


def neighbours(found: Asked, now_utc_s: float) -> list[Link]:
    """The span before and the one after; none that has not begun."""
    length = found.until - found.first
    last = found.until - timedelta(days=1)
    earlier = found.first - (timedelta(days=1) if found.view != "span" else length)
    links = []
    before: dict[str, object]
    after: dict[str, object]
    if found.view == "span":
        before = {"from": earlier, "to": found.first - timedelta(days=1)}
        after = {"from": found.until, "to": last + length}
    else:
        before = {"view": found.view, "day": earlier}
        after = {"view": found.view, "day": last + _step(found, length)}
    if earlier.year >= _FIRST_YEAR:
        links.append(Link("earlier", urlencode(before), here=False))
    if found.span.to_utc_s <= now_utc_s:
        links.append(Link("later", urlencode(after), here=False))
    return links


def _step(found: Asked, length: timedelta) -> timedelta:
    """To a day within the next span."""
    return length if found.view in ("day", "night", "week") else timedelta(days=1)


def title(found: Asked, figures: Figures) -> str:
    last = found.until - timedelta(days=1)
    if found.view == "night":
        return f"The night of {figures.whole_day(found.first)}"
    if found.first == last:
        return figures.whole_day(found.first)
    return f"{figures.whole_day(found.first)} to {figures.whole_day(last)}"


def evenings(found: Asked, now_utc_s: float, zone: tzinfo, most: int) -> tuple[date, date] | None:
    """First and end (not included) of the nights in the span, the last ones if there are many."""
    last = night.last_evening(now_utc_s, zone) + timedelta(days=1)
    until = min(found.until, last)
    first = max(found.first, until - timedelta(days=most))
    return (first, until) if first < until else None
