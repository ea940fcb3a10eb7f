"""Where the house stands: a sign that was forgotten is found by the time zone."""

import pytest

from greenkeeper.settings.checks import place
from tests.settings.examples import changed, said

BRUSSELS = "timezone: Europe/Brussels"


def placed(timezone: str, latitude: float, longitude: float) -> list[str]:
    where = f"timezone: {timezone}\n  latitude: {latitude}\n  longitude: {longitude}"
    return said(changed((BRUSSELS, where)))


@pytest.mark.parametrize(
    ("timezone", "latitude", "longitude"),
    [
        ("Europe/Brussels", 50.8, 4.4),
        ("Europe/Madrid", 43.4, -8.4),  # two hours off the sun in summer
        ("America/Vancouver", 49.3, -123.1),
        ("Australia/Sydney", -33.9, 151.2),
        ("Pacific/Kiritimati", 1.9, -157.4),  # fourteen hours ahead of UTC, west of Greenwich
        ("Asia/Shanghai", 39.5, 76.0),  # three hours off the sun
        ("America/Sao_Paulo", -23.5, -46.6),
        ("UTC", -50.0, 170.0),  # nobody's civil time
        ("Etc/GMT-1", 50.8, 4.4),
    ],
)
def test_places_that_go_with_their_zone(timezone: str, latitude: float, longitude: float) -> None:
    assert placed(timezone, latitude, longitude) == []


def test_a_longitude_with_the_wrong_sign_is_named_with_what_its_sign_means() -> None:
    assert placed("America/Vancouver", 49.3, 123.1) == [
        "house.yaml:5:14  site.longitude: found 123.1, where the sun is 8 h off the clock;"
        " allowed a longitude that goes with America/Vancouver\n"
        "    Degrees east are positive, degrees west negative."
    ]


def test_a_latitude_on_the_wrong_side_of_the_equator_is_named_too() -> None:
    assert placed("Australia/Sydney", 33.9, 151.2) == [
        "house.yaml:4:13  site.latitude: found 33.9, though Australia/Sydney lies south of the"
        " equator; allowed a latitude that goes with Australia/Sydney\n"
        "    Degrees north are positive, degrees south negative."
    ]


def test_the_table_of_the_tz_database_is_read_right() -> None:
    """Its rows say +5050+00420 for Brussels and -335200+1511300, with seconds, for others."""
    assert place._usual_deg("Europe/Brussels") == pytest.approx(50.0 + 50.0 / 60.0)
    assert place._usual_deg("Australia/Sydney") == pytest.approx(-33.0 - 52.0 / 60.0)
    assert place._usual_deg("Etc/GMT-1") is None
