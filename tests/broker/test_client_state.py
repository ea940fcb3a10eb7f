"""What the world sees of a keeper on a real broker, from its start to its clean end."""

from greenkeeper.broker.client import client_id
from greenkeeper.model import Fault
from tests.broker.house import BY_TIMERS, QUICK, ROOT, STATE, Keeper, seen, wait_until_complete
from tests.support import homie_rules
from tests.support.homie_traffic import REMOVED, Mark, Recording, findings
from tests.support.mosquitto import Mosquitto
from tests.support.ticks import MILD, NOW, later, make_alarm, make_latch
from tests.support.waiting import eventually


def test_once_ready_a_late_subscriber_sees_every_property_and_nothing_more(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper, hub.recorder() as recorder:
        keeper.tick(on={"heater"})
        recorder.wait_for(STATE, "ready")
        late = seen(hub)
    document = homie_rules.parse(late.pop("$description"))
    assert late.pop("$state") == "ready"
    named = homie_rules.properties(document).keys()
    assert late.keys() == {path for path in named if not path.startswith(BY_TIMERS)}
    assert late["probe-outdoors/temperature"] == "-1.50"
    assert late["output-heater/on"] == "true"


def test_all_that_is_ever_said_keeps_to_the_convention(hub: Mosquitto) -> None:
    keeper = Keeper(hub.port)
    with hub.recorder() as recorder:
        with keeper:
            keeper.tick(reason="")
            recorder.wait_for(STATE, "ready")
            keeper.tick({**MILD, "ridge": Fault.FROZEN}, alarms=[make_alarm("zone-blind", "bench")])
            recorder.wait_for(f"{ROOT}/probe-ridge/status", "frozen")
            keeper.tick(
                on={"fan"}, latches=[make_latch("over-ceiling", "bench", "ridge\x00 \ud800")]
            )
            recorder.wait_for(f"{ROOT}/output-fan/on", "true")
        recorder.wait_for(STATE, "disconnected")
        late = hub.retained(f"{ROOT}/#")
        ours = [each for each in recorder.records if not each.topic.startswith("late-view/")]
    assert findings(Recording(ours, late, hub.log(), client=client_id(ROOT))) == []
    assert {record.qos for record in ours} == {1}


def test_every_connect_carries_the_will_and_no_command_is_subscribed(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper:
        keeper.tick()
        wait_until_complete(hub)
    log = hub.log()
    # Mosquitto's log: the will's length, retain, QoS and topic for every CONNECT.
    assert "Will message specified (4 bytes) (r1, q1).\n" in log
    assert f"\t{STATE}\n" in log
    own = [line for line in log.splitlines() if " gkorchardhouse" in line and ROOT in line]
    subscribed = {line.split()[-1] for line in own if "PUBLISH" not in line}
    assert subscribed == {STATE, f"{ROOT}/+/+"}
    assert "(p5, c1, k5)" in log, "MQTT 5, a clean start, the keepalive of the settings"


def test_a_clean_stop_leaves_disconnected_as_the_last_word(hub: Mosquitto) -> None:
    with hub.recorder() as recorder:
        with Keeper(hub.port) as keeper:
            keeper.tick(on={"heater"})
            recorder.wait_for(STATE, "ready")
            keeper.tick()  # everything off: the last tick of a stopping daemon
        recorder.wait_for(STATE, "disconnected")
        hub.publish("mark", "the end")
        recorder.wait_for("mark", "the end")
        said = [each for each in recorder.records if each.topic != "mark"]
    assert (said[-1].topic, said[-1].payload, said[-1].retain) == (STATE, "disconnected", True)
    assert seen(hub)["output-heater/on"] == "false", "the last values arrived before it"
    assert "Received DISCONNECT from gkorchardhouse" in hub.log()


def test_a_probe_that_dies_takes_its_value_along(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        keeper.tick({**MILD, "bench": Fault.CHECKSUM})
        recorder.wait_for(f"{ROOT}/probe-bench/status", "checksum")
        recorder.wait_for(f"{ROOT}/probe-bench/temperature", "")
        assert "probe-bench/temperature" not in seen(hub)
        keeper.tick()
        wait_until_complete(hub)


def test_a_value_left_by_an_earlier_run_of_a_dead_probe_is_deleted(hub: Mosquitto) -> None:
    hub.publish(f"{ROOT}/probe-bench/temperature", "19.00", retain=True)
    with Keeper(hub.port) as keeper, hub.recorder() as recorder:
        keeper.tick({**MILD, "bench": Fault.MISSING})
        recorder.wait_for(STATE, "ready")
        assert "probe-bench/temperature" not in seen(hub)


def test_alarms_come_and_go_as_alerts(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        keeper.tick(alarms=[make_alarm("below-minimum", "bench", "lemon wants 4.0 °C")])
        recorder.wait_for(f"{ROOT}/keeper/state", "alarmed")
        eventually(lambda: "$alert/below-minimum-bench" in seen(hub), "the alert")
        assert "lemon wants 4.0 °C" in seen(hub)["$alert/below-minimum-bench"]
        keeper.tick()
        recorder.wait_for(f"{ROOT}/$alert/below-minimum-bench", "")
        wait_until_complete(hub)


def test_what_an_earlier_run_left_behind_is_gone_by_the_time_it_is_ready(hub: Mosquitto) -> None:
    hub.publish(f"{ROOT}/$alert/zone-blind-attic", "attic: blind", retain=True)
    hub.publish(f"{ROOT}/probe-attic/temperature", "19.00", retain=True)
    hub.publish(f"{ROOT}/output-fan/on/set", "true", retain=True)
    hub.publish("homie/5/neighbour/probe-attic/temperature", "3.00", retain=True)
    with Keeper(hub.port) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        late = hub.retained()
        assert not [topic for topic in late if "attic" in topic and "neighbour" not in topic]
        assert late["homie/5/neighbour/probe-attic/temperature"] == "3.00"
        # A command is nobody's to answer yet, and a device writes to no command topic.
        assert late[f"{ROOT}/output-fan/on/set"] == "true"
        assert recorder.payloads(f"{ROOT}/output-fan/on") == ["false"]


def test_only_what_changed_is_published(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        before = len(recorder.records)
        keeper.tick({**MILD, "ridge": 9.5})
        recorder.wait_for(f"{ROOT}/zone-bench/warmest", "9.50")
        hub.publish("mark", "the end")
        recorder.wait_for("mark", "the end")
        topics = {each.topic.removeprefix(f"{ROOT}/") for each in recorder.records[before:]}
    assert topics == {"probe-ridge/temperature", "zone-bench/warmest", "mark"}


def test_a_flood_of_ticks_leaves_only_the_newest(hub: Mosquitto) -> None:
    pace = QUICK._replace(send_s=0.2)
    with Keeper(hub.port, pace=pace) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        for number in range(2000):
            keeper.tick({"bench": 5.0 + number / 100.0}, now=later(NOW, number * 10.0))
        recorder.wait_for(f"{ROOT}/probe-bench/temperature", "24.99")
        published = len(recorder.payloads(f"{ROOT}/probe-bench/temperature"))
    assert published < 200, "most ticks are overtaken before they are sent"


def test_ready_waits_for_the_first_tick(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper, hub.recorder() as recorder:
        recorder.wait_for(STATE, "init")
        eventually(lambda: "$description" in seen(hub), "the description")
        assert seen(hub)["$state"] == "init"
        assert keeper.trouble
        keeper.tick()
        recorder.wait_for(STATE, "ready")
        keeper.wait_until_well()


def test_a_control_loop_that_gives_no_ticks_is_shown_as_stalled(hub: Mosquitto) -> None:
    pace = QUICK._replace(stalled_s=0.3)
    with Keeper(hub.port, pace=pace) as keeper, hub.recorder() as recorder:
        keeper.tick()
        recorder.wait_for(f"{ROOT}/keeper/state", "stalled")
        keeper.tick()
        recorder.wait_for(f"{ROOT}/keeper/state", "guarding", times=2)


def test_closing_twice_or_before_the_start_is_harmless(hub: Mosquitto) -> None:
    keeper = Keeper(hub.port)
    keeper.client.close()
    keeper.client.close()
    with Keeper(hub.port) as other:
        other.client.close()
        other.tick()
    assert not hub.retained(f"{ROOT}/keeper/state")


def test_a_device_that_is_to_go_leaves_nothing_behind(hub: Mosquitto) -> None:
    with hub.recorder(f"{ROOT}/#") as recorder:
        with Keeper(hub.port) as keeper:
            keeper.tick(alarms=[make_alarm("zone-blind", "bench")])
            recorder.wait_for(STATE, "ready")
            keeper.wait_until_well()
            before = len(recorder.records)
            keeper.client.close(remove=True)
        eventually(lambda: seen(hub) == {}, lambda: str(seen(hub)))
        records = recorder.records
        made = Recording(
            records, {}, hub.log(), client=client_id(ROOT), marks=[Mark(REMOVED, before)]
        )
        assert findings(made) == []
