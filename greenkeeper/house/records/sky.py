"""How warm the sky looks: the temperature of a black body that would radiate as it does.

Lives here: that temperature from measured long-wave radiation, or from clouds and dew
point. Does not live here: what a cold sky takes from a house (model.py).
"""

import math
from collections.abc import Iterable

STEFAN_BOLTZMANN = 5.670374e-8  # W/(m² K⁴), CODATA 2018
_ZERO_K = 273.15


def temperatures_c(sky_w_m2: Iterable[float]) -> list[float]:
    """From the long-wave radiation of the sky on level ground."""
    return [math.pow(w / STEFAN_BOLTZMANN, 0.25) - _ZERO_K for w in sky_w_m2]


def from_clouds_c(
    outdoor_c: Iterable[float], dew_point_c: Iterable[float], cloud_tenths: Iterable[float]
) -> list[float]:
    """Where it was not measured: Clark & Allen (1978) for a clear sky and Walton (1983) for
    clouds, as EnergyPlus has them (from memory). tests/house/test_records.py holds it
    against measured skies of German test years."""
    return [
        _from_cloud_c(air_c, dew_c, tenths)
        for air_c, dew_c, tenths in zip(outdoor_c, dew_point_c, cloud_tenths, strict=True)
    ]


def _from_cloud_c(air_c: float, dew_c: float, tenths: float) -> float:
    clear = 0.787 + 0.764 * math.log((dew_c + _ZERO_K) / _ZERO_K)
    clouded = 1.0 + tenths * (0.0224 + tenths * (-0.0035 + tenths * 0.00028))
    return (air_c + _ZERO_K) * math.pow(min(1.0, clear * clouded), 0.25) - _ZERO_K
