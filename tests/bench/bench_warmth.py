"""Prints what warmth from elsewhere is worth in drawn houses: cheap hours that are heated ahead in.

Not a test: it judges nothing. Each house is played as tests/support/thrift_trials.py plays it
(four times two days of a winter), in proportion, with and without, its figures learned with
errors as learning has them; money is for 120 days like these. The tariffs are invented.
Before that, by the reckoning alone and with the figures known exactly: in how many houses each
tariff pays, and how many times as dear as cheap hours eight dark ones have to be for it.

Run: python -m tests.bench.bench_warmth [HOUSES [KIND ...]]     24 houses of each kind
"""

import math
import sys
from concurrent.futures import ProcessPoolExecutor
from random import Random
from statistics import median
from typing import Any, NamedTuple

from greenkeeper.control import storing
from greenkeeper.house.wax import NO_WAX
from greenkeeper.learned import FIGURES, Estimate, Figure, Learned, Unknown
from greenkeeper.rehearsal.run import Stage, rehearse
from greenkeeper.settings.schema import Settings
from tests.support import drawn_houses, thrift_trials
from tests.support.thrift_trials import House, Metered

KINDS = {"tiny": drawn_houses.TINY, "hobby": drawn_houses.HOBBY}
TARIFFS: dict[str, dict[str, Any]] = {
    "0.09 from 23 to 7, else 0.32": {
        "per_kwh": 0.32, "hours": [{"from": "23:00", "to": "07:00", "per_kwh": 0.09}],
    },
    "0.07 from 0 to 5, else 0.30": {
        "per_kwh": 0.30, "hours": [{"from": "00:00", "to": "05:00", "per_kwh": 0.07}],
    },
    "0.10 from 13 to 16, 0.45 to 19, else 0.27": {
        "per_kwh": 0.27,
        "hours": [
            {"from": "13:00", "to": "16:00", "per_kwh": 0.10},
            {"from": "16:00", "to": "19:00", "per_kwh": 0.45},
        ],
    },
    "0.05 from 18 to 23, else 0.30": {
        "per_kwh": 0.30, "hours": [{"from": "18:00", "to": "23:00", "per_kwh": 0.05}],
    },
}  # fmt: skip
_WAY = Metered("proportion", {"strategy": "proportion"}, 30.0)
# One standard error of what is learned: as make bench (bench_learning) has it, half as much again.
_WRONG_BY = {
    "loss_w_per_k": 0.05, "lag_s": 0.07, "fast_s": 0.17, "air_kj_per_k": 0.07,
    "mass_kj_per_k": 0.15, "mass_w_per_k": 0.15,
}  # fmt: skip


_DEAR_H = 8.0


class Outcome(NamedTuple):
    """Of 120 days."""

    cost: float
    kwh: float
    below_min: float  # minutes
    low_k: float  # above what is to be kept


def _learned(tried: House, *, exactly: bool = False) -> Learned:
    p, chance = tried.truth, Random(2000 + tried.number)
    truth = {
        "loss_w_per_k": p.loss_w_per_k,
        "lag_s": p.element_lag_s + p.probe_lag_s,
        "fast_s": p.air_j_per_k / (p.loss_w_per_k + p.mass_w_per_k),
        "air_kj_per_k": p.air_j_per_k / 1000.0,
        "mass_kj_per_k": p.mass_j_per_k / 1000.0,
        "mass_w_per_k": p.mass_w_per_k,
    }
    figures: dict[str, Figure] = dict.fromkeys(FIGURES, Unknown("not told apart"))
    for name, value in truth.items():
        sigma = 0.0 if exactly else _WRONG_BY[name]
        figures[name] = Estimate(value * math.exp(chance.gauss(0.0, sigma)), sigma * value)
    return Learned(0.0, 0.0, 0.0, 14, "bench", "heater", tried.heater_w, **figures)


def _settings(tried: House, tariff: dict[str, Any], **heat: Any) -> Settings:
    way = _WAY._replace(heat={**_WAY.heat, **heat})
    found = thrift_trials.settings_of(tried, way)
    written = found.model_dump(exclude_unset=True, by_alias=True)
    return Settings.model_validate({**written, "tariff": tariff})


def played(tried: House, settings: Settings) -> Outcome:
    stage = Stage(tried.truth, tried.weather, None, NO_WAX, learned=_learned(tried))
    spans = thrift_trials.winter()
    results = [rehearse(settings, stage, span) for span in spans]
    days = sum((span.to_utc_s - span.from_utc_s) / thrift_trials.DAY_S for span in spans)
    scale = thrift_trials.WINTER_DAYS / days
    return Outcome(
        scale * sum(each.cost or 0.0 for each in results),
        scale * sum(each.kwh for each in results),
        scale * sum(each.zones[0].below_s for each in results) / 60.0,
        min(each.zones[0].low_c for each in results) - tried.minimum_c,
    )


def drawn_for(number: int, kind: str) -> House:
    """With a probe outdoors in any case: without one nothing is heated ahead."""
    house = thrift_trials.house(number, KINDS[kind])
    if house.written["site"].get("outdoor_probe") is None:
        house.written["site"]["outdoor_probe"] = "outdoors"
    return house


def tried(job: tuple[int, str]) -> dict[str, tuple[Outcome, Outcome] | None]:
    house = drawn_for(*job)
    return {name: _both(house, tariff) for name, tariff in TARIFFS.items()}


def pays_from(tried: House) -> float:
    """The dear hours' price by the cheap ones', for any number of cheap hours that is best."""
    p = tried.truth
    store = storing.Store(
        p.loss_w_per_k, p.mass_w_per_k, p.mass_j_per_k / 3600.0, p.air_j_per_k / 3600.0
    )
    kept, back = store.mass_wh_per_k, store.filled(_DEAR_H)
    hours = [quarter / 4.0 for quarter in range(1, 97)]
    return min(store.taken_wh(each) / (kept * store.filled(each) * back) for each in hours)


def _pays(house: House, tariff: dict[str, Any], *, exactly: bool) -> bool:
    ahead = _settings(house, tariff, ahead_in_cheap_hours=True)
    found = storing.store_plan(ahead, "bench", _learned(house, exactly=exactly))
    return not isinstance(found, Unknown) and storing.prospect(found.market).best is not None


def _reckoned(how_many: int, kind: str) -> None:
    houses = [drawn_for(number, kind) for number in range(1, how_many + 1)]
    ratios = [pays_from(each) for each in houses]
    print(f"{how_many} {kind} houses, their figures known exactly, by the reckoning")
    print(f"  eight dark hours must be so many times as dear: {median(ratios):.1f} in the median")
    print(f"  house, {min(ratios):.1f} in the best")
    for name, tariff in TARIFFS.items():
        print(f"  {name:<42}{sum(_pays(each, tariff, exactly=True) for each in houses):>7} houses")


def _both(house: House, tariff: dict[str, Any]) -> tuple[Outcome, Outcome] | None:
    """Without, and with. None: it never pays there, so that nothing would differ."""
    if not _pays(house, tariff, exactly=False):
        return None
    ahead = _settings(house, tariff, ahead_in_cheap_hours=True)
    return played(house, _settings(house, tariff)), played(house, ahead)


def main(how_many: int = 24, *kinds: str) -> None:
    with ProcessPoolExecutor() as pool:
        for kind in kinds or KINDS:
            _reckoned(how_many, kind)
            found: dict[str, list[tuple[Outcome, Outcome] | None]] = {}
            jobs = [(number, kind) for number in range(1, how_many + 1)]
            for done, each in enumerate(pool.map(tried, jobs)):
                print(f"\r{kind}: {done + 1} of {how_many}", end="", file=sys.stderr, flush=True)
                for name, pair in each.items():
                    found.setdefault(name, []).append(pair)
            print(file=sys.stderr)
            print(f"{how_many} {kind} houses, heated ahead; 120 days of winter")
            print(f"{'':<44}{'houses':>7}{'saved, median':>15}{'best':>8}{'worst':>8}{'kWh':>8}")
            for name, pairs in found.items():
                _row(name, pairs)


def _row(name: str, pairs: list[tuple[Outcome, Outcome] | None]) -> None:
    does = [pair for pair in pairs if pair is not None]
    saved = [a.cost - b.cost for a, b in does] or [0.0]
    share = median([1.0 - b.cost / a.cost for a, b in does] or [0.0])
    more = median([b.kwh / a.kwh - 1.0 for a, b in does] or [0.0])
    below = max([b.below_min - a.below_min for a, b in does] or [0.0])
    print(
        f"{name:<44}{len(does):>7}{median(saved):>8.2f}{100 * share:>5.1f} %"
        f"{max(saved):>8.2f}{min(saved):>8.2f}{100 * more:>+6.1f} %  below {below:+.1f} min"
    )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]), *sys.argv[2:])
