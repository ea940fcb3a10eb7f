"""The few figures of a house that proportion works with, from wherever they are best known.

Lives here: choosing between what was learned, what the owner measured, and what is
believed of anybody's house. Does not live here: learning (house/learning), what is done
with them (observer.py).
"""

from typing import NamedTuple

from greenkeeper.control.observer import Figures
from greenkeeper.control.watching.thresholds import air_constant_s, air_gain_k, measured
from greenkeeper.learned import Learned
from greenkeeper.settings.schema import Settings

# A house of which nobody knows anything: a common gain and lag, and an air that swings more than
# most. Tried on drawn houses (tests/bench/bench_thrift.py); no published source.
ANYBODYS = Figures(gain_k=18.0, fast_s=500.0, element_s=60.0, probe_s=180.0)

# Of the lag from switching to sight, where its two parts are not known, the element's. Rather
# too little: then the air is believed to swing more than it does, and is kept from it.
_ELEMENT_SHARE = 0.2
_LEAST_S = 5.0
# A house outside these is none: a damaged file, or a lesson gone wrong.
_LEAST = Figures(2.0, 60.0, _LEAST_S, _LEAST_S)
_MOST = Figures(100.0, 7200.0, 1800.0, 1800.0)


class Known(NamedTuple):
    figures: Figures
    of_this_house: bool
    source: str  # in words, for people


def figures_of(settings: Settings, zone: str, learned: Learned | None) -> Known:
    """The figures for this zone. The house's own hold for the zone they were learned in, and for
    none under an inner cover."""
    heat = settings.zones[zone].heat
    assert heat is not None  # noqa: S101 - only heated zones are asked for
    found = None
    if learned is not None and learned.zone == zone and learned.heater == heat.output:
        found = _learned(learned, _written_probe_s(settings))
    if found is not None and _believable(found):
        return Known(found, True, "learned")
    house, power_w = measured(settings), settings.outputs[heat.output].power_w
    tent = settings.house.tent
    if house is not None and power_w is not None and (tent is None or tent.zone != zone):
        own = Figures(
            air_gain_k(house, power_w),
            air_constant_s(house),
            max(_LEAST_S, house.element_lag_s),
            max(_LEAST_S, house.probe_lag_s),
        )
        if _believable(own):
            return Known(own, True, "measured")
    probe_s = max(_LEAST_S, _written_probe_s(settings) or ANYBODYS.probe_s)
    anybodys = ANYBODYS._replace(probe_s=min(_MOST.probe_s, probe_s))
    return Known(anybodys, False, "anybody's: nothing has been learned or measured")


def _written_probe_s(settings: Settings) -> float | None:
    """The probe's lag, if its owner measured it: the default is nobody's."""
    house = settings.house
    return house.probe_lag_s if "probe_lag_s" in house.model_fields_set else None


def _believable(found: Figures) -> bool:
    return all(
        least <= value <= most for least, value, most in zip(_LEAST, found, _MOST, strict=True)
    )


def _learned(learned: Learned, written_probe_s: float | None) -> Figures | None:
    """None where what it takes is not known. The two lags stand in a row between relay and
    reading and look alike from there: nights alone tell their sum. written_probe_s: one of them,
    where the owner measured it."""
    fast_s, air_kj_per_k = learned.value("fast_s"), learned.value("air_kj_per_k")
    lag_s = learned.value("lag_s")
    if learned.power_w is None or fast_s is None or air_kj_per_k is None or lag_s is None:
        return None
    element_s, probe_s = learned.value("element_lag_s"), learned.value("probe_lag_s")
    if element_s is None or probe_s is None:
        probe_s = (1.0 - _ELEMENT_SHARE) * lag_s if written_probe_s is None else written_probe_s
        element_s = lag_s - probe_s
    return Figures(
        gain_k=learned.power_w * fast_s / (air_kj_per_k * 1000.0),
        fast_s=fast_s,
        element_s=max(_LEAST_S, element_s),
        probe_s=max(_LEAST_S, probe_s),
    )
