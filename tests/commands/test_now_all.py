"""`greenkeeper now --all`: a few real keepers on a real broker, alive, in trouble, dead."""

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from greenkeeper.broker.client import BrokerClient
from greenkeeper.clock import HandClock
from greenkeeper.commands import main
from greenkeeper.model import Now
from tests.broker.house import QUICK
from tests.support.mosquitto import Mosquitto
from tests.support.ticks import MILD, make_alarm, make_settings, make_tick
from tests.support.waiting import eventually

COLD = {"bench": 3.9375, "ridge": 5.0, "outdoors": -7.0}
PROJECT = Path(__file__).parents[2]


@pytest.fixture
def hub(tmp_path):
    with Mosquitto(tmp_path / "hub") as broker:
        yield broker


@pytest.fixture
def desk(tmp_path, hub):
    """The settings of whoever asks."""
    file = tmp_path / "desk.yaml"
    file.write_text(
        "site: {name: desk, timezone: Europe/Brussels}\n"
        "probes: {here: {kind: modelled, place: bench}}\n"
        "zones: {here: {probes: [here]}}\n"
        f"broker: {{host: 127.0.0.1, port: {hub.port}}}\n"
    )
    return file


@pytest.fixture
def settle(hub):
    """Real clients of real keepers, each with one tick told."""
    clients = []

    def build(name, temps=MILD, **tick):
        now = Now(5000.0, time.time(), True)
        settings = make_settings(
            site={"name": name}, broker={"host": "127.0.0.1", "port": hub.port}
        )
        clock = HandClock(utc_s=now.utc_s - 3600.0, mono_s=1400.0)
        client = BrokerClient(settings, clock, "0.1.0", pace=QUICK)
        clients.append(client)
        client.start()
        client.publish(make_tick(settings, temps, now=now, **tick))
        eventually(lambda: not client.conditions(), "it does not get through")
        return client

    yield build
    for client in clients:
        client.close()


def ask(desk, *words):
    return main(("now", "--all", "--settings", str(desk), *words))


def until_retained(hub, topic, payload):
    eventually(lambda: hub.retained(topic).get(topic) == payload, f"{topic} is not {payload}")


def test_the_dead_come_first_then_trouble_then_calm(desk, hub, settle, capsys):
    settle("fern-corner", on={"heater"})
    settle("north-frame", COLD, alarms=[make_alarm("below-minimum", "bench", "lemon wants 5.0 °C")])
    settle("old-pit").close()
    until_retained(hub, "homie/5/north-frame/zone-bench/coldest", "3.94")
    hub.publish("homie/5/weather-station/$state", "ready", retain=True)
    hub.publish("homie/5/weather-station/$description", '{"homie":"5.0"}', retain=True)
    capsys.readouterr()  # the keepers' own log
    assert ask(desk) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("3 houses on 127.0.0.1, 1 DEAD, 1 to look at")
    assert lines[2].split() == ["house", "how", "coldest", "on"]
    assert lines[3].split()[:4] == ["old-pit", "STOPPED", "last", "heard"]
    assert "°C" not in lines[3]
    assert lines[4].split() == ["north-frame", "alarmed", "bench", "3.9", "°C", "–"]
    assert lines[5] == "  bench: plants below their minimum (lemon wants 5.0 °C)"
    assert lines[6].split() == ["fern-corner", "guarding", "bench", "8.2", "°C", "heater"]
    assert len(lines) == 7
    assert max(map(len, lines)) <= 80
    assert "weather-station" not in "\n".join(lines)


def test_calm_houses_are_no_finding(desk, settle, hub, capsys):
    settle("fern-corner")
    until_retained(hub, "homie/5/fern-corner/zone-bench/coldest", "8.25")
    capsys.readouterr()  # the keeper's own log
    assert ask(desk) == 0
    assert capsys.readouterr().out.startswith("1 house on 127.0.0.1  ")


def test_a_killed_keeper_is_lost_and_its_last_temperature_is_not_shown(desk, hub, capsys):
    keeper = subprocess.Popen(
        [sys.executable, "-m", "tests.broker.publisher", str(hub.port)], cwd=PROJECT
    )
    try:
        until_retained(hub, "homie/5/orchard-house/$state", "ready")
        keeper.send_signal(signal.SIGKILL)
        until_retained(hub, "homie/5/orchard-house/$state", "lost")
    finally:
        keeper.kill()
        keeper.wait()
    assert ask(desk, "--json") == 1
    (house,) = json.loads(capsys.readouterr().out)
    assert (house["device"], house["how"], house["dead"]) == ("orchard-house", "lost", True)
    assert house["zones"] == []
    assert house["told_utc_s"] is not None
    assert ask(desk) == 1
    assert "LOST" in capsys.readouterr().out


def test_an_empty_broker_is_a_finding_with_what_to_look_at(desk, capsys):
    assert ask(desk) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "No house can be seen under homie/5/ on 127.0.0.1" in told
    assert ask(desk, "--json") == 1
    assert json.loads(capsys.readouterr().out) == []


def test_no_broker_in_the_settings_and_none_that_answers_are_told(desk, hub, capsys):
    hub.stop()
    assert ask(desk) == 1
    assert "nothing listens there" in capsys.readouterr().err
    desk.write_text(desk.read_text().partition("broker:")[0])
    assert ask(desk) == 1
    assert "name no broker" in capsys.readouterr().err


def test_all_and_watch_do_not_go_together(desk, capsys):
    with pytest.raises(SystemExit) as ended:
        ask(desk, "--watch")
    assert ended.value.code == 2
