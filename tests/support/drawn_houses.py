"""Houses drawn at random, with their weather and what their owners wrote in the settings.

Lives here: the ranges, and one draw from them. Does not live here: playing a house
through (rehearsal.py). All houses and all their weather are invented. The ranges are common
practice without a source, but where a line names one; DEFAULT in brackets is the house of
settings/schema.py.

                        HOBBY                                     TINY
    floor               3 to 14 m2 (4.3), walls 1.9 m high        1.2 to 6 m2
    cover               2.2 to 6.5 W/(m2 K): twin-wall with       2.2 to 4.5: lined for the winter
                        bubble film to plain old glass (2.8)
    leaks               0.5 to 3 air changes an hour              0.5 to 2
    heater, by what the coldest hour of its winter needs
                        1.1 to 2 times                            1.1 to 1.6 times
    setpoint            3 to 10 °C                                3 to 7 °C: free of frost
    mean of the year    8 to 11 °C                                9.5 to 12 °C: mild winters
    element's lag       20 to 300 s (120): fan heaters too        120 to 300 s: a bar or a tube

and in both
    air, light staging  14 to 35 kJ/K for each m2 of floor (21)
    pots, soil, water   120 to 700 kJ/K for each m2 of floor (370)
    air to that mass    8 to 25 W/K for each m2 of floor (18.5)
    probes' lag         40 to 300 s (120)
    sun that ends as heat, of that on the floor   0.4 to 1.0 (0.8)
    hysteresis          0.3 to 1 K; by day the setpoint is 3 K higher in one of three
    place               latitude 47 to 57, inland to coast
"""

from random import Random
from typing import Any, NamedTuple

from greenkeeper.house.invented_year import InventedYear
from greenkeeper.house.model import Parameters
from greenkeeper.house.weather import Weather
from greenkeeper.house.wind import loss_share
from greenkeeper.settings.house import House
from greenkeeper.settings.schema import Settings

WINTER_UTC_S = 1_793_491_200.0  # 2026-11-01
SUMMER_UTC_S = 1_777_593_600.0  # 2026-05-01
LONGITUDE = 4.4
SEASON_S = 150 * 86400.0

_WALL_M = 1.9
_AIR_WH_PER_M3K = 0.33  # density times specific heat of air, in Wh/(m3 K)

# What an owner who measures and reckons still gets wrong.
_BELIEVED_WITHIN = 0.3


Range = tuple[float, float]


class Ranges(NamedTuple):
    """What is drawn differently in houses of different kinds."""

    length_m: Range
    width_m: Range
    cover_w_per_m2k: Range
    air_changes: Range  # an hour
    heater_by_need: Range
    setpoint_c: Range
    year_c: Range  # the mean outdoors
    element_lag_s: Range


HOBBY = Ranges(
    (2.0, 5.0),
    (1.5, 2.8),
    (2.2, 6.5),
    (0.5, 3.0),
    (1.1, 2.0),
    (3.0, 10.0),
    (8.0, 11.0),
    (20.0, 300.0),
)
# What this project is for: a very small house, insulated and lined, its heater chosen for it.
TINY = Ranges(
    (1.2, 3.0),
    (1.0, 2.0),
    (2.2, 4.5),
    (0.5, 2.0),
    (1.1, 1.6),
    (3.0, 7.0),
    (9.5, 12.0),
    (120.0, 300.0),
)


class DrawnHouse(NamedTuple):
    name: str
    settings: Settings
    truth: Parameters
    weather: InventedYear
    latitude: float
    heater_w: float
    noise_seed: int


def drawn(seed: int, *, poll_s: float = 30.0, ranges: Ranges = HOBBY) -> DrawnHouse:
    """The house of this number; the same number is always the same house.

    Every second owner described the house, each figure wrong by up to three tenths; one in
    four has one probe in the zone, one in six none outdoors. They go by the number, so that
    any six in a row have all of it.
    """
    chance = Random(seed)
    latitude = chance.uniform(47.0, 57.0)
    weather = InventedYear(
        latitude=latitude,
        longitude=LONGITUDE,
        mean_c=chance.uniform(*ranges.year_c),
        windiness=chance.uniform(0.8, 1.5),
        seed=seed,
    )
    house = _house(chance, ranges)
    setpoint_c = chance.uniform(*ranges.setpoint_c)
    truth = Parameters.from_settings(house)
    need_w = needed_w(truth.loss_w_per_k, weather, setpoint_c)
    heater_w = 50.0 * round(chance.uniform(*ranges.heater_by_need) * need_w / 50.0 + 0.5)
    written: dict[str, Any] = {
        "site": {
            "name": f"invented-{seed}",
            "latitude": latitude,
            "longitude": LONGITUDE,
            "outdoor_probe": None if seed % 6 == 5 else "outdoors",
        },
        "poll_s": poll_s,
        "probes": _probes(("bench-left", "ridge", "outdoors"), poll_s)
        | ({} if seed % 4 == 2 else _probes(("bench-right",), poll_s)),
        "outputs": {
            "heater": {"kind": "modelled", "drives": "heater", "power_w": heater_w},
            "fan": {"kind": "modelled", "drives": "fan"},
        },
        "zones": {
            "bench": {
                "probes": ["bench-left"] + ([] if seed % 4 == 2 else ["bench-right"]),
                "heat": {
                    "output": "heater",
                    "setpoint_c": setpoint_c + (3.0 if seed % 3 == 0 else 0.0),
                    "night_setpoint_c": setpoint_c,
                    "hysteresis_k": chance.uniform(0.3, 1.0),
                },
                "cool": {"output": "fan", "setpoint_c": 26.0, "hysteresis_k": 1.5},
                "ceiling_c": 40.0,
            }
        },
    }
    if seed % 2 == 0:
        written["house"] = _believed(house, chance)
    return DrawnHouse(
        name=f"{seed}",
        settings=Settings.model_validate(written),
        truth=truth,
        weather=weather,
        latitude=latitude,
        heater_w=heater_w,
        noise_seed=seed,
    )


def _house(chance: Random, ranges: Ranges) -> House:
    length_m, width_m = chance.uniform(*ranges.length_m), chance.uniform(*ranges.width_m)
    floor_m2 = length_m * width_m
    cover_m2 = 2.0 * (length_m + width_m) * _WALL_M + 1.15 * floor_m2
    leaks_w_per_k = (
        _AIR_WH_PER_M3K * chance.uniform(*ranges.air_changes) * floor_m2 * (_WALL_M + 0.3)
    )
    return House(
        length_m=length_m,
        width_m=width_m,
        loss_w_per_k=chance.uniform(*ranges.cover_w_per_m2k) * cover_m2 + leaks_w_per_k,
        air_kj_per_k=chance.uniform(14.0, 35.0) * floor_m2,
        mass_kj_per_k=chance.uniform(120.0, 700.0) * floor_m2,
        mass_w_per_k=chance.uniform(8.0, 25.0) * floor_m2,
        element_lag_s=chance.uniform(*ranges.element_lag_s),
        probe_lag_s=chance.uniform(40.0, 300.0),
        sun_share=chance.uniform(0.4, 1.0),
        fan_w_per_k=chance.uniform(30.0, 80.0) * floor_m2,
        ridge_k=chance.uniform(0.5, 3.0),
    )


def _probes(names: tuple[str, ...], poll_s: float) -> dict[str, dict[str, Any]]:
    places = {"ridge": "ridge", "outdoors": "outdoors"}
    return {
        name: {
            "kind": "modelled",
            "place": places.get(name, "bench"),
            "stale_s": max(45.0, 4.0 * poll_s),
        }
        for name in names
    }


def _believed(house: House, chance: Random) -> dict[str, float]:
    figures = (
        *("loss_w_per_k", "air_kj_per_k", "mass_kj_per_k", "mass_w_per_k"),
        *("element_lag_s", "probe_lag_s"),
    )
    return {
        name: getattr(house, name) * chance.uniform(1.0 - _BELIEVED_WITHIN, 1.0 + _BELIEVED_WITHIN)
        for name in figures
    }


def needed_w(loss_w_per_k: float, weather: Weather, setpoint_c: float) -> float:
    """What holds the setpoint in the worst hour of the winter, by the cover's loss alone."""
    hours = (weather.at(WINTER_UTC_S + 3600.0 * hour) for hour in range(int(SEASON_S / 3600.0)))
    return max(
        loss_w_per_k * loss_share(each.wind_m_s) * (setpoint_c - each.outdoor_c) for each in hours
    )
