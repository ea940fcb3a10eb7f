"""Orders over a real broker to the real program: heat follows, a kill does not lose them."""

import signal
from pathlib import Path

import pytest

from tests.endtoend.shed import Shed
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

ZONE = "homie/5/shed/zone-bench"
COMMANDS = "commands: {setpoints: [bench], switches: [bench]}"


@pytest.fixture
def hub(tmp_path: Path):
    with Mosquitto(tmp_path / "hub") as broker:
        yield broker


@pytest.fixture
def shed(tmp_path: Path, hub: Mosquitto):
    with Shed(tmp_path / "shed", broker_port=hub.port) as made:
        made.bench(8.0)
        text = made.file.read_text(encoding="utf-8").replace(
            "keepalive_s: 5", f"keepalive_s: 5, {COMMANDS}"
        )
        made.file.write_text(text, encoding="utf-8")
        yield made


def order(hub: Mosquitto, shed: Shed, topic: str, payload: str, holds, what: str) -> None:
    """Send it until it holds: in the first second after connecting nothing is believed."""

    def obeyed() -> bool:
        hub.publish(f"{ZONE}/{topic}/set", payload)
        return bool(holds())

    eventually(obeyed, lambda: f"{what}\n{shed.log()}", within_s=40.0)


def zone(shed: Shed) -> dict:
    return shed.status().get("zones", {}).get("bench", {})


def test_an_ordered_setpoint_heats_is_shown_and_outlives_a_kill(shed: Shed, hub: Mosquitto) -> None:
    shed.start()
    shed.until(lambda: hub.retained().get("homie/5/shed/$state") == "ready", "not connected")
    assert not shed.heating()
    order(hub, shed, "heat-setpoint", "9.5", shed.heating, "the heat does not follow")
    board = shed.command("now", "--runtime", str(shed.runtime)).stdout
    assert "heat at 9.5 °C as ordered until" in board
    eventually(lambda: hub.retained().get(f"{ZONE}/heat-setpoint") == "9.50", "no echo")
    until = hub.retained()[f"{ZONE}/heat-setpoint-until"]
    shed.end(signal.SIGKILL)
    shed.command("safe", "--settings", str(shed.file))
    assert not shed.heating()
    shed.start()
    shed.until(shed.heating, "a killed keeper forgot what was ordered")
    assert zone(shed)["heat_setpoint_c"] == 9.5
    eventually(lambda: hub.retained().get("homie/5/shed/$state") == "ready", "not connected")
    assert hub.retained()[f"{ZONE}/heat-setpoint-until"][:15] == until[:15], "its end moved"
    order(
        hub, shed, "back-to-plan", "plan",
        lambda: zone(shed).get("heat_setpoint_c") == 5.0, "it cannot be taken back",
    )  # fmt: skip
    shed.until(lambda: not shed.heating(), "it heats on")


def test_a_zone_that_is_off_leaves_the_heater_off_and_alarms(shed: Shed, hub: Mosquitto) -> None:
    shed.start()
    shed.until(lambda: hub.retained().get("homie/5/shed/$state") == "ready", "not connected")
    order(hub, shed, "switch", "off", lambda: zone(shed).get("off_until_utc_s"), "not off")
    shed.bench(3.0)
    eventually(lambda: hub.retained().get(f"{ZONE}/coldest") == "3.00", "the cold was not measured")
    assert not shed.heating()
    assert "OFF until" in shed.command("now", "--runtime", str(shed.runtime)).stdout
    order(hub, shed, "switch", "armed", shed.heating, "armed again, it does not heat")
