"""Which weather and which sun a rehearsal has, where no file says."""

from datetime import UTC, datetime
from statistics import fmean

import pytest

from greenkeeper.rehearsal.stage import place_of, stage_of
from greenkeeper.settings.schema import Settings
from tests.rehearsal.houses import settings

# Of no real place: warm winters, and the same half a year later.
NORTHERN = (8.0, 8.5, 10.5, 13.0, 16.0, 19.0, 21.0, 21.0, 18.5, 15.0, 11.5, 9.0)
SOUTHERN = NORTHERN[6:] + NORTHERN[:6]
YEARS = [datetime(year, 1, 1, tzinfo=UTC).timestamp() for year in (2022, 2026)]


def somewhere(months_c: tuple[float, ...] | None, **place: float | None) -> Settings:
    found = settings()
    changes = {"monthly_mean_c": months_c, **place}
    return found.model_copy(update={"site": found.site.model_copy(update=changes)})


def means_c(of: Settings) -> tuple[float, float, float]:
    """Of four invented years, and of their Januaries and Julys."""
    weather = stage_of(of, None).weather
    hours = [YEARS[0] + 7 * 3600.0 * i for i in range(int((YEARS[1] - YEARS[0]) / 7 / 3600.0))]
    found = [(datetime.fromtimestamp(at, UTC).month, weather.at(at).outdoor_c) for at in hours]
    of_month = [fmean(c for month, c in found if month == wanted) for wanted in (1, 7)]
    return fmean(c for _, c in found), *of_month


def test_the_invented_year_is_as_warm_as_the_sites_months() -> None:
    year_c, january_c, july_c = means_c(somewhere(NORTHERN))
    assert year_c == pytest.approx(fmean(NORTHERN), abs=1.0)
    assert january_c == pytest.approx(NORTHERN[0], abs=2.0)  # fronts stay for days
    assert july_c == pytest.approx(NORTHERN[6], abs=2.0)
    assert january_c > means_c(somewhere(None))[1] + 4.0


def test_months_tell_the_hemisphere_where_no_latitude_does() -> None:
    nowhere = {"latitude": None, "longitude": None}
    assert place_of(somewhere(None, **nowhere), None, SOUTHERN)[0] < 0.0
    assert place_of(somewhere(None, **nowhere), None, NORTHERN)[0] > 0.0
    assert place_of(somewhere(None, latitude=-37.0, longitude=145.0), None, None)[0] == -37.0
    _, january_c, july_c = means_c(somewhere(SOUTHERN, **nowhere))
    assert january_c > july_c + 8.0


def test_months_of_the_days_go_before_the_sites() -> None:
    site = somewhere(NORTHERN)
    colder = [each - 10.0 for each in NORTHERN]
    noon = YEARS[0] + 12 * 3600.0
    told, given = (stage_of(site, None, each).weather.at(noon) for each in (None, colder))
    assert told.outdoor_c - given.outdoor_c == pytest.approx(10.0)
