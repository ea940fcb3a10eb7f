"""An hour of the demo, recorded on a real broker, walked by all 47 rules: nothing is found,
and nothing passed that the AsyncAPI document does not say.

The real loop, the demo's own settings and house, a frosty evening, and people who order
things meanwhile, some of them wrongly.
"""

import time
from pathlib import Path

import pytest

from greenkeeper.assembly import assemble
from greenkeeper.broker import asyncapi, client
from greenkeeper.clock import HandClock
from greenkeeper.daemon import Keeper
from greenkeeper.settings.load import load
from tests.broker.house import QUICK
from tests.broker.test_asyncapi import mismatch
from tests.support.homie_traffic import STOPPED, Mark, Recording, findings
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

DEVICE = "orchard-corner"
ROOT = f"homie/5/{DEVICE}"
ZONE = f"{ROOT}/zone-bench"
DEMO = Path(__file__).parents[2] / "config/demo.yaml"
BEGINS_UTC_S = 1_768_410_000.0  # 2026-01-14 18:00 in Brussels
TICKS = 360


def test_an_hour_of_the_demo_keeps_to_the_convention(
    hub: Mosquitto, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(client, "usual_pace", lambda *_: QUICK._replace(send_s=0.002))
    with hub.recorder("homie/#") as recorder:
        late = _lived(hub, tmp_path)
        eventually(
            lambda: recorder.payloads(f"{ROOT}/$state")[-1:] == ["disconnected"], "the goodbye"
        )
        records = recorder.records
    told = [record for record in records if record.topic == f"{ROOT}/probe-outdoors/temperature"]
    assert len(told) > 20, "an hour's course was told, not only its end"
    assert {"true", "false"} == {
        each.payload for each in records if each.topic == f"{ROOT}/output-heater/on"
    }
    assert f"{ZONE}/heat-setpoint" in late
    marks = [Mark(STOPPED, len(records) - 1)]
    made = Recording(
        records, late, hub.log(), device=DEVICE, client=client.client_id(ROOT), marks=marks
    )
    assert findings(made) == []
    written = asyncapi.document(load(tmp_path / "demo.yaml"), "0.1.0")
    own = [record for record in records if not record.topic.endswith("/set")]
    assert [fault for record in own if (fault := mismatch(written, record))] == []
    assert "8.00" in [each.payload for each in records if each.topic == f"{ZONE}/heat-setpoint"]


def _lived(hub: Mosquitto, folder: Path) -> dict[str, str]:
    """The hour; what a late subscriber is given after its end."""
    file = folder / "demo.yaml"
    commands = "{setpoints: [bench], switches: [bench]}"
    file.write_text(
        DEMO.read_text(encoding="utf-8")
        + f"\nfolders: {{state: {folder}, runtime: {folder}}}\n"
        + f"broker: {{host: 127.0.0.1, port: {hub.port}, commands: {commands}}}\n",
        encoding="utf-8",
    )
    clock = HandClock(utc_s=BEGINS_UTC_S)
    keeper = Keeper(assemble(file, load(file), clock), clock)
    try:
        for number in range(TICKS):
            keeper.tick()
            clock.advance(keeper.parts.poll_s)
            time.sleep(0.01)
            for topic, payload, retain in ORDERS.get(number, ()):
                hub.publish(f"{ZONE}/{topic}/set", payload, retain=retain)
    finally:
        keeper._shut_down(clean=True)
    return hub.retained("homie/#")


# Tick -> what people send then. The first second after connecting is over by the first.
ORDERS = {
    150: (("heat-setpoint", "8", False),),
    200: (("heat-setpoint", "99", False), ("coldest", "20", False), ("switch", "OFF", False)),
    240: (("switch", "off", True),),
    280: (("back-to-plan", "plan", False),),
    300: (("switch", "off", False),),
    330: (("switch", "armed", False),),
}
