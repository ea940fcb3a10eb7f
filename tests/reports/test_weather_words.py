"""A file of another region is told, one of the neighbourhood is not."""

import pytest

from greenkeeper.house.records.record import Place
from greenkeeper.reports.weather_words import apart_km, far
from greenkeeper.settings.schema import Site

BRUSSELS = Site(name="orchard", latitude=50.8, longitude=4.4)
GREENSBORO = Place("Greensboro", 36.1, -79.95, -5.0)


def test_distances_are_those_of_the_sphere() -> None:
    """A degree of a great circle is a nautical mile, 1.852 km, sixty times (to 0.1 %)."""
    assert apart_km(0.0, 10.0, 0.0, 11.0) == pytest.approx(60 * 1.852, rel=2e-3)
    assert apart_km(50.0, 10.0, 51.0, 10.0) == pytest.approx(60 * 1.852, rel=2e-3)
    assert apart_km(90.0, 0.0, -90.0, 77.0) == pytest.approx(180 * 60 * 1.852, rel=2e-3)
    assert apart_km(10.0, 179.5, 10.0, -179.5) < 111.0


def test_a_file_of_another_continent_is_told_with_whose_hours_count() -> None:
    told = far(GREENSBORO, BRUSSELS, "your timezone")
    assert told.startswith("That is 6600 km from your site")
    assert told.endswith("the hours of night and tariff those of your timezone.")


@pytest.mark.parametrize("place", [None, Place("Uccle", 50.8, 4.36, 1.0)])
def test_a_file_of_the_neighbourhood_or_of_no_place_is_not(place: Place | None) -> None:
    assert far(place, BRUSSELS, "your timezone") == ""


def test_a_site_that_says_not_where_it_is_cannot_be_far() -> None:
    assert far(GREENSBORO, Site(name="orchard"), "your timezone") == ""
