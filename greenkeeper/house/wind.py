"""What wind does to the heat loss of a glazed house.

Lives here: the loss in a wind as a share of the loss in a usual one. Does not live
here: any wind (weather.py) and the house (model.py), whose loss_w_per_k is meant for
USUAL_M_S.
"""

USUAL_M_S = 4.0

# Through the skin and through the gaps: of the whole heat need, infiltration is 10 to 20 %
# (J. Bartok, trade articles on greenhouse heating).
_SKIN_SHARE = 0.85

# ISO 6946, annex C: outer surface 4 + 4v plus radiation 0.9 x 5.13 W/(m2 K), inner surface
# 0.13 m2 K/W; the cover itself 4 mm of glass, 1.0 W/(m K). From memory.
_RADIATION_W_M2K = 0.9 * 5.13
_REST_M2K_W = 0.13 + 0.004

# A gap lets through what the wind presses in, and a little without any (common practice).
_CALM_LEAKAGE = 0.2

# Rounded so that a house needs only a few sets of weights for all winds.
_STEPS = 20.0


def loss_share(wind_m_s: float) -> float:
    """The loss at this wind over the loss at USUAL_M_S, in steps of a twentieth."""
    skin = _skin_w_m2k(wind_m_s) / _skin_w_m2k(USUAL_M_S)
    gaps = _CALM_LEAKAGE + (1.0 - _CALM_LEAKAGE) * wind_m_s / USUAL_M_S
    return round((_SKIN_SHARE * skin + (1.0 - _SKIN_SHARE) * gaps) * _STEPS) / _STEPS


def _skin_w_m2k(wind_m_s: float) -> float:
    return 1.0 / (1.0 / (4.0 + 4.0 * wind_m_s + _RADIATION_W_M2K) + _REST_M2K_W)
