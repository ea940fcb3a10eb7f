"""A forecast is believed only where it is one, of this place, and of now."""

import copy
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.model import Morning
from greenkeeper.outlook.course import FORECAST, Dark
from greenkeeper.outlook.forecast import ForecastError, course, morning, parse
from tests.outlook.forecasts import LATITUDE, LONGITUDE, document, written

MADE_S = 1.8e9 // 3600.0 * 3600.0
NOW_S = MADE_S + 2.5 * 3600.0
NIGHT = Dark(NOW_S + 3600.0, NOW_S + 16 * 3600.0)
PLAIN = document(MADE_S, lambda hour: 6.0 - 0.5 * min(hour, 20))


def taken(found: dict[str, Any], **changed: float) -> Any:
    place = {"latitude": LATITUDE, "longitude": LONGITUDE, "now_utc_s": NOW_S, **changed}
    return course(parse(written(found)), dark=NIGHT, **place)


def test_its_hours_become_the_course_from_now_to_after_sunrise() -> None:
    found = taken(PLAIN)
    assert found.kind == FORECAST
    assert found.points[0] == (NOW_S, pytest.approx(6.0 - 0.5 * 2.5))
    assert found.points[-1].utc_s == NIGHT.sunrise_utc_s + 3600.0
    assert found.at(MADE_S + 10.0 * 3600.0) == pytest.approx(1.0)
    assert found.low.temp_c == pytest.approx(6.0 - 0.5 * 19.5)


def test_hours_six_apart_are_enough() -> None:
    assert taken(document(MADE_S, lambda hour: 4.0, step_h=6)).low.temp_c == 4.0


def changed(change: Callable[[dict[str, Any]], object]) -> dict[str, Any]:
    found = copy.deepcopy(PLAIN)
    change(found)
    return found


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda d: d.pop("geometry"), "not a forecast: 'geometry' is missing"),
        (lambda d: d["properties"].pop("meta"), "not a forecast: 'meta' is missing"),
        (lambda d: d["properties"].update(timeseries=None), "not where the form wants them"),
        (lambda d: d["properties"].update(timeseries=[]), "holds no hours"),
        (lambda d: d["properties"]["timeseries"].reverse(), "not in order"),
        (
            lambda d: d["properties"]["meta"]["units"].update(air_temperature="fahrenheit"),
            "celsius is allowed",
        ),
        (lambda d: d["properties"]["meta"].update(updated_at="2027-01-15T08:00"), "no time zone"),
        (
            lambda d: d["properties"]["timeseries"][3]["data"]["instant"]["details"].update(
                air_temperature=300.0
            ),
            "no temperature of the air",
        ),
        (
            lambda d: d["properties"]["timeseries"][3]["data"]["instant"]["details"].update(
                wind_speed=-1.0
            ),
            "is no wind",
        ),
        (lambda d: d["geometry"].update(coordinates=[-77.0, 38.9]), "of another place"),
        (lambda d: d["properties"].update(timeseries=d["properties"]["timeseries"][:12]), "reach"),
        (lambda d: d["properties"].update(timeseries=d["properties"]["timeseries"][9:]), "reach"),
        (lambda d: d["properties"]["timeseries"].__delitem__(slice(6, 14)), "a gap"),
    ],
)
def test_what_cannot_be_believed_is_refused_in_words(
    change: Callable[[dict[str, Any]], object], why: str
) -> None:
    with pytest.raises(ForecastError, match=why):
        taken(changed(change))


def test_its_wind_comes_along_where_it_tells_of_any_in_metres_a_second() -> None:
    assert taken(PLAIN).wind_at(MADE_S + 7200.0) == 2.1
    in_knots = changed(lambda d: d["properties"]["meta"]["units"].update(wind_speed="kn"))
    assert taken(in_knots).wind_at(MADE_S + 7200.0) is None
    calm = changed(
        lambda d: [
            row["data"]["instant"]["details"].pop("wind_speed")
            for row in d["properties"]["timeseries"]
        ]
    )
    assert taken(calm).winds == ()


def clouded(percent: Callable[[int], object], unit: str = "%") -> dict[str, Any]:
    """percent: of the hours since it was made."""

    def cloud(found: dict[str, Any]) -> None:
        found["properties"]["meta"]["units"]["cloud_area_fraction"] = unit
        for hour, row in enumerate(found["properties"]["timeseries"]):
            row["data"]["instant"]["details"]["cloud_area_fraction"] = percent(hour)

    return changed(cloud)


def test_the_clouds_of_the_first_hours_after_sunrise_come_along() -> None:
    rise_h = (NIGHT.sunrise_utc_s - MADE_S) / 3600.0
    clear_by_then = clouded(lambda hour: 20.0 if rise_h <= hour <= rise_h + 3.0 else 100.0)
    found = morning(parse(written(clear_by_then)), NIGHT)
    assert found == Morning(MADE_S, NIGHT.sunrise_utc_s, pytest.approx(0.2))


def test_a_forecast_that_says_nothing_of_clouds_says_nothing_of_the_morning() -> None:
    assert morning(parse(written(PLAIN)), NIGHT) is None
    in_eighths = clouded(lambda hour: 4.0, unit="okta")
    assert morning(parse(written(in_eighths)), NIGHT) is None
    short = clouded(lambda hour: 0.0)
    del short["properties"]["timeseries"][12:]
    assert morning(parse(written(short)), NIGHT) is None


def test_more_clouds_than_there_is_sky_are_refused() -> None:
    with pytest.raises(ForecastError, match="cannot be clouded"):
        parse(written(clouded(lambda hour: 101.0)))


def test_an_old_one_is_refused() -> None:
    late_s = MADE_S + 13 * 3600.0
    with pytest.raises(ForecastError, match="13 hours ago"):
        taken(PLAIN, now_utc_s=late_s)


def test_one_from_after_the_moment_that_is_asked_for_is_refused() -> None:
    with pytest.raises(ForecastError, match="after the moment"):
        taken(PLAIN, now_utc_s=MADE_S - 3600.0)


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_no_answer_whatever_raises_anything_else(raw: bytes) -> None:
    with pytest.raises(ForecastError):
        parse(raw)


@given(st.integers(0, 4000))
def test_one_that_was_cut_short_is_refused(length: int) -> None:
    with pytest.raises(ForecastError, match="no JSON document, or not all of one"):
        parse(written(PLAIN)[:length])
