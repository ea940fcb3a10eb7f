"""Sun and irradiance against pvlib, an independent library, over a year and the globe."""

import math
from datetime import UTC, datetime

import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper import sun
from greenkeeper.house import irradiance
from greenkeeper.house.irradiance import Irradiance
from greenkeeper.sun import Position

YEAR_FROM = datetime(2025, 1, 1, tzinfo=UTC).timestamp()

MOMENTS = st.floats(YEAR_FROM, YEAR_FROM + 365 * 86_400.0)
SLOPES = st.floats(0.0, 90.0)
AZIMUTHS = st.floats(0.0, 359.0)
POSITIONS = st.builds(Position, st.floats(4.0, 89.0), AZIMUTHS)
LEVELS = st.floats(0.0, 1100.0)


def pvlib_position(moments: list[float], latitude: float, longitude: float) -> object:
    times = [datetime.fromtimestamp(moment, UTC) for moment in moments]
    import pandas as pd

    return pvlib.solarposition.get_solarposition(pd.DatetimeIndex(times), latitude, longitude)


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(36.1, -79.95), (51.4, 6.97), (-33.9, 151.2), (64.1, -21.9)]
)
def test_the_sun_stands_where_pvlib_puts_it(latitude: float, longitude: float) -> None:
    moments = [YEAR_FROM + hour * 3600.0 for hour in range(0, 8760, 17)]
    theirs = pvlib_position(moments, latitude, longitude)
    for i, moment in enumerate(moments):
        ours = sun.position(moment, latitude, longitude)
        elevation, azimuth = theirs["elevation"].iloc[i], theirs["azimuth"].iloc[i]
        assert ours.elevation_deg == pytest.approx(elevation, abs=0.02)
        aside = (ours.azimuth_deg - azimuth + 180.0) % 360.0 - 180.0
        assert aside * math.cos(math.radians(elevation)) == pytest.approx(0.0, abs=0.02)


@given(moment=MOMENTS, level=LEVELS, at=POSITIONS)
def test_splitting_a_level_measurement_is_pvlibs_erbs(
    moment: float, level: float, at: Position
) -> None:
    day = datetime.fromtimestamp(moment, UTC).timetuple().tm_yday
    theirs = pvlib.irradiance.erbs(level, 90.0 - at.elevation_deg, day)
    ours = irradiance.split(level, at, moment)
    # Theirs takes Spencer's series for the sun's distance: half a percent of the clearness.
    assert ours.diffuse_w_m2 == pytest.approx(theirs["dhi"], abs=0.012 * level + 1e-9)
    beam_w_m2 = ours.direct_w_m2 * math.sin(math.radians(at.elevation_deg))
    assert beam_w_m2 + ours.diffuse_w_m2 == pytest.approx(level)


@given(at=POSITIONS, direct=LEVELS, diffuse=st.floats(0.0, 500.0), slope=SLOPES, azimuth=AZIMUTHS)
def test_irradiance_on_a_plane_is_pvlibs_isotropic_one(
    at: Position, direct: float, diffuse: float, slope: float, azimuth: float
) -> None:
    level = direct * math.sin(math.radians(at.elevation_deg)) + diffuse
    theirs = pvlib.irradiance.get_total_irradiance(
        slope, azimuth, 90.0 - at.elevation_deg, at.azimuth_deg, direct, level, diffuse,
        albedo=irradiance.GROUND_REFLECTS, model="isotropic",
    )  # fmt: skip
    ours = irradiance.on_plane(at, Irradiance(level, direct, diffuse), slope, azimuth)
    assert ours.level_w_m2 == pytest.approx(theirs["poa_global"], abs=1e-6)
    assert ours.direct_w_m2 == pytest.approx(theirs["poa_direct"], abs=1e-6)


@pytest.mark.parametrize("angle", [0, 20, 40, 60, 75, 84, 88])
def test_a_pane_passes_less_at_a_glancing_angle_as_ashrae_says(angle: int) -> None:
    theirs = max(0.0, pvlib.iam.ashrae(angle, b=0.1))
    assert irradiance.passes(math.cos(math.radians(angle))) == pytest.approx(theirs, abs=1e-9)


def test_the_sun_behind_a_plane_adds_no_beam() -> None:
    low_south = Position(15.0, 180.0)
    north_wall = irradiance.on_plane(low_south, Irradiance(300.0, 700.0, 120.0), 90.0, 0.0)
    assert north_wall.direct_w_m2 == 0.0
    assert north_wall.level_w_m2 > 0.0


def test_a_low_winter_sun_falls_harder_on_a_south_wall_than_on_the_ground() -> None:
    sky = Irradiance(300.0, 700.0, 120.0)
    wall = irradiance.on_plane(Position(15.0, 180.0), sky, 90.0, 180.0)
    assert wall.level_w_m2 > 2.0 * sky.level_w_m2


def test_at_night_there_is_no_sun() -> None:
    below = Position(-5.0, 0.0)
    assert irradiance.split(0.0, below, YEAR_FROM) == irradiance.NO_SUN
    assert irradiance.on_plane(below, irradiance.NO_SUN, 90.0, 180.0).level_w_m2 == 0.0
