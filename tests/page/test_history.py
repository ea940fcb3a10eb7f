"""Which span is meant, and the way from each to the next."""

from datetime import date
from urllib.parse import parse_qsl

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.page import history
from greenkeeper.page.history import VIEWS, Asked
from greenkeeper.settings.schema import Settings
from tests.page.house import NOW_UTC_S
from tests.reports.nights import HOUSE

SOUTH = HOUSE.model_copy(update={"site": HOUSE.site.model_copy(update={"latitude": -33.0})})


def asked(settings: Settings = HOUSE, **query: str) -> Asked:
    return history.asked(query, settings, NOW_UTC_S)


def days(found: Asked) -> tuple[date, date]:
    return found.first, found.until


@pytest.mark.parametrize(
    ("view", "first", "until"),
    [
        ("day", date(2031, 1, 14), date(2031, 1, 15)),
        ("night", date(2031, 1, 13), date(2031, 1, 14)),
        ("week", date(2031, 1, 8), date(2031, 1, 15)),
        ("month", date(2031, 1, 1), date(2031, 2, 1)),
        ("winter", date(2030, 7, 1), date(2031, 7, 1)),
    ],
)
def test_without_a_day_the_last_one_is_meant(view: str, first: date, until: date) -> None:
    assert days(asked(view=view)) == (first, until)


def test_south_of_the_equator_a_winter_is_a_year() -> None:
    assert days(asked(SOUTH, view="winter")) == (date(2031, 1, 1), date(2032, 1, 1))


def test_a_night_is_from_noon_to_noon_also_where_the_clock_is_set() -> None:
    found = asked(view="night", day="2031-03-29")
    assert found.span.to_utc_s - found.span.from_utc_s == 23 * 3600.0
    found = asked(view="day", day="2031-10-26")
    assert found.span.to_utc_s - found.span.from_utc_s == 25 * 3600.0


@given(st.sampled_from(VIEWS), st.dates(date(2001, 1, 1), date(2030, 12, 31)))
def test_spans_follow_each_other_without_gap_or_overlap(view: str, day: date) -> None:
    found = asked(view=view, day=day.isoformat())
    assert found.first <= day < found.until or view == "week"
    before, after = history.neighbours(found, NOW_UTC_S + 1e9)
    assert asked(**dict(parse_qsl(before.query))).until == found.first
    assert asked(**dict(parse_qsl(after.query))).first == found.until


@given(st.dates(date(2005, 1, 1), date(2030, 12, 31)), st.integers(0, 1000))
def test_a_span_of_ones_own_is_followed_by_one_as_long(first: date, length: int) -> None:
    last = date.fromordinal(min(first.toordinal() + length, date(2030, 12, 31).toordinal()))
    found = asked(**{"from": first.isoformat(), "to": last.isoformat()})
    assert (found.first, found.last) == (first, last)
    for link in history.neighbours(found, NOW_UTC_S + 1e9):
        other = asked(**dict(parse_qsl(link.query)))
        assert other.until - other.first == found.until - found.first


def test_there_is_no_way_into_what_has_not_begun() -> None:
    assert [link.words for link in history.neighbours(asked(view="day"), NOW_UTC_S)] == ["earlier"]


def test_the_same_time_can_be_seen_by_day_and_by_winter() -> None:
    links = history.views(asked(view="week", day="2031-01-05"))
    assert [link.words for link in links] == list(VIEWS)
    assert [link.words for link in links if link.here] == ["week"]
    assert days(asked(**dict(parse_qsl(links[0].query)))) == (date(2031, 1, 5), date(2031, 1, 6))


def test_nights_of_a_long_span_are_the_last_ones() -> None:
    zone = HOUSE.site.zone
    assert history.evenings(asked(view="winter"), NOW_UTC_S, zone, 92) == (
        date(2030, 10, 14),
        date(2031, 1, 14),
    )
    assert history.evenings(asked(view="day", day="2031-02-01"), NOW_UTC_S, zone, 92) is None
