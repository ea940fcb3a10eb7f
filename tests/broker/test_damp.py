"""What is shown of humidity and airing, held against the convention."""

from greenkeeper import moisture
from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.model import AiringMemory, Bad, Damp, Fault, Tick
from tests.support import homie_rules
from tests.support.ticks import make_settings, make_tick

SETTINGS = make_settings(
    site={"name": "orchard-house", "outdoor_probe": "outdoors"},
    broker={"host": "hub"},
    hygrometers={"damp": {"kind": "scripted", "file": "x", "beside": "bench"}},
    zones={
        "bench": {
            "probes": ["bench", "ridge"],
            "hygrometer": "damp",
            "heat": {"output": "heater", "setpoint_c": 5.0},
            "air": {"output": "fan"},
        }
    },
)
DEVICE = KeeperDevice(SETTINGS, program="0.1.0", started_s=0.0)
NODE, ZONE = "hygrometer-damp", "zone-bench"
DAMP = Damp(87.5, 1.0, 8.25, moisture.dew_point_c(8.25, 87.5), moisture.water_g_m3(8.25, 87.5))
AIRING = AiringMemory(asking=True, reason="airing: 88 % at damp", hours=((1, 80.0), (2, 45.0)))


def shown(tick: Tick) -> dict[str, str]:
    """The values without their root, each of them found to be what the description says."""
    named = homie_rules.properties(homie_rules.parse(DEVICE.description))
    table = {
        topic.removeprefix(f"{DEVICE.root}/"): payload
        for topic, payload in DEVICE.table(tick).items()
    }
    for path, payload in table.items():
        if payload and not path.startswith("$"):
            assert homie_rules.payload_fault(named[path], payload) is None, path
    return table


def test_the_description_keeps_to_the_convention() -> None:
    document = homie_rules.parse(DEVICE.description)
    assert homie_rules.document_faults(document) == []
    humidity = document["nodes"][NODE]["properties"]["humidity"]
    assert (humidity["datatype"], humidity["unit"]) == ("float", "%")


def test_humidity_and_dew_point_are_shown_while_they_are_trusted() -> None:
    table = shown(make_tick(SETTINGS)._replace(humidity={"damp": DAMP}))
    assert table[f"{NODE}/humidity"] == "87.50"
    assert table[f"{NODE}/dew-point"] == "6.30"
    assert table[f"{NODE}/status"] == "ok"


def test_a_hygrometer_that_is_not_trusted_shows_no_number() -> None:
    for humidity in ({"damp": Bad(Fault.STALE, "quiet")}, {}):
        table = shown(make_tick(SETTINGS)._replace(humidity=humidity))
        assert (table[f"{NODE}/humidity"], table[f"{NODE}/dew-point"]) == ("", "")
        assert table[f"{NODE}/status"] in ("stale", "missing")


def test_airing_is_shown_with_its_reason_and_what_it_let_out() -> None:
    tick = make_tick(SETTINGS)
    tick = tick._replace(memory=tick.memory._replace(airing={"bench": AIRING}))
    table = shown(tick)
    assert table[f"{ZONE}/airing"] == "true"
    assert table[f"{ZONE}/airing-reason"] == "airing: 88 % at damp"
    assert table[f"{ZONE}/heat-let-out"] == "0.125"
