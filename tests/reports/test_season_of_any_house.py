"""Whatever house the settings take, its sheet and its season are told, finite and in width."""

import json
from typing import Any, get_args

from hypothesis import given
from hypothesis import settings as trying
from hypothesis import strategies as st

from greenkeeper.reports import (
    season,
    season_climate,
    season_data,
    season_house,
    season_sheet,
    season_words,
)
from greenkeeper.settings import house as types
from greenkeeper.settings import load
from greenkeeper.settings.faults import SettingsError

COVERS = st.sampled_from(get_args(types.Cover))
CHANGES = st.one_of(
    st.fixed_dictionaries({"lining": st.sampled_from(get_args(types.Lining))}),
    st.fixed_dictionaries({"cover": COVERS}),
    st.fixed_dictionaries({"u_w_m2k": st.sampled_from([0.05, 10])}),
    st.fixed_dictionaries({"air_changes_per_h": st.sampled_from([0, 20])}),
    st.fixed_dictionaries({"water_l": st.sampled_from([0, 0.5, 20_000])}),
)
TERMS = st.fixed_dictionaries(
    {
        "price": st.sampled_from([0, 1, 1e6]),
        "lasts_years": st.sampled_from([0.5, 60]),
        "nights_only": st.booleans(),
        "fitted": st.booleans(),
    },
    optional={"on": st.just(["front"])},
)
HOUSES = st.fixed_dictionaries(
    {
        "length_m": st.sampled_from([0.31, 2, 30]),
        "width_m": st.sampled_from([0.31, 2, 15]),
        "shape": st.sampled_from(get_args(types.Shape)),
        "eaves_m": st.sampled_from([0, 0.05, 1.5, 6]),
        "ridge_m": st.sampled_from([0.5, 1, 2, 10]),
        "cover": COVERS,
    },
    optional={
        "air_changes_per_h": st.sampled_from([0, 20]),
        "edge_w_mk": st.sampled_from([0, 5]),
        "mass_kj_per_k": st.sampled_from([1.1, 1e6]),
        "mass_w_per_k": st.sampled_from([1.1, 1e4]),
        "ground_w_m2k": st.sampled_from([0, 10]),
        "sky_cooling": st.booleans(),
        "sun_share": st.sampled_from([0, 1]),
        "design_low_c": st.sampled_from([-50, 15]),
        "loss_w_per_k": st.sampled_from([1.1, 5000]),
        "surfaces": st.dictionaries(
            st.sampled_from(["front", "extra", "x" * 40]),
            st.fixed_dictionaries({"area_m2": st.sampled_from([0.01, 1000]), "cover": COVERS}),
        ),
        "improvements": st.dictionaries(
            st.sampled_from(["one", "two", "three", "n" * 40]),
            st.builds(lambda change, terms: {**change, **terms}, CHANGES, TERMS),
        ),
    },
)


def _settings(house: dict[str, Any], outdoor_c: float) -> str:
    return json.dumps(
        {
            "site": {"name": "n" * 40, "latitude": 51, "longitude": 7,
                     "monthly_mean_c": [outdoor_c] * 12},
            "probes": {"p": {"kind": "modelled", "place": "bench"}},
            "outputs": {"h" * 40: {"kind": "modelled", "drives": "heater", "power_w": 1500}},
            "zones": {"z" * 40: {"probes": ["p"], "heat": {"output": "h" * 40, "setpoint_c": 6}}},
            "plants": [{"name": "p" * 80, "zone": "z" * 40, "min_c": 5},
                       {"name": "q", "zone": "z" * 40, "rating": "H2"}],
            "tariff": {"currency": "EUROS", "per_kwh": 100},
            "house": house,
        }
    )  # fmt: skip


def _hours(outdoor_c: float) -> bytes:
    rows = [
        f"2031-01-{1 + hour // 24:02d}T{hour % 24:02d}:00Z,{outdoor_c},"
        f"{max(0, 200 - 40 * abs(hour % 24 - 12))},{200 if hour % 2 else 300}"
        for hour in range(48)
    ]
    return "\n".join(["time,outdoor_c,sun_w_m2,sky_w_m2", *rows]).encode()


@trying(max_examples=60, deadline=None)
@given(house=HOUSES, outdoor_c=st.sampled_from([-40.0, 4.0, 40.0]), by_hours=st.booleans())
def test_every_house_that_is_taken_is_told(
    house: dict[str, Any], outdoor_c: float, by_hours: bool
) -> None:
    try:
        settings = load.parse(_settings(house, outdoor_c), "house.yaml")
    except SettingsError:
        return  # refused in plain words: tests/settings
    who, sheet = season_house.held(settings), season_house.described(settings)
    # Hours of a winter month: 40 °C would not be taken for one.
    hours = _hours(min(outdoor_c, 20.0))
    file = season_climate.WeatherFile("w.csv", hours) if by_hours else None
    found = season.facts(settings, who, season_climate.climate(settings, sheet, file))
    told = [*season_words.lines(found, settings), *season_sheet.lines(settings, who)]
    assert max(map(len, told)) <= 80
    json.dumps(season_data.data(found, settings), allow_nan=False)
    assert found.base.kwh >= 0.0
