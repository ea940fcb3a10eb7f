"""Keepers are told from other devices, the dead from the living, and nonsense from both."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.broker import houses
from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.model import Fault
from tests.support.ticks import NOW, UTC_S, make_alarm, make_latch, make_settings, make_tick

ROOT = "homie/5/orchard-house"


def published(name="orchard-house", temps=None, *, state="ready", **tick):
    """All that a keeper leaves on the broker, as bytes."""
    settings = make_settings(site={"name": name}, broker={"host": "127.0.0.1", "domain": "homie"})
    device = KeeperDevice(settings, program="0.1.0", started_s=NOW.mono_s - 3600.0)
    table = device.table(make_tick(settings, *([] if temps is None else [temps]), **tick))
    found = {topic: payload.encode() for topic, payload in table.items() if payload}
    root = f"homie/5/{name}"
    return {
        **found,
        f"{root}/$description": device.description.encode(),
        f"{root}/$state": state.encode(),
    }


def one(found, now_utc_s=UTC_S):
    (house,) = houses.houses(found, now_utc_s)
    return house


def test_a_keeper_is_read_back_as_it_stands():
    house = one(published(temps={"bench": 8.25, "ridge": 9.0, "outdoors": -1.5}, on={"heater"}))
    assert house.device == "orchard-house"
    assert house.how == "guarding"
    assert house.fine
    assert house.zones == (houses.ZoneThere("bench", 8.25, 5.0),)
    assert house.on == ("heater",)
    assert house.alerts == ()
    assert house.program == "0.1.0"
    assert house.told_utc_s == pytest.approx(UTC_S, abs=60.0)


def test_everything_it_reads_is_something_it_asked_for():
    """A property that is renamed must not silently vanish from this table."""
    found = published(on={"heater"}, alarms=[make_alarm("below-minimum", "bench")])

    def matches(topic):
        levels = topic.split("/")
        return any(
            len(levels) == len(want)
            and all(w in ("+", level) for w, level in zip(want, levels, strict=True))
            for want in (each.split("/") for each in houses.wanted("homie"))
        )

    asked = {topic: payload for topic, payload in found.items() if matches(topic)}
    assert one(asked) == one(found)
    assert len(houses.wanted("homie")) == sum(
        any(matches_one(each, topic) for topic in found) for each in houses.wanted("homie")
    )


def matches_one(pattern, topic):
    want, levels = pattern.split("/"), topic.split("/")
    return len(want) == len(levels) and all(
        w in ("+", level) for w, level in zip(want, levels, strict=True)
    )


@pytest.mark.parametrize(
    ("state", "how", "dead"),
    [
        ("ready", "guarding", False),
        ("lost", "lost", True),
        ("disconnected", "stopped", True),
        ("sleeping", "stopped", True),
        ("init", "starting", False),
        ("what?", "unknown", False),
    ],
)
def test_the_devices_state_says_whether_it_lives(state, how, dead):
    house = one(published(state=state))
    assert (house.how, house.dead) == (how, dead)


def test_a_ready_that_a_broker_kept_over_its_own_crash_is_not_believed_for_ever():
    found = published()
    assert one(found, UTC_S + 500.0).how == "guarding"
    assert one(found, UTC_S + 700.0).how == "silent"
    assert one(found, UTC_S + 700.0).dead


def test_without_a_clock_a_keeper_that_is_ready_is_believed():
    found = published(now=NOW._replace(clock_trusted=False))
    house = one(found, UTC_S + 1e6)
    assert house.told_utc_s is None
    assert house.how == "guarding"


def test_trouble_comes_first_and_the_dead_before_all():
    found = {
        **published("d-calm"),
        **published("c-cold", alarms=[make_alarm("below-minimum", "bench")]),
        **published("b-locked", latches=[make_latch("over-ceiling", "bench")]),
        **published("e-blind", {"bench": Fault.MISSING, "ridge": Fault.MISSING}),
        **published("a-calm"),
        **published("f-lost", state="lost"),
    }
    assert [(each.device, each.how) for each in houses.houses(found, UTC_S)] == [
        ("f-lost", "lost"),
        ("b-locked", "locked-out"),
        ("e-blind", "blind"),
        ("c-cold", "alarmed"),
        ("a-calm", "guarding"),
        ("d-calm", "guarding"),
    ]


def test_a_blind_zone_has_no_temperature():
    house = one(published(temps={"bench": Fault.MISSING, "ridge": Fault.MISSING}))
    assert house.zones[0].coldest_c is None


@pytest.mark.parametrize(
    "description",
    [
        b"",
        b"{",
        b"[]",
        b"[" * 100_000,
        b'{"nodes": 3}',
        b'{"nodes": {"keeper": {"type": "bell"}}}',
        b'{"nodes": {"keeper": {"type": "keeper", "properties": []}}}',
        b'{"homie": "5.0", "nodes": {"lamp": {"type": "keeper"}}}',
        b"\xff",
    ],
)
def test_other_devices_are_no_houses(description):
    found = {f"{ROOT}/$description": description, f"{ROOT}/$state": b"ready"}
    assert houses.houses(found, UTC_S) == []
    assert houses.missing(found) == ()


def test_what_should_be_there_and_is_not_is_asked_for_once_more():
    found = published(temps={"bench": 8.25, "ridge": 9.0})
    assert houses.missing(found) == ()
    for topic in (f"{ROOT}/$state", f"{ROOT}/output-heater/on", f"{ROOT}/zone-bench/coldest"):
        del found[topic]
    assert set(houses.missing(found)) == {
        f"{ROOT}/$state",
        f"{ROOT}/output-heater/on",
        f"{ROOT}/zone-bench/coldest",
    }


def test_a_stranger_cannot_paint_on_the_terminal():
    found = published()
    description = json.loads(found[f"{ROOT}/$description"])
    description["nodes"]["zone-bench"]["name"] = "bench\x1b[2J\x07"
    found[f"{ROOT}/$description"] = json.dumps(description).encode()
    found[f"{ROOT}/$alert/x"] = b"\x1b]0;title\x07 hello \xff"
    found[f"{ROOT}/keeper/program"] = b"x" * 10_000
    house = one(found)
    shown = [house.zones[0].name, *house.alerts, house.program]
    assert all(text.isprintable() for text in shown)
    assert max(map(len, shown)) <= 120


@given(
    changes=st.dictionaries(
        st.sampled_from(sorted(published())), st.binary(max_size=60), max_size=6
    )
)
def test_no_payload_whatever_raises(changes):
    found = {**published(), **changes}
    for house in houses.houses(found, UTC_S):
        assert all(text.isprintable() for text in (house.device, house.how, *house.alerts))
    houses.missing(found)
