"""Prints what leaving out the last heat before a sunny dawn could be worth at most in drawn houses.

Not a test: it judges nothing. An ideal heater (perfectly modulated, without lag) holds the
usual half a kelvin above the plants' minimum, eight days of each month of an invented winter,
in steps of a minute. Beside it the same heater holds the bare minimum from some hours before
sunrise until two hours after it: on the mornings whose sun, known beforehand without any
error, then comes, and on every morning. No forecast and no relay can do better than the
former, which gives up the margin in full; a fog that was not foreseen is not in it. For
comparison, the same heater with a tenth of a kelvin less margin at all times.

Last comes what was built: heat in pulses of 30 s, half of that margin let go before sunrises
that an invented forecast has clear, in eight days of the same winter as it is rehearsed.

Run: python -m tests.bench.bench_dawn [HOUSES [KIND ...]]     6 houses of each kind: minutes
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from statistics import median

from greenkeeper.house.irradiance import clear_sky_w_m2
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.house.weather import Weather
from greenkeeper.model import Now
from greenkeeper.rehearsal.run import rehearse
from greenkeeper.sun import height
from tests.support import drawn_houses, thrift_trials

KINDS = {"tiny": drawn_houses.TINY, "hobby": drawn_houses.HOBBY}
MARGIN_K = 0.5  # as margin_k is unless written
BEFORE_H = (2, 4)
LESS_K = 0.1  # of margin, night and day, for comparison
MONTHS, DAYS = 4, 8  # so many months, and of each so many days
_AFTER_S = 2 * 3600.0
ROWS = (
    *(f"{hours} h before a sunny dawn" for hours in BEFORE_H),
    f"{BEFORE_H[-1]} h before every dawn",
    f"{LESS_K:g} K less all the time",
)
# Half of what a clear sky sends on level ground.
_SUNNY_SHARE = 0.5
_STEP_S = 60.0
_DAY_S = 86_400.0


def _sunrises(latitude: float) -> list[float]:
    """Of each day that is played, to the minute."""
    found = []
    for day in range(MONTHS * DAYS):
        midnight_s = _begins_utc_s(day // DAYS) + day % DAYS * _DAY_S
        minutes = (midnight_s + minute * 60.0 for minute in range(720))
        found.append(next(s for s in minutes if height(s, latitude, drawn_houses.LONGITUDE) > 0.0))
    return found


def _is_sunny(weather: Weather, sunrise_s: float, latitude: float) -> bool:
    """Whether the second and third hour of the day bring half of a clear sky's sun."""
    seen = clear = 0.0
    for minute in range(60, 180, 10):
        at_s = sunrise_s + minute * 60.0
        high = max(0.01, height(at_s, latitude, drawn_houses.LONGITUDE))
        clear += clear_sky_w_m2(high)
        seen += weather.at(at_s).sun_w_m2
    return seen >= _SUNNY_SHARE * clear


def _begins_utc_s(month: int) -> float:
    return thrift_trials.WINTER_FROM_UTC_S + (30.0 * month + 10.0) * _DAY_S


Times = list[tuple[float, float]]


def _kwh(tried: thrift_trials.House, lowered: Times, margin_k: float = MARGIN_K) -> float:
    """Of all that is played, the bare minimum held in these times."""
    months = range(MONTHS)
    return sum(_of_month(tried, _begins_utc_s(each), lowered, margin_k) for each in months)


def _of_month(
    tried: thrift_trials.House, begins_s: float, lowered: Times, margin_k: float
) -> float:
    house = SimulatedHouse(tried.truth, tried.weather, Now(0.0, begins_s, True))
    times = [each for each in lowered if each[1] > begins_s]
    used_j = 0.0
    for step in range(round(DAYS * _DAY_S / _STEP_S)):
        utc_s = begins_s + step * _STEP_S
        while times and utc_s >= times[0][1]:
            times.pop(0)
        low = bool(times) and utc_s >= times[0][0]
        goal_c = tried.minimum_c + (0.0 if low else margin_k)
        power_w = min(tried.heater_w, max(0.0, house.power_to_hold(goal_c, _STEP_S)))
        house.set_heater(power_w)
        used_j += power_w * _STEP_S
        house.advance_to_s((step + 1) * _STEP_S)
    return used_j / 3.6e6


def tried(job: tuple[int, str]) -> tuple[float, list[float]]:
    """The share of sunny mornings, and what each of ROWS saves."""
    number, kind = job
    house = thrift_trials.house(number, KINDS[kind])
    house = house._replace(truth=house.truth._replace(element_lag_s=0.0))
    latitude = house.written["site"]["latitude"]
    rises = _sunrises(latitude)
    sunny = [at_s for at_s in rises if _is_sunny(house.weather, at_s, latitude)]
    plain = _kwh(house, [])

    def saved(mornings: list[float], hours: int) -> float:
        times = [(at_s - hours * 3600.0, at_s + _AFTER_S) for at_s in mornings]
        return 1.0 - _kwh(house, times) / plain

    found = [saved(sunny, hours) for hours in BEFORE_H]
    found.append(saved(rises, BEFORE_H[-1]))
    found.append(1.0 - _kwh(house, [], MARGIN_K - LESS_K) / plain)
    return len(sunny) / len(rises), found


_PULSED = thrift_trials.Metered("30 s", {"strategy": "proportion"}, 30.0, True, True)


def built(job: tuple[int, str]) -> tuple[float, float]:
    """What `leave_dawn_to_sun` saves, and how much lower the lowest is, in kelvin."""
    number, kind = job
    house = thrift_trials.house(number, KINDS[kind])
    kept, left = (_rehearsed(house, leaves=on) for on in (False, True))
    return 1.0 - left[0] / kept[0], kept[1] - left[1]


def _rehearsed(house: thrift_trials.House, *, leaves: bool) -> tuple[float, float]:
    """kWh, and the lowest air at the plants."""
    plain = thrift_trials.settings_of(house, _PULSED, counts_from_k=0.0)
    bench = plain.zones["bench"]
    assert bench.heat is not None
    changes = {"setpoint_c": house.minimum_c + MARGIN_K, "leave_dawn_to_sun": leaves}
    heat = bench.heat.model_copy(update=changes)
    zones = {"bench": bench.model_copy(update={"heat": heat})}
    settings, stage = plain.model_copy(update={"zones": zones}), thrift_trials.stage(house, _PULSED)
    found = [rehearse(settings, stage, span) for span in thrift_trials.winter()]
    return sum(each.kwh for each in found), min(each.zones[0].low_c for each in found)


def main(how_many: int = 6, *kinds: str) -> None:
    with ProcessPoolExecutor() as pool:
        for kind in kinds or KINDS:
            jobs = [(number, kind) for number in range(1, how_many + 1)]
            found = []
            for done, each in enumerate(pool.map(tried, jobs)):
                print(f"\r{kind}: {done + 1} of {how_many}", end="", file=sys.stderr, flush=True)
                found.append(each)
            print(file=sys.stderr)
            share = 100.0 * median(each[0] for each in found)
            print(f"{how_many} {kind} houses; {share:.0f} mornings in 100 are sunny (median)")
            for at, name in enumerate(ROWS):
                _row(name, [each[1][at] for each in found])
            played = list(pool.map(built, jobs))
            _row("as built, 0.25 K", [saved for saved, _ in played])
            print(f"{'':<28}its lowest is up to {max(k for _, k in played):.2f} K lower")


def _row(name: str, shares: list[float]) -> None:
    print(
        f"{name:<28}median {100 * median(shares):5.2f} %   "
        f"best {100 * max(shares):5.2f} %   least {100 * min(shares):5.2f} %"
    )


if __name__ == "__main__":
    main(*[int(each) for each in sys.argv[1:2]], *sys.argv[2:])
