"""The last night on the broker: while it is the last."""

import pytest

from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.broker.last_night import SHOWN_FOR_S
from greenkeeper.last_night import LastNight
from greenkeeper.model import Tick
from tests.support.ticks import NOW, make_settings, make_tick

SETTINGS = make_settings(broker={"host": "hub"}, tariff={"per_kwh": 0.3, "currency": "CHF"})
NIGHT = LastNight(
    evening="2031-01-14",
    to_utc_s=NOW.utc_s - 3600.0,
    summary="bench: every plant stayed 0.6 K or more above its minimum.",
    outdoor_low_c=-5.125,
    lows_c={"bench": 4.6},
    heated_s=17_820.0,
    kwh=5.94,
    cost=1.782,
)


def shown(night: LastNight | None, tick: Tick | None = None) -> dict[str, str]:
    device = KeeperDevice(SETTINGS, program="0", started_s=0.0, nights=lambda _: night)
    prefix = f"{device.root}/last-night/"
    table = device.table(tick or make_tick(SETTINGS))
    return {
        topic.removeprefix(prefix): payload
        for topic, payload in table.items()
        if topic.startswith(prefix)
    }


def test_it_is_told_whole() -> None:
    assert shown(NIGHT) == {
        "evening": "2031-01-14",
        "summary": "bench: every plant stayed 0.6 K or more above its minimum.",
        "outdoor-low": "-5.12",
        "low-bench": "4.60",
        "heated": "PT4H57M",
        "energy": "5.94",
        "cost": "1.78",
    }


def test_what_nobody_knows_has_no_value() -> None:
    blank = NIGHT._replace(outdoor_low_c=None, lows_c={}, heated_s=None, kwh=None, cost=None)
    told = {key for key, value in shown(blank).items() if value}
    assert told == {"evening", "summary"}


@pytest.mark.parametrize("age_s", [SHOWN_FOR_S + 1.0, 30 * 86_400.0])
def test_an_old_night_is_not_the_last_one(age_s: float) -> None:
    old = NIGHT._replace(to_utc_s=NOW.utc_s - age_s)
    assert set(shown(old).values()) == {""}


def test_without_a_night_or_a_clock_nothing_is_told() -> None:
    assert set(shown(None).values()) == {""}
    unset = make_tick(SETTINGS)
    unset = unset._replace(now=unset.now._replace(clock_trusted=False))
    assert set(shown(NIGHT, unset).values()) == {""}
