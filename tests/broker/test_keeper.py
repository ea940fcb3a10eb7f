"""What is shown of a house: for chosen states, and for arbitrary settings and ticks."""

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from greenkeeper.broker.keeper import KeeperDevice, alerts, fingerprint
from greenkeeper.control import make_plan
from greenkeeper.model import AlarmMemory, ContactReading, Fault, Place, Tick, VentMemory
from greenkeeper.settings.schema import Settings
from tests.broker import strategies
from tests.control import houses as control_houses
from tests.control.houses import Player
from tests.support import homie_rules
from tests.support.ticks import (
    HOUSE,
    MILD,
    NOW,
    later,
    make_alarm,
    make_latch,
    make_settings,
    make_tick,
)

SETTINGS = make_settings(broker={"host": "hub"})
ROOT = "homie/5/orchard-house"


def shown(tick: Tick, settings: Settings = SETTINGS, *, stalled: bool = False) -> dict[str, str]:
    """The table without its root."""
    device = KeeperDevice(settings, program="0.1.0", started_s=NOW.mono_s - 3725.0)
    table = device.table(tick, stalled=stalled)
    return {topic.removeprefix(f"{device.root}/"): payload for topic, payload in table.items()}


# --- whatever the house is like ------------------------------------------------------


@hypothesis_settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_house_describes_itself_within_the_convention(data: st.DataObject) -> None:
    settings = data.draw(strategies.settings())
    device = KeeperDevice(settings, program=data.draw(strategies.TEXTS), started_s=0.0)
    document = homie_rules.parse(device.description)
    assert homie_rules.document_faults(document) == []
    assert {topic.removeprefix(f"{device.root}/") for topic in device.topics} == set(
        homie_rules.retained_properties(document)
    )
    kinds = [len(settings.probes), len(settings.outputs), len(settings.zones)]
    assert len(document["nodes"]) == 3 + sum(kinds), "two nodes share an ID"


@hypothesis_settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_tick_is_told_within_the_convention(data: st.DataObject) -> None:
    settings = data.draw(strategies.settings())
    tick = data.draw(strategies.ticks(settings))
    device = KeeperDevice(settings, program="0.1.0", started_s=0.0)
    named = homie_rules.retained_properties(homie_rules.parse(device.description))
    alerted = set()
    for topic, payload in device.table(tick).items():
        path = topic.removeprefix(f"{device.root}/")
        payload.encode()
        if path.startswith("$alert/"):
            alerted.add(path)
            assert homie_rules.ID.fullmatch(path.removeprefix("$alert/"))
            assert payload not in ("", "\0")
        elif payload:
            fault = homie_rules.payload_finding(named.pop(path), payload)
            # Only here do setpoints come from nowhere; control keeps within what is allowed.
            assert fault is None or (fault.rule == 25 and path.endswith("/heat-setpoint"))
        else:
            del named[path]
    assert not named, "a property nothing was said about"
    causes = [entry for entry in tick.memory.alarms.values() if entry.active]
    assert bool(alerted) == bool(causes or tick.memory.latches)


def test_ticks_that_control_made_are_told_within_the_convention() -> None:
    """A cold evening, a dying probe and an overheated noon, decided by control itself."""
    settings = control_houses.settings(broker={"host": "hub"})
    player = Player(make_plan(settings))
    device = KeeperDevice(settings, program="0.1.0", started_s=player.now.mono_s)
    named = homie_rules.retained_properties(homie_rules.parse(device.description))
    states = set()
    for temp in (6.0, 4.9, 4.0, 3.9, Fault.MISSING, 20.0, 41.0, 41.0):
        temps = dict.fromkeys(settings.probes, temp)
        for _ in range(40):
            table = device.table(player.tick(temps))
            states.add(table[f"{device.root}/keeper/state"])
            for path, fields in named.items():
                payload = table[f"{device.root}/{path}"]
                assert not payload or homie_rules.payload_fault(fields, payload) is None
    assert states == {"guarding", "alarmed", "blind", "locked-out"}


# --- the device ----------------------------------------------------------------------


def test_the_device_is_named_after_the_site_unless_told_otherwise() -> None:
    named = make_settings(broker={"host": "hub", "domain": "garden", "device": "glass-2"})
    assert KeeperDevice(SETTINGS, program="1", started_s=0.0).root == ROOT
    assert KeeperDevice(named, program="1", started_s=0.0).root == "garden/5/glass-2"


def test_a_probe_and_a_zone_of_one_name_are_two_nodes() -> None:
    table = shown(make_tick(SETTINGS))
    assert table["probe-bench/temperature"] == "8.25"
    assert table["zone-bench/coldest"] == "8.25"


def test_a_zone_shows_only_the_setpoints_it_has() -> None:
    zone = {"probes": ["bench"], "heat": {"output": "heater", "setpoint_c": 5.0}}
    table = shown(make_tick(SETTINGS), make_settings(broker={"host": "hub"}, zones={"bench": zone}))
    assert table["zone-bench/heat-setpoint"] == "5.00"
    assert "zone-bench/cool-setpoint" not in table


def test_the_mark_of_the_settings_changes_with_them() -> None:
    assert fingerprint(SETTINGS) == fingerprint(make_settings(broker={"host": "hub"}))
    assert fingerprint(SETTINGS) != fingerprint(make_settings(broker={"host": "hub"}, poll_s=20.0))


# --- values --------------------------------------------------------------------------


def test_a_good_probe_shows_its_temperature_and_when_it_was_taken() -> None:
    table = shown(make_tick(SETTINGS, {"bench": 4.8125}))
    assert table["probe-bench/temperature"] == "4.81"
    assert table["probe-bench/status"] == "ok"
    assert table["probe-bench/last-good"] == "2025-01-12T02:39:59+00:00"


@pytest.mark.parametrize("fault", Fault)
def test_a_probe_without_a_trusted_value_shows_why_and_no_number(fault: Fault) -> None:
    table = shown(make_tick(SETTINGS, {**MILD, "bench": fault}))
    assert table["probe-bench/temperature"] == ""
    assert table["probe-bench/status"] == fault.value


def test_a_probe_control_knows_nothing_of_counts_as_missing() -> None:
    tick = make_tick(SETTINGS)
    table = shown(tick._replace(verdicts={}))
    assert table["probe-bench/status"] == "missing"


def test_no_date_is_told_while_the_civil_clock_is_unset() -> None:
    table = shown(make_tick(SETTINGS, now=NOW._replace(clock_trusted=False)))
    assert table["probe-bench/last-good"] == ""
    assert table["keeper/started"] == ""
    assert table["keeper/uptime"] == "PT1H2M", "durations need no date"


def test_uptime_and_start_agree() -> None:
    table = shown(make_tick(SETTINGS, now=later(NOW, 100.0)))
    assert table["keeper/uptime"] == "PT1H3M"
    assert table["keeper/started"] == "2025-01-12T01:37:55+00:00"


def test_an_output_shows_what_it_does_and_why() -> None:
    table = shown(
        make_tick(SETTINGS, on={"heater"}, reason="bench 4.9 °C is below 5.0", operations=7)
    )
    assert table["output-heater/on"] == "true"
    assert table["output-heater/reason"] == "bench 4.9 °C is below 5.0"
    assert table["output-heater/operations"] == "7"
    assert "output-heater/life-left" not in table  # a modelled heater has no relay
    assert table["output-fan/on"] == "false"


def test_an_output_counts_its_time_and_energy_since_the_keeper_started() -> None:
    tick = make_tick(SETTINGS, on={"heater"})
    heater = tick.memory.outputs["heater"]._replace(
        was_on_s=7200.0, since_s=NOW.mono_s - 600.0, until_s=NOW.mono_s + 30.0
    )
    memory = tick.memory._replace(outputs={**tick.memory.outputs, "heater": heater})
    table = shown(tick._replace(memory=memory))
    assert table["output-heater/on-time"] == "130"
    assert table["output-heater/energy"] == "3.25"  # 1500 W for 2 h 10 min
    assert table["output-fan/energy"] == "0.00"


@pytest.mark.parametrize(
    ("operations", "left"), [(0, "100"), (494, "51"), (800, "20"), (1000, "0"), (5000, "0")]
)
def test_a_relay_shows_how_much_of_its_life_is_left(operations: int, left: str) -> None:
    relay = {"kind": "gpio", "pin": 17, "rated_operations": 1000}
    fan = {"kind": "modelled", "drives": "fan"}
    settings = make_settings(broker={"host": "hub"}, outputs={"heater": relay, "fan": fan})
    table = shown(make_tick(settings, operations=operations), settings)
    assert table["output-heater/life-left"] == left
    assert "output-fan/life-left" not in table


def test_a_zone_tells_why_it_asks_for_something_before_why_it_does_not() -> None:
    tick = make_tick(SETTINGS)
    heat, cool = tick.zones[0].wishes
    asking = (heat._replace(on=True, reason="too cold"), cool._replace(reason="not warm"))
    resting = (heat._replace(reason="warm enough"), cool._replace(reason="not warm"))
    for wishes, reason in ((asking, "too cold"), (resting, "warm enough; not warm")):
        zone = tick.zones[0]._replace(wishes=wishes)
        assert shown(tick._replace(zones=(zone,)))["zone-bench/reason"] == reason


# --- the state of the watch ----------------------------------------------------------


def test_the_keeper_guards_while_nothing_calls_for_a_person() -> None:
    mere_warning = make_tick(SETTINGS, alarms=[make_alarm("probe-frozen", "ridge")])
    assert shown(make_tick(SETTINGS))["keeper/state"] == "guarding"
    assert shown(mere_warning)["keeper/state"] == "guarding"


def test_the_worst_that_is_true_is_the_state() -> None:
    cold = [make_alarm("below-minimum", "bench")]
    latched = [make_latch("over-ceiling", "bench")]
    dark = {"bench": Fault.MISSING, "ridge": Fault.STALE}
    assert shown(make_tick(SETTINGS, alarms=cold))["keeper/state"] == "alarmed"
    assert shown(make_tick(SETTINGS, dark, alarms=cold))["keeper/state"] == "blind"
    locked = make_tick(SETTINGS, dark, alarms=cold, latches=latched)
    assert shown(locked)["keeper/state"] == "locked-out"
    assert shown(locked, stalled=True)["keeper/state"] == "stalled"


# --- alerts --------------------------------------------------------------------------


def test_an_active_alarm_is_an_alert_in_plain_words() -> None:
    tick = make_tick(SETTINGS, alarms=[make_alarm("below-minimum", "bench", "lemon wants 5.0 °C")])
    assert alerts(tick) == {
        "below-minimum-bench": "bench: plants below their minimum (lemon wants 5.0 °C)"
    }


def test_a_condition_that_is_no_alarm_yet_is_no_alert() -> None:
    tick = make_tick(SETTINGS, alarms=[make_alarm("below-minimum", "bench")])
    waiting = {
        key: AlarmMemory(entry.alarm, False, None) for key, entry in tick.memory.alarms.items()
    }
    assert alerts(tick._replace(memory=tick.memory._replace(alarms=waiting))) == {}


def test_a_latch_is_one_alert_that_names_what_clears_it() -> None:
    tick = make_tick(
        SETTINGS,
        alarms=[make_alarm("over-ceiling", "bench", "ridge 41.0 °C")],
        latches=[make_latch("over-ceiling", "bench", "ridge 41.0 °C")],
    )
    found = alerts(tick)
    assert list(found) == ["over-ceiling-bench"]
    assert found["over-ceiling-bench"].endswith("(ridge 41.0 °C); latched as over-ceiling-bench")


def test_two_causes_that_look_alike_as_ids_share_an_alert_and_lose_no_word() -> None:
    tick = make_tick(
        SETTINGS,
        alarms=[
            make_alarm("below-minimum", "Top Shelf", "one"),
            make_alarm("below-minimum", "top-shelf", "two"),
        ],
    )
    assert list(alerts(tick)) == ["below-minimum-top-shelf"]
    text = alerts(tick)["below-minimum-top-shelf"]
    assert "(one)" in text
    assert "(two)" in text


# --- vents and contacts --------------------------------------------------------------


def test_a_vent_shows_where_it_stands_and_which_way_it_moves() -> None:
    outputs = {
        **HOUSE["outputs"],
        "up": {"kind": "modelled", "drives": "vent-open"},
        "down": {"kind": "modelled", "drives": "vent-close"},
    }
    vents = {"ridge-vent": {"open": "up", "close": "down"}}
    settings = make_settings(broker={"host": "hub"}, outputs=outputs, vents=vents)
    device = KeeperDevice(settings, program="0", started_s=0.0)
    node = f"{device.root}/vent-ridge-vent"
    table = device.table(make_tick(settings))
    assert (table[f"{node}/place"], table[f"{node}/moving"]) == ("unknown", "still")
    tick = make_tick(settings, on={"up"})
    tick = tick._replace(memory=tick.memory._replace(vents={"ridge-vent": VentMemory(Place.OPEN)}))
    table = device.table(tick)
    assert (table[f"{node}/place"], table[f"{node}/moving"]) == ("open", "opening")
    assert device.table(make_tick(settings, on={"down"}))[f"{node}/moving"] == "closing"


def test_a_contact_that_cannot_be_read_has_no_value() -> None:
    inputs = {"door": {"kind": "scripted", "file": "x", "tells": "door-open"}}
    settings = make_settings(broker={"host": "hub"}, inputs=inputs)
    device = KeeperDevice(settings, program="0", started_s=0.0)
    node = f"{device.root}/contact-door"
    tick = make_tick(settings)
    for reading, told in [
        (ContactReading(NOW.mono_s - 60.0, True), ("true", "2025-01-12T02:39:00+00:00", "ok")),
        (ContactReading(NOW.mono_s, False), ("false", "2025-01-12T02:40:00+00:00", "ok")),
        (ContactReading(NOW.mono_s, None, "gone"), ("", "", "missing")),
        (None, ("", "", "missing")),
    ]:
        contacts = {} if reading is None else {"door": reading}
        table = device.table(tick._replace(contacts=contacts))
        assert tuple(table[f"{node}/{each}"] for each in ("door-open", "since", "status")) == told


def test_a_probe_says_why_it_is_not_believed() -> None:
    settings = make_settings(broker={"host": "hub"})
    device = KeeperDevice(settings, program="0", started_s=0.0)
    table = device.table(make_tick(settings, {"bench": 8.0, "ridge": Fault.CHECKSUM}))
    assert table[f"{device.root}/probe-ridge/reason"] == "as the test says"
    assert table[f"{device.root}/probe-bench/reason"] == "\0"


def test_the_keeper_counts_its_alarms_and_names_the_worst() -> None:
    settings = make_settings(broker={"host": "hub"})
    device = KeeperDevice(settings, program="0", started_s=0.0)

    def told(*codes: str) -> tuple[str, str]:
        alarms = [make_alarm(code, f"place-{i}") for i, code in enumerate(codes)]
        table = device.table(make_tick(settings, alarms=alarms))
        return table[f"{device.root}/keeper/alarms"], table[f"{device.root}/keeper/worst"]

    assert told() == ("0", "none")
    assert told("clock-unset") == ("1", "notice")
    assert told("clock-unset", "zone-blind", "probe-stale") == ("3", "alarm")
