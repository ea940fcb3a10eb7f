"""The coming night on the broker: whole, or not at all."""

from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.outlook_file import Said
from tests.support.ticks import NOW, make_settings, make_tick

SETTINGS = make_settings(broker={"host": "hub"})
SAID = Said(
    made_utc_s=NOW.utc_s - 3600.0,
    until_utc_s=NOW.utc_s + 36_000.0,
    zone="bench",
    source="nights",
    outdoor_low_c=-4.8,
    least_c=-6.9,
    most_c=-2.7,
    inside_low_c=4.6,
    outdoor_low_utc_s=NOW.utc_s + 30_000.0,
    cold_low_c=-1.2,
    kwh=5.2,
    advice="Nothing to do: the heater keeps it, with about 5.2 kWh.",
    grave=False,
    due="Hang bubbles by 15 October, in a day.",
)


def shown(said: Said | None) -> dict[str, str]:
    device = KeeperDevice(SETTINGS, program="0", started_s=0.0, outlooks=lambda: said)
    prefix = f"{device.root}/outlook/"
    return {
        topic.removeprefix(prefix): payload
        for topic, payload in device.table(make_tick(SETTINGS)).items()
        if topic.startswith(prefix)
    }


def test_it_is_told_whole() -> None:
    told = shown(SAID)
    assert told.pop("made").endswith("+00:00")
    assert told.pop("outdoor-low-at").endswith("+00:00")
    assert told == {
        "zone": "bench",
        "by-season": "Hang bubbles by 15 October, in a day.",
        "advice": "Nothing to do: the heater keeps it, with about 5.2 kWh.",
        "too-cold": "false",
        "outdoor-low": "-4.80",
        "outdoor-least": "-6.90",
        "low": "4.60",
        "low-without-heat": "-1.20",
        "energy": "5.20",
    }


def test_without_one_nothing_has_a_value() -> None:
    assert set(shown(None).values()) == {""}
