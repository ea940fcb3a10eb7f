"""Drawn houses lived through by the real control, as their journals would have it.

Lives here: some days of a house as minutes, written into a real journal, and what truly
held in the hours that were learned from. Does not live here: the houses (drawn_houses.py),
what disturbs them (rehearsal.py).
"""

import math
from collections.abc import Sequence
from pathlib import Path
from random import Random
from statistics import fmean
from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.house.network import Parameters
from greenkeeper.house.wind import loss_share
from greenkeeper.journal.rows import Minute, OutputMinute, ProbeMinute
from greenkeeper.journal.store import Keeping, Run, Store
from greenkeeper.learned import Learned
from greenkeeper.model import Good, Now
from greenkeeper.settings.schema import Settings
from tests.support import rehearsal
from tests.support.drawn_houses import LONGITUDE, WINTER_UTC_S, DrawnHouse, drawn

DAY_S = 86_400.0
_NOON_S = 12 * 3600.0
_DEEP_WINTER_DAYS = (14, 90)  # of the drawn winter, which begins with November


class Lived(NamedTuple):
    house: DrawnHouse
    settings: Settings
    minutes: tuple[Minute, ...]
    to_utc_s: float
    wind_m_s: tuple[float, ...]  # by minutes, since from_utc_s
    from_utc_s: float

    def truth(self, learned: Learned) -> dict[str, float]:
        """What learning was after: the house in the wind of the dark hours it learned from."""
        shares = [
            loss_share(wind_m_s)
            for minute, wind_m_s in enumerate(self.wind_m_s)
            if learned.from_utc_s <= self.from_utc_s + 60.0 * minute < learned.to_utc_s
            and _is_dark(self.from_utc_s + 60.0 * minute, self.house)
        ]
        return figures_of(self.house, fmean(shares))


def figures_of(house: DrawnHouse, share: float = 1.0) -> dict[str, float]:
    """share: of the loss in a usual wind."""
    p: Parameters = house.truth
    loss = p.loss_w_per_k * share
    # Time constants of two nodes, from the eigenvalues of their matrix (thermal reference 10).
    trace = (loss + p.mass_w_per_k) / p.air_j_per_k + p.mass_w_per_k / p.mass_j_per_k
    product = loss * p.mass_w_per_k / (p.air_j_per_k * p.mass_j_per_k)
    root = math.sqrt(trace**2 / 4.0 - product)
    return {
        "loss_w_per_k": loss,
        "rise_k": house.heater_w / loss,
        "slow_s": 1.0 / (trace / 2.0 - root),
        "fast_s": 1.0 / (trace / 2.0 + root),
        "lag_s": p.element_lag_s + p.probe_lag_s,
        "air_kj_per_k": p.air_j_per_k / 1000.0,
        "mass_kj_per_k": p.mass_j_per_k / 1000.0,
        "mass_w_per_k": p.mass_w_per_k,
    }


def lived(number: int, nights: int, *, poll_s: float = 30.0) -> Lived:
    """A number of tests/support/drawn_houses.py, from a noon of its deep winter on."""
    house = drawn(number, poll_s=poll_s)
    day = Random(number * 7 + 1).randrange(*_DEEP_WINTER_DAYS)
    from_utc_s = WINTER_UTC_S + DAY_S * day + _NOON_S - LONGITUDE * 240.0 // 60.0 * 60.0
    run = rehearsal.Run(house, from_utc_s - poll_s)
    rows: list[Minute] = []
    wind: list[float] = []
    ticks = round(60.0 / poll_s)
    for minute in range(int(nights * DAY_S / 60.0)):
        seen: dict[str, list[float]] = {name: [] for name in run.settings.probes}
        on_s = {"heater": 0.0, "fan": 0.0}
        for _ in range(ticks):
            tick = run.tick()
            for name, verdict in tick.verdicts.items():
                if isinstance(verdict, Good):
                    seen[name].append(verdict.temp_c)
            for name in on_s:  # from this tick on
                on_s[name] += poll_s * tick.memory.outputs[name].on
        rows += _rows(from_utc_s + 60.0 * minute, seen, on_s, house.heater_w)
        wind.append(run.house.surroundings.wind_m_s)
    to_utc_s = from_utc_s + nights * DAY_S
    return Lived(house, house.settings, tuple(rows), to_utc_s, tuple(wind), from_utc_s)


def written(file: Path, minutes: Sequence[Minute]) -> None:
    """By the keeper's own store."""
    start = Now(1000.0, float(minutes[0].utc_s), True)
    store = Store.open(file, Run("b", "1.2.3", start), Keeping("invented", "UTC", 9999, 9999))
    store.write(list(minutes), [], minutes[-1].utc_s)
    store.close()


def _rows(
    utc_s: float, seen: dict[str, list[float]], on_s: dict[str, float], heater_w: float
) -> list[Minute]:
    rows: list[Minute] = []
    for name, temps in seen.items():
        low, mean, high = (min(temps), fmean(temps), max(temps)) if temps else (None, None, None)
        rows.append(ProbeMinute(int(utc_s), name, "", len(temps), low, mean, high, 0))
    for name, seconds in on_s.items():
        power_w = heater_w if name == "heater" else None
        rows.append(OutputMinute(int(utc_s), name, power_w, seconds, 0))
    return rows


def _is_dark(utc_s: float, house: DrawnHouse) -> bool:

    return sun.elevation_deg(utc_s, house.latitude, LONGITUDE) < -3.0
