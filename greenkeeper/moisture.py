"""How much water air holds: pure functions that every room may ask.

Lives here: vapour pressure, dew point and absolute humidity from temperature and relative
humidity. Does not live here: what damp means to plants (control/damp.py), and drying them
(control/airing.py).

Everything is over water, below 0 °C too: humidity chips report it that way (WMO-No. 8,
Annex 4.B, whose formulas these are, from memory of their constants; for -45 to 60 °C).
Held in tests/test_moisture.py against psychrolib and against computed values.
"""

import math

# e_s = 6.112 hPa * exp(17.62 t / (243.12 °C + t))
_E0_HPA, _A, _B_C = 6.112, 17.62, 243.12
# Of water vapour: its molar mass over the gas constant, 0.01801528 / 8.314463 kg K/J, in
# grams and hectopascals.
_G_K_PER_HPA_M3 = 216.679
_DRIEST_PCT = 0.01  # a logarithm wants more than nothing


def saturation_hpa(temp_c: float) -> float:
    """Vapour pressure of saturated air, hPa. temp_c: -45 to 60 °C."""
    return _E0_HPA * math.exp(_A * temp_c / (_B_C + temp_c))


def dew_point_c(temp_c: float, rh_pct: float) -> float:
    """Below this temperature water condenses. rh_pct: relative humidity, 0 to 100."""
    vapour_hpa = saturation_hpa(temp_c) * max(rh_pct, _DRIEST_PCT) / 100.0
    lift = math.log(vapour_hpa / _E0_HPA)
    return _B_C * lift / (_A - lift)


def water_g_m3(temp_c: float, rh_pct: float) -> float:
    """Absolute humidity: grams of water in a cubic metre of this air."""
    vapour_hpa = saturation_hpa(temp_c) * rh_pct / 100.0
    return _G_K_PER_HPA_M3 * vapour_hpa / (temp_c + 273.15)
