"""The sun stands where published positions say, whatever the place and the season."""

from datetime import UTC, datetime
from math import degrees

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper import sun
from tests.support import tables

ROWS = {row["quantity"]: row for row in tables.rows("sun_positions")}
EQUINOX = datetime(2024, 3, 20, 3, 6, tzinfo=UTC).timestamp()  # to the minute, by definition


def utc_s(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def highest_deg(day: datetime, latitude: float, longitude: float) -> float:
    return max(
        sun.elevation_deg(day.timestamp() + minute * 60.0, latitude, longitude)
        for minute in range(1440)
    )


def test_elevation_is_the_published_one() -> None:
    row = ROWS["elevation"]
    place = float(row["latitude"]), float(row["longitude"])
    found = sun.elevation_deg(utc_s(row["utc"]), *place)
    assert found == pytest.approx(float(row["degrees"]), abs=0.02)


@pytest.mark.parametrize(("index", "quantity"), [(0, "declination"), (1, "right ascension")])
def test_the_suns_place_is_the_published_one(index: int, quantity: str) -> None:
    row = ROWS[quantity]
    days = (utc_s(row["utc"]) - 946_728_000.0) / 86_400.0
    found = degrees(sun._position(days)[index]) % 360.0
    assert found == pytest.approx(float(row["degrees"]) % 360.0, abs=0.01)


@pytest.mark.parametrize("latitude", [-60.0, -33.9, 0.0, 23.0, 50.8, 65.0])
def test_at_the_equinox_noon_stands_at_ninety_less_the_latitude(latitude: float) -> None:
    day = datetime(2024, 3, 20, tzinfo=UTC)
    # The declination moves by 0.4° a day; noon is at most half a day from the equinox.
    assert highest_deg(day, latitude, 4.4) == pytest.approx(90.0 - abs(latitude), abs=0.25)


def test_on_the_equator_the_equinoxs_sun_is_up_for_half_the_day() -> None:
    up = sum(sun.elevation_deg(EQUINOX + s, 0.0, 30.0) > 0.0 for s in range(0, 86_400, 60))
    assert up == pytest.approx(720, abs=3)


@pytest.mark.parametrize(
    ("latitude", "month", "highest"),
    [(70.0, 12, -3.4), (70.0, 6, 43.4), (-33.9, 6, 32.7), (50.8, 12, 15.8)],
)
def test_solstices_are_an_obliquity_away_from_the_equinox(
    latitude: float, month: int, highest: float
) -> None:
    """90° - |latitude - declination|, the declination being 23.44° in June."""
    assert highest_deg(datetime(2026, month, 21, tzinfo=UTC), latitude, 20.0) == pytest.approx(
        highest, abs=0.1
    )


def test_east_comes_first() -> None:
    six = datetime(2026, 3, 20, 6, tzinfo=UTC).timestamp()
    east, here, west = (sun.elevation_deg(six, 50.0, lon) for lon in (15.0, 0.0, -15.0))
    assert east > here > west


@pytest.mark.parametrize("latitude", [-90.0, 90.0])
@pytest.mark.parametrize("longitude", [-180.0, 0.0, 180.0])
def test_poles_and_date_line_are_places_like_any_other(latitude: float, longitude: float) -> None:
    found = sun.elevation_deg(EQUINOX, latitude, longitude)
    assert found == pytest.approx(0.0, abs=0.05)


@given(
    st.floats(0.0, 2.5e9), st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.floats(-20.0, 20.0)
)
def test_whether_it_is_below_needs_no_elevation_for_every_minute(
    at_s: float, latitude: float, longitude: float, deg: float
) -> None:
    for after_s in (0.0, 600.0, 1200.0, 1790.0):
        elevation_deg = sun.elevation_deg(at_s + after_s, latitude, longitude)
        assert sun.is_below(deg, at_s + after_s, latitude, longitude) is (elevation_deg < deg)
