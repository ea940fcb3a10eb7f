"""Day, night, and what holds while the clock cannot be trusted."""

from datetime import UTC, datetime

import pytest

from greenkeeper.control import make_plan
from greenkeeper.control.schedule import is_night
from greenkeeper.model import Now
from tests.control.houses import Player, settings, zone


def plan(night_from="20:00", night_to="07:00", timezone="Europe/Brussels"):
    return make_plan(
        settings(
            site={"name": "fern-corner", "timezone": timezone},
            night={"from": night_from, "to": night_to},
        )
    )


def at(text: str, trusted: bool = True) -> Now:
    return Now(0.0, datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp(), trusted)


@pytest.mark.parametrize(
    ("utc", "night"),
    [
        ("2026-01-10T18:59:59", False),  # 19:59:59 in Brussels
        ("2026-01-10T19:00:00", True),
        ("2026-01-10T23:30:00", True),  # after midnight
        ("2026-01-11T05:59:59", True),
        ("2026-01-11T06:00:00", False),
        ("2026-07-10T17:59:59", False),  # summer time: an hour earlier in UTC
        ("2026-07-10T18:00:00", True),
    ],
)
def test_night_crosses_midnight_and_follows_civil_time(utc, night):
    assert is_night(plan(), at(utc)) is night


def test_a_night_within_one_day_works_too():
    within = plan("01:00", "05:00", "UTC")
    assert not is_night(within, at("2026-01-10T00:59:00"))
    assert is_night(within, at("2026-01-10T01:00:00"))
    assert not is_night(within, at("2026-01-10T05:00:00"))


def test_the_spring_and_autumn_change_neither_skip_nor_stick():
    # Brussels, 2026: 02:00 -> 03:00 on 29 March, 03:00 -> 02:00 on 25 October.
    # Source: the tz database, Europe/Brussels.
    odd = plan("02:15", "02:45")
    assert not is_night(odd, at("2026-03-29T00:59:00"))  # 01:59
    assert not is_night(odd, at("2026-03-29T01:00:00"))  # 03:00: the window does not exist
    assert is_night(odd, at("2026-10-25T00:30:00"))  # 02:30, first time
    assert is_night(odd, at("2026-10-25T01:30:00"))  # 02:30, second time
    assert not is_night(odd, at("2026-10-25T02:00:00"))


def test_an_untrusted_clock_means_night():
    assert is_night(plan(), at("2026-01-10T12:00:00", trusted=False))


@pytest.mark.parametrize(("day_c", "night_c"), [(8.0, 5.0), (5.0, 8.0)])
def test_an_untrusted_clock_holds_the_warmer_setpoint(day_c, night_c):
    heat = {"output": "heater", "setpoint_c": day_c, "night_setpoint_c": night_c}
    unsure = Player(
        make_plan(settings(zones=zone(heat=heat))), start=Now(0.0, 0.0, clock_trusted=False)
    )
    tick = unsure.bench(10.0)
    assert tick.zones[0].heat_setpoint_c == 8.0
    assert tick.zones[0].period == "night"


def test_day_and_night_setpoints_change_over_by_themselves():
    heat = {"output": "heater", "setpoint_c": 8.0, "night_setpoint_c": 5.0}
    house = make_plan(settings(zones=zone(heat=heat), night={"from": "20:00", "to": "07:00"}))
    player = Player(house, start=at("2026-01-10T19:59:45"))
    assert player.bench(10.0).zones[0].heat_setpoint_c == 8.0
    assert player.bench(10.0).zones[0].heat_setpoint_c == 5.0
