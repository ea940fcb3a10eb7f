"""The real program on real files: heats, stops, and leaves the relays off however it ends.

What it does when it is killed, frozen, starved or flooded: tests/faults/catalogue/process.py.
"""

import shutil
import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from greenkeeper import outlook_file
from greenkeeper.journal.reader import Journal
from greenkeeper.outlook_file import Said
from tests.endtoend.shed import FAN, HEATER, LEFT, OUTDOORS, RIGHT, ServiceManager, Shed
from tests.support.mosquitto import Mosquitto


@pytest.fixture
def shed(tmp_path: Path):
    with Shed(tmp_path) as made:
        yield made


def heated(shed: Shed, **environment: str) -> Shed:
    """A running keeper with its heater on."""
    shed.bench(4.9)
    shed.start(**environment)
    shed.until(shed.heating, "the heater did not come on")
    shed.until(
        lambda: shed.status().get("outputs", {}).get("heater", {}).get("on"),
        "the status did not say so",
    )
    return shed


def test_heats_when_the_files_say_4_9_and_stops_when_they_say_5_6(tmp_path):
    with (
        Mosquitto(tmp_path / "mosquitto") as broker,
        Shed(tmp_path / "shed", broker_port=broker.port) as shed,
        broker.recorder("homie/5/shed/#") as seen,
    ):
        heated(shed)
        seen.wait_for("homie/5/shed/output-heater/on", "true", within_s=40.0)
        status = shed.status()
        assert status["outputs"]["heater"]["reason"].endswith("4.9 °C is at or below 5.0 °C")
        shed.bench(5.625)
        shed.until(lambda: not shed.heating(), "the heater did not go off")
        shed.until(
            lambda: seen.payloads("homie/5/shed/output-heater/on")[-1] == "false",
            "the broker did not show it",
        )
        assert shed.end() == 0
        seen.wait_for("homie/5/shed/$state", "disconnected", within_s=40.0)


def test_what_a_stopped_keeper_leaves_on_the_broker_says_off(tmp_path):
    with (
        Mosquitto(tmp_path / "mosquitto") as broker,
        Shed(tmp_path / "shed", broker_port=broker.port) as shed,
        broker.recorder("homie/5/shed/#") as seen,
    ):
        heated(shed)
        seen.wait_for("homie/5/shed/output-heater/on", "true", within_s=40.0)
        assert shed.end() == 0
        seen.wait_for("homie/5/shed/$state", "disconnected", within_s=40.0)
        assert broker.retained()["homie/5/shed/output-heater/on"] == "false"


def test_active_low_relay_never_blips_on_at_the_start_and_is_off_after_a_stop(shed):
    shed.start()
    shed.until(lambda: shed.status(), "no first tick")
    assert shed.end() == 0
    levels = [level for _, level in shed.lines.changes(HEATER)]
    assert levels[-1] is None  # let go, at its off level
    assert set(levels[:-1]) == {1}


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_stopping_leaves_every_relay_off_and_the_journal_whole(shed, number):
    heated(shed)
    assert shed.end(number) == 0
    assert not shed.heating()
    assert shed.lines.level(FAN) == 0
    assert shed.command("journal", "check", "--settings", str(shed.file)).returncode == 0
    assert not shed.status()


def test_killed_and_its_settings_ruined_safe_still_drives_it_off(shed):
    heated(shed)
    shed.end(signal.SIGKILL)
    shed.file.write_text("site: [", encoding="utf-8")
    done = shed.command("safe", "--settings", str(shed.file), "--state", str(shed.state))
    assert done.returncode == 0, done.stderr
    assert not shed.heating()


def test_starved_of_readings_the_heater_goes_off_and_comes_back_with_them(shed):
    heated(shed)
    shed.bus.vanish(LEFT)
    shed.bus.empty(RIGHT)
    shed.until(lambda: not shed.heating(), "it heated on without a probe")
    shed.until(
        lambda: shed.status()["outputs"]["heater"]["reason"] == "no trusted probe in bench",
        "the reason was not told",
    )
    shed.bus.appear(LEFT)
    shed.until(
        lambda: shed.status()["probes"]["left"]["fault"] == "power-on",
        "the power-on value of a probe just found was not recognised",
    )
    assert not shed.heating()
    shed.bench(4.9)
    shed.until(shed.heating, "it did not come back")


def test_a_hung_probe_does_not_stall_the_ticks(shed):
    heated(shed)
    shed.bus.hang(LEFT)
    first = shed.status()["utc_s"]
    shed.until(lambda: shed.status()["utc_s"] > first + 8.0, "the ticks stalled")
    shed.until(lambda: not shed.heating(), "a probe nobody hears any more kept the heater on")
    assert shed.end() == 0
    assert not shed.heating()


def test_a_start_without_any_probe_comes_up_with_outputs_off_and_alarms(shed):
    for rom in (LEFT, RIGHT):
        shed.bus.vanish(rom)
    with ServiceManager(shed.folder) as manager:
        shed.start(NOTIFY_SOCKET=str(manager.path))
        assert manager.hear()[0].startswith("STATUS=bench blind")
        assert manager.hear() == ["READY=1"]
    shed.until(lambda: shed.status(), "no status")
    assert shed.status()["zones"]["bench"]["coldest_c"] is None
    assert not shed.heating()


def test_a_bus_full_of_rubbish_and_one_that_is_not_there_give_no_traceback(shed):
    shed.bus.garbage(LEFT)
    shed.bus.rubbish(RIGHT)
    shed.bus.short(OUTDOORS)
    shed.start()
    shed.until(lambda: shed.status(), "no first tick")
    faults = {name: probe["fault"] for name, probe in shed.status()["probes"].items()}
    assert faults == {"left": "unreadable", "right": "unreadable", "outdoors": "unreadable"}
    shutil.rmtree(shed.bus.folder)
    shed.until(
        lambda: {probe["fault"] for probe in shed.status()["probes"].values()} == {"missing"},
        "a bus that has gone was not noticed",
    )
    assert not shed.heating()
    assert shed.end() == 0
    assert "Traceback" not in shed.log()


def test_every_tick_is_a_sign_of_life_to_the_service_manager(shed):
    with ServiceManager(shed.folder) as manager:
        shed.start(NOTIFY_SOCKET=str(manager.path), WATCHDOG_USEC="30000000")
        heard = [manager.hear()[0] for _ in range(4)]
        shed.end()
        while heard[-1] != "STOPPING=1":
            heard.append(manager.hear()[0])
    assert heard[:4] == ["WATCHDOG=1", "READY=1", "WATCHDOG=1", "WATCHDOG=1"]


def test_new_settings_are_taken_on_hup_and_wrong_ones_are_refused(shed):
    heated(shed)
    shed.write_settings(setpoint="3")
    shed.send(signal.SIGHUP)
    shed.until(lambda: not shed.heating(), "the new setpoint was not taken")
    shed.write_settings(setpoint="99")
    shed.send(signal.SIGHUP)
    shed.until(lambda: "settings-refused" in shed.log(), "nothing was refused")
    assert "house.yaml:" in shed.log()
    assert shed.status()["zones"]["bench"]["heat_setpoint_c"] == 3.0


def test_a_changed_pin_moves_the_relay_and_leaves_the_old_one_off(shed):
    heated(shed)
    shed.file.write_text(shed.file.read_text().replace(f"pin: {HEATER}", "pin: 22"))
    shed.send(signal.SIGHUP)
    shed.until(
        lambda: shed.lines.changes(22) and shed.lines.level(22) == 0,
        "the new relay did not come on",
    )
    assert not shed.heating()


def test_a_pin_that_is_taken_is_refused_and_the_old_relay_goes_on(shed):
    heated(shed)
    shed.lines.hold(22, owner=1)
    shed.file.write_text(shed.file.read_text().replace(f"pin: {HEATER}", "pin: 22"))
    shed.send(signal.SIGHUP)
    shed.until(lambda: "settings-refused" in shed.log(), "nothing was refused")
    shed.until(shed.heating, "the old relay did not come back")


def test_a_ceiling_trip_is_cleared_by_a_person_and_by_nobody_else(shed):
    shed.bench(41.0)
    shed.start()
    shed.until(lambda: shed.status().get("latches"), "it did not trip")
    shed.bench(4.0)
    shed.until(lambda: shed.status()["zones"]["bench"]["coldest_c"] == 4.0, "the cold was not seen")
    assert not shed.heating()
    shed.end()
    shed.start()
    shed.until(lambda: shed.status().get("latches"), "the latch did not outlive the restart")
    listed = shed.command("clear", "--runtime", str(shed.runtime))
    assert listed.stdout.strip() == "over-ceiling-bench"
    unknown = shed.command("clear", "--runtime", str(shed.runtime), "no-such")
    assert unknown.returncode == 1
    assert "latched now: over-ceiling-bench" in unknown.stderr
    done = shed.command("clear", "--runtime", str(shed.runtime), "over-ceiling-bench")
    assert done.stdout.strip() == "over-ceiling-bench is cleared", done.stderr
    shed.until(shed.heating, "it did not heat afterwards")


def in_table(journal: Path) -> list[str]:
    """Reasons of the switchings in the journal itself."""
    with closing(sqlite3.connect(f"file:{journal}?mode=ro", uri=True)) as database:
        return [row[0] for row in database.execute("SELECT reason FROM switching")]


def test_the_journal_keeps_every_switching_with_its_reason_over_a_kill(shed):
    heated(shed)
    file = shed.state / "journal.db"

    def reasons() -> list[str]:
        with Journal(file) as journal:
            return [each.reason for each in journal.switchings(0.0, 1e10)]

    shed.until(reasons, "the switching was not written at once")
    shed.end(signal.SIGKILL)
    (reason,) = reasons()
    assert reason.endswith("4.9 °C is at or below 5.0 °C")
    shed.start()
    shed.until(lambda: in_table(file), "the next run did not take it in")
    assert in_table(file)[0] == reason
    check = shed.command("journal", "check", "--settings", str(shed.file))
    assert "Traceback" not in check.stderr


def test_a_broker_that_is_not_there_changes_nothing(tmp_path):
    with Shed(tmp_path, broker_port=1) as shed:
        heated(shed)
        shed.bench(7.0)
        shed.until(lambda: not shed.heating(), "control waited for the broker")
        assert shed.end() == 0


def test_an_output_that_cannot_be_claimed_stops_the_start_with_a_plain_message(shed):
    shed.lines.hold(HEATER, owner=1)
    shed.start()
    assert shed.exit_code() == 1
    assert "Traceback" not in shed.log()
    assert "heater" in shed.log()


def test_mock_pins_serve_for_trying_out(tmp_path):
    with Shed(tmp_path, gpio="mock") as shed:
        shed.bench(4.9)
        shed.start()
        shed.until(
            lambda: shed.status().get("outputs", {}).get("heater", {}).get("on"),
            "the mock heater did not come on",
        )
        assert shed.end() == 0


def test_now_shows_it_and_says_when_nobody_is_there(shed):
    heated(shed)
    shown = shed.command("now", "--settings", str(shed.file))
    assert shown.returncode == 0, shown.stderr
    assert "heater        ON" in shown.stdout
    assert "tonight" not in shown.stdout
    now_utc_s = time.time()
    advice = "Nothing to do: the heater keeps it, with about 3.1 kWh."
    said = Said(
        *(now_utc_s - 60.0, now_utc_s + 3600.0, "bench", "nights", -3.0, -5.0, -1.0, 4.6),
        *(now_utc_s, -1.0, 3.1, advice, False),
    )
    outlook_file.add(shed.state / outlook_file.FILE_NAME, said)
    shown = shed.command("now", "--settings", str(shed.file))
    assert f"tonight       {advice}" in shown.stdout
    shed.end()
    gone = shed.command("now", "--settings", str(shed.file))
    assert gone.returncode == 1
    assert gone.stderr.startswith("greenkeeper now: no keeper is running")
