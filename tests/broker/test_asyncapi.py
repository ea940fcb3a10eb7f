"""The AsyncAPI document: valid to somebody else's eyes, and true of what really passes."""

import json
import re
import warnings
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from pydantic import ValidationError

from greenkeeper.broker import asyncapi
from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.commands import main
from greenkeeper.model import ContactReading, Place, VentMemory
from greenkeeper.settings.schema import Settings
from tests.broker.house import ROOT, Keeper
from tests.broker.test_damp import AIRING, DAMP
from tests.support.mosquitto import Mosquitto, Record
from tests.support.ticks import HOUSE, NOW, make_alarm, make_settings

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its own field names are warned of at its import
    from asyncapi3 import AsyncAPI3

COMMANDS = {"setpoints": ["bench"], "switches": ["bench"]}


NEIGHBOURS: dict[str, Any] = {
    "site": {"name": "orchard-house", "outdoor_probe": "outdoors", "outdoor_hygrometer": "dew"},
    "probes": {
        **HOUSE["probes"],
        "frame": {"kind": "broker", "topic": "garden/frame", "field": "/air/t", "stale_s": 900},
    },
    "hygrometers": {
        "damp": {"kind": "scripted", "file": "x", "beside": "bench"},
        "dew": {"kind": "broker", "topic": "garden/dew", "beside": "outdoors", "stale_s": 900},
    },
    "inputs": {"door": {"kind": "scripted", "file": "x", "tells": "door-open"}},
    "outputs": {
        **HOUSE["outputs"],
        "mat": {
            **{"kind": "broker", "topic": "mat/set", "order_on": '{"on": 1, "s": {hold_s}}'},
            **{"order_off": '{"on": 0}', "answers": "mat/state", "answer_field": "/on"},
            **{"says_on": "true", "says_off": "false", "hold_s": 60},
        },
        "up": {"kind": "modelled", "drives": "vent-open"},
        "down": {"kind": "modelled", "drives": "vent-close"},
    },
    "vents": {"ridge-vent": {"open": "up", "close": "down"}},
    "zones": {
        "bench": {**HOUSE["zones"]["bench"], "hygrometer": "damp", "air": {"output": "fan"}},
        "frame": {
            "probes": ["frame"],
            "heat": {"output": "mat", "setpoint_c": 5.0, "independent_limit": True},
        },
    },
}


def house() -> Settings:
    """One of everything that can be told, heard or ordered."""
    broker = {"host": "hub", "port": 8883, "tls": {}, "commands": COMMANDS}
    return make_settings(**NEIGHBOURS, broker=broker)


def made() -> dict[str, Any]:
    document: dict[str, Any] = asyncapi.document(house(), "0.1.0")
    return document


def test_another_reader_of_the_standard_takes_it() -> None:
    read = AsyncAPI3.model_validate(json.loads(json.dumps(made())))
    assert len(made()["channels"]) == len(read.channels.root)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda document: document.pop("info"),
        lambda document: document["operations"]["send_state"].update(action="publish"),
        lambda document: document["channels"]["state"].update(adress="x"),
    ],
)
def test_that_reader_would_refuse_a_wrong_one(spoil: Any) -> None:
    document = made()
    spoil(document)
    with pytest.raises(ValidationError):
        AsyncAPI3.model_validate(document)


def test_every_reference_leads_somewhere_and_every_parameter_is_declared() -> None:
    document = made()
    for operation in document["operations"].values():
        for reference in [operation["channel"], *operation["messages"]]:
            found: Any = document
            for step in reference["$ref"].removeprefix("#/").split("/"):
                found = found[step]
    for channel in document["channels"].values():
        named = set(re.findall(r"\{(\w+)\}", channel["address"]))
        assert named == set(channel.get("parameters", {}))


def test_it_names_every_topic_and_no_other() -> None:
    device = KeeperDevice(house(), program="0", started_s=0.0)
    addresses = {
        action: {
            document["channels"][operation["channel"]["$ref"].rsplit("/", 1)[-1]]["address"]
            for operation in document["operations"].values()
            if operation["action"] == action
        }
        for document in [made()]
        for action in ("send", "receive")
    }
    attributes = {f"{ROOT}/{each}" for each in ("$state", "$description")}
    attributes |= {f"{ROOT}/$alert/{{alert}}", f"{ROOT}/$log/{{level}}"}
    assert addresses["send"] == device.topics | attributes | {"mat/set"}
    assert addresses["receive"] == {
        *device.commands,
        *("garden/frame", "garden/dew", "mat/state"),
    }


def test_what_really_passes_is_what_it_says(hub: Mosquitto) -> None:
    with hub.recorder(f"{ROOT}/#") as recorder:
        with Keeper(hub.port, house=NEIGHBOURS, commands=COMMANDS) as keeper:
            tick = keeper.tick(alarms=[make_alarm("zone-blind", "bench")], on={"heater", "up"})
            keeper.client.publish(
                tick._replace(
                    humidity={"damp": DAMP},
                    contacts={"door": ContactReading(NOW.mono_s, True)},
                    memory=tick.memory._replace(
                        airing={"bench": AIRING}, vents={"ridge-vent": VentMemory(Place.OPEN)}
                    ),
                )
            )
            recorder.wait_for(f"{ROOT}/$state", "ready")
            hub.publish(f"{ROOT}/zone-bench/switch/set", "nonsense")
            keeper.wait_for_trouble("order-refused", "")
            recorder.wait_for(f"{ROOT}/hygrometer-damp/humidity", "87.50")
            recorder.wait_for(f"{ROOT}/zone-bench/airing", "true")
            keeper.tick({"bench": 1.0})
        recorder.wait_for(f"{ROOT}/$state", "disconnected")
        records = recorder.records
    assert len({record.topic for record in records}) > 80
    said = [record for record in records if not record.topic.endswith("/set")]
    document = made()
    assert [fault for record in said if (fault := mismatch(document, record))] == []
    wrong = Record(f"{ROOT}/zone-bench/coldest", "mild", 1, True)
    assert mismatch(document, wrong), "the comparison itself can fail"
    assert mismatch(document, wrong._replace(topic=f"{ROOT}/zone-bench/other"))


@pytest.mark.parametrize(
    ("channel", "sound", "wrong"),
    [
        ("probe-frame_report", {"air": {"t": 4.5}}, {"air": {"t": "mild"}}),
        ("hygrometer-dew_report", 81, "damp"),
        ("output-mat_order", '{"on": 1, "s": 60}', '{"on": 1, "s": {hold_s}}'),
        ("output-mat_answer", {"on": True}, True),
    ],
)
def test_what_others_say_and_are_told_is_described(channel: str, sound: Any, wrong: Any) -> None:
    schema = made()["channels"][channel]["messages"]["text"]["payload"]
    jsonschema.validate(sound, schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(wrong, schema)


def mismatch(document: dict[str, Any], record: Record) -> str | None:
    for key, channel in document["channels"].items():
        pattern = re.sub(r"\\\{\w+\\\}", "[^/]+", re.escape(channel["address"]))
        if not re.fullmatch(pattern, record.topic):
            continue
        message = channel["messages"]["text"]
        is_json = message.get("contentType") == "application/json"
        payload = json.loads(record.payload) if is_json else record.payload
        bindings = document["operations"][f"send_{key}"]["bindings"]["mqtt"]
        if (bindings["qos"], bindings["retain"]) != (record.qos, record.retain):
            return f"{record}: not as {bindings}"
        try:
            jsonschema.validate(payload, message["payload"])
        except jsonschema.ValidationError as error:
            return f"{record}: {error.message}"
        return None
    return f"{record.topic}: no such channel"


def test_the_command_writes_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "house.yaml"
    file.write_text(yaml.safe_dump({**HOUSE, "broker": {"host": "hub"}}), encoding="utf-8")
    assert main(["check", "--topics", str(file)]) == 0
    document = json.loads(capsys.readouterr().out)
    AsyncAPI3.model_validate(document)
    assert not [each for each in document["operations"] if each.startswith("receive")]
    file.write_text(yaml.safe_dump(HOUSE), encoding="utf-8")
    assert main(["check", "--topics", str(file)]) != 0
    assert "no broker: group" in capsys.readouterr().err


def test_the_page_for_newcomers_names_every_topic_that_can_be_ordered() -> None:
    page = (Path(__file__).parents[2] / "hardware-notes/broker.md").read_text(encoding="utf-8")
    ordered = {
        operation["channel"]["$ref"].rsplit("_", 2)[-2]
        for operation in made()["operations"].values()
        if operation["channel"]["$ref"].endswith("_set")
    }
    assert ordered == set(re.findall(r"^\| `([a-z-]+)/set` ", page, re.MULTILINE))
