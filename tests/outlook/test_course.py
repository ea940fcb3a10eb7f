"""A course of the outdoor air: through its points, and never invented where there are none."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.outlook.course import (
    COURSE_STEPS,
    LEAST_NIGHTS,
    Course,
    Dark,
    Point,
    by_evening,
    by_last_nights,
)
from greenkeeper.outlook.evening import Fit
from tests.support.tables import rows

SUNSET_S = 1.8e9
NIGHT = Dark(SUNSET_S, SUNSET_S + 15 * 3600.0)


def test_the_evening_method_falls_as_published() -> None:
    """By the root of time from two hours after sunset: the table's night of 0.95 to -5.45 °C."""
    found = by_evening(Fit(0.0, None, -5.45, 0.5, 20), 0.95, None, NIGHT)
    for row in rows("evening_trend"):
        at_s = SUNSET_S + float(row["after_sunset_h"]) * 3600.0
        # Between half hours the course goes straight.
        assert found.at(at_s) == pytest.approx(float(row["celsius"]), abs=0.02)
    assert found.low == Point(NIGHT.sunrise_utc_s, pytest.approx(-5.45))
    assert found.band_k == (pytest.approx(0.64, abs=0.005),) * 2


def test_the_evenings_air_is_never_below_its_own_low() -> None:
    warm = by_evening(Fit(1.0, None, 4.0, 0.5, 20), 2.0, None, NIGHT)
    assert {point.temp_c for point in warm.points} == {2.0}


@pytest.mark.parametrize(("off_k", "low_off_k"), [(-3.0, -3.0), (0.0, 0.0), (2.0, 0.0)])
def test_a_later_reading_counts_and_a_colder_one_to_the_end(off_k: float, low_off_k: float) -> None:
    line = Fit(0.0, None, -5.45, 0.5, 20)
    plain = by_evening(line, 0.95, None, NIGHT)
    now_s = SUNSET_S + 8.2 * 3600.0
    now = Point(now_s, plain.at(now_s) + off_k)
    found = by_evening(line, 0.95, None, NIGHT, now)
    assert found.points[0] == now
    assert found.low.temp_c == pytest.approx(plain.low.temp_c + low_off_k)
    assert found.low.temp_c <= now.temp_c


def test_it_falls_as_the_last_nights_did_in_their_middle() -> None:
    now = Point(SUNSET_S - 3600.0, 6.0)
    found = by_last_nights(now, [2.0, 9.0, 5.0, 4.0, 6.0], NIGHT)
    assert found is not None
    assert found.points[0] == now
    at_dusk_c = found.at(SUNSET_S)
    assert 5.0 < at_dusk_c < 6.0, "it sinks from the afternoon on, without a kink at dusk"
    assert found.at(SUNSET_S + 7200.0) < at_dusk_c - 0.5
    assert found.low == Point(NIGHT.sunrise_utc_s, 1.0)
    below_k, above_k = found.band_k
    assert 0.0 < above_k < below_k, "one night fell far"
    assert "5 nights" in found.source


def test_it_goes_down_the_way_they_went() -> None:
    """At once to the middle, and then no more: three nights did so, of different depth."""
    now = Point(SUNSET_S - 3600.0, 6.0)
    ways_k = [[0.0, *[depth] * (COURSE_STEPS - 1)] for depth in (4.0, 5.0, 6.0)]
    found = by_last_nights(now, [4.0, 5.0, 6.0], NIGHT, ways_k)
    assert found is not None
    assert found.points[0] == now
    assert found.points[-1].utc_s == pytest.approx(NIGHT.sunrise_utc_s)
    assert {point.temp_c for point in found.points[1:]} == {1.0}
    flat = by_last_nights(now, [4.0, 5.0, 6.0], NIGHT, [[0.0] * COURSE_STEPS] * 3)
    assert flat is not None
    assert flat == by_last_nights(now, [4.0, 5.0, 6.0], NIGHT), "nothing to go by"


def test_two_nights_say_nothing() -> None:
    assert by_last_nights(Point(SUNSET_S, 5.0), [3.0] * (LEAST_NIGHTS - 1), NIGHT) is None


@pytest.mark.parametrize("late_s", [0.0, 7200.0, 14.9 * 3600.0])
def test_in_the_night_what_is_left_of_it_counts(late_s: float) -> None:
    now = Point(SUNSET_S + late_s, 3.0)
    found = by_last_nights(now, [2.0] * 5, NIGHT)
    assert found is not None
    assert found.at(now.utc_s) == pytest.approx(3.0, abs=2.0)
    assert found.low.temp_c == pytest.approx(1.0)


COURSES = st.lists(st.floats(-30, 30), min_size=2, max_size=20).map(
    lambda temps: Course(
        "nights",
        "made up",
        tuple(Point(SUNSET_S + 1800.0 * i, temp) for i, temp in enumerate(temps)),
        (1.0, 1.0),
    )
)


@given(COURSES, st.floats(-1e5, 1e5))
def test_it_stays_between_its_points_at_every_moment(course: Course, after_s: float) -> None:
    temps = [point.temp_c for point in course.points]
    assert min(temps) - 1e-9 <= course.at(SUNSET_S + after_s) <= max(temps) + 1e-9


@given(COURSES, st.floats(0.0, 10.0))
def test_a_colder_night_has_its_low_that_much_lower(course: Course, by_k: float) -> None:
    colder = course.colder(by_k)
    assert colder.low.temp_c == pytest.approx(course.low.temp_c - by_k)
    for before, after in zip(course.points, colder.points, strict=True):
        assert before.temp_c - by_k - 1e-9 <= after.temp_c <= before.temp_c + 1e-9
