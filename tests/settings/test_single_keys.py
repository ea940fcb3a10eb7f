"""One key at a time: what is said of a value that is wrong, unknown or missing."""

import pytest

from tests.settings.examples import changed, faults, said

# A change to the sound house, and the one fault it makes.
FAULTS = {
    "a number out of range": (
        ("setpoint_c: 5", "setpoint_c: 50"),
        "house.yaml:19:19  zones.bench.heat.setpoint_c: found 50; allowed -10 to 35 (°C)",
    ),
    "a number out of range after its unit": (
        ("ceiling_c: 40", "ceiling_c: 400 °F"),
        "house.yaml:23:16  zones.bench.ceiling_c: found '400 °F'; allowed 15 to 60 (°C)\n"
        "    That is 204.4 °C.",
    ),
    "a difference at a bound that is not allowed": (
        ("stale_s: 45", "jump_k: 0"),
        "house.yaml:8:56  probes.right.jump_k: found 0; allowed above 0, up to 50 (kelvin)",
    ),
    "a decimal comma": (
        ("      setpoint_c: 5", "      setpoint_c: 5,5"),
        "house.yaml:19:19  zones.bench.heat.setpoint_c: found '5,5'; allowed -10 to 35 (°C)\n"
        "    Write a decimal point, not a comma.",
    ),
    "a decimal comma that splits a group": (
        ("min_c: 4}", "min_c: 4,5}"),
        "house.yaml:25:44  plants[plumbago].5: found an unknown key;"
        " allowed name, zone, min_c, max_c, rating\n"
        "    Write decimals with a point, not a comma.",
    ),
    "a number in quotes": (
        ("poll_s: 10", "poll_s: '10'"),
        "house.yaml:5:9  poll_s: found '10'; allowed 1 to 60 (seconds)\n"
        "    Write it without quotes.",
    ),
    "a number with a unit where none belongs": (
        ("stale_s: 45", "stale_s: 45 s"),
        "house.yaml:8:57  probes.right.stale_s: found '45 s'; allowed 5 to 3600 (seconds)\n"
        "    Write the number alone, without its unit.",
    ),
    "a word where a temperature belongs": (
        ("ceiling_c: 40", "ceiling_c: hot"),
        "house.yaml:23:16  zones.bench.ceiling_c: found 'hot'; allowed 15 to 60 (°C)\n"
        "    A bare number is °C; a unit may follow: 5 °C or 41 °F.",
    ),
    "a group where a temperature belongs": (
        ("ceiling_c: 40", "ceiling_c: {}"),
        "house.yaml:23:16  zones.bench.ceiling_c: found none; allowed 15 to 60 (°C)",
    ),
    "a list where a difference belongs": (
        ("stale_s: 45", "jump_k: [4]"),
        "house.yaml:8:56  probes.right.jump_k: found a list; allowed above 0, up to 50 (kelvin)",
    ),
    "NaN": (
        ("poll_s: 10", "poll_s: .nan"),
        "house.yaml:5:9  poll_s: found '.nan'; allowed 1 to 60 (seconds)",
    ),
    "NaN for a temperature": (
        ("ceiling_c: 40", "ceiling_c: nan"),
        "house.yaml:23:16  zones.bench.ceiling_c: found 'nan'; allowed 15 to 60 (°C)\n"
        "    A bare number is °C; a unit may follow: 5 °C or 41 °F.",
    ),
    "a number beyond all numbers": (
        ("poll_s: 10", "poll_s: 1e999"),
        "house.yaml:5:9  poll_s: found inf; allowed 1 to 60 (seconds)",
    ),
    "true for a number": (
        ("poll_s: 10", "poll_s: true"),
        "house.yaml:5:9  poll_s: found true; allowed 1 to 60 (seconds)",
    ),
    "true for a temperature": (
        ("ceiling_c: 40", "ceiling_c: true"),
        "house.yaml:23:16  zones.bench.ceiling_c: found true; allowed 15 to 60 (°C)",
    ),
    "true for a whole number": (
        ("pin: 17", "pin: true"),
        "house.yaml:11:29  outputs.heater.pin: found true; allowed a whole number, 0 to 27",
    ),
    "half a pin": (
        ("pin: 17", "pin: 17.5"),
        "house.yaml:11:29  outputs.heater.pin: found 17.5; allowed a whole number, 0 to 27",
    ),
    "a word of old for true": (
        ("pin: 17", "pin: 17, unsafe_pin: yes"),
        "house.yaml:11:45  outputs.heater.unsafe_pin: found yes; allowed true or false",
    ),
    "a choice nobody offers": (
        ("pin: 17", "pin: 17, on_level: hihg"),
        "house.yaml:11:43  outputs.heater.on_level: found hihg; allowed high or low\n"
        "    Did you mean high?",
    ),
    "a rating in small letters": (
        ("min_c: 4", "rating: h2"),
        "house.yaml:25:43  plants[plumbago].rating: found h2;"
        " allowed H1a, H1b, H1c, H2, H3, H4, H5, H6 or H7\n    Did you mean H2?",
    ),
    "a kind nobody offers": (
        ("heater: {kind: gpio, pin: 17}", "heater: {kind: gpoi, pin: 17}"),
        "house.yaml:11:18  outputs.heater.kind: found gpoi; allowed gpio, broker or modelled\n"
        "    Did you mean gpio?",
    ),
    "no kind": (
        ("heater: {kind: gpio, pin: 17}", "heater: {pin: 17}"),
        "house.yaml:11:3  outputs.heater.kind: found nothing; needed gpio, broker or modelled",
    ),
    "a list for a kind": (
        ("heater: {kind: gpio, pin: 17}", "heater: {kind: [gpio], pin: 17}"),
        "house.yaml:11:18  outputs.heater.kind: found a list; allowed gpio, broker or modelled",
    ),
    "a number where a probe belongs": (
        ("left: {kind: onewire, rom: 28-000000000001}", "left: 28"),
        "house.yaml:7:9  probes.left: found 28;"
        " allowed a group of keys with kind: onewire, kernel, broker, scripted or modelled",
    ),
    "a key missing": (
        ("heater: {kind: gpio, pin: 17}", "heater: {kind: gpio}"),
        "house.yaml:11:3  outputs.heater.pin: found nothing; needed a whole number, 0 to 27",
    ),
    "a key missing in a list": (
        ("zone: bench, ", ""),
        "house.yaml:25:5  plants[plumbago].zone: found nothing;"
        " needed a name of small letters, digits and hyphens, such as bench-left",
    ),
    "a key without a value": (
        ("poll_s: 10", "poll_s:"),
        "house.yaml:5:8  poll_s: found nothing; needed 1 to 60 (seconds)\n"
        "    Or leave the key out: then it is 10.",
    ),
    "a key misspelt": (
        ("ceiling_c: 40", "ceilling_c: 40"),
        "house.yaml:23:5  zones.bench.ceilling_c: found an unknown key;"
        " allowed ceiling_c (the nearest known key)",
    ),
    "a needed key misspelt": (
        ("  name: orchard", "  nam: orchard"),
        "house.yaml:2:3  site.nam: found an unknown key; allowed name (the nearest known key)",
    ),
    "a key that belongs elsewhere": (
        ("    ceiling_c: 40", "    ceiling_c: 40\n    min_c: 4"),
        "house.yaml:24:5  zones.bench.min_c: found an unknown key;"
        " allowed probes, heat, cool, air, hygrometer, damp, deadband_k, disagree_k,"
        " disagree_s, ceiling_c,"
        " ceiling_clears\n"
        "    min_c belongs in plants.",
    ),
    "a key that belongs in one of two places": (
        ("    ceiling_c: 40", "    ceiling_c: 40\n    night_setpoint_c: 4"),
        "house.yaml:24:5  zones.bench.night_setpoint_c: found an unknown key;"
        " allowed probes, heat, cool, air, hygrometer, damp, deadband_k, disagree_k,"
        " disagree_s, ceiling_c,"
        " ceiling_clears\n"
        "    night_setpoint_c belongs in zones.*.heat or zones.*.cool.",
    ),
    "settings of a later version": (
        ("poll_s: 10", "settings_version: 2"),
        "house.yaml:5:19  settings_version: found 2; allowed 1\n"
        "    It was written for a newer greenkeeper: put back the settings of this one's time.",
    ),
    "settings of an earlier version": (
        ("poll_s: 10", "settings_version: 0"),
        "house.yaml:5:19  settings_version: found 0; allowed 1\n"
        "    CHANGELOG.md says what changed since; once that is done, leave the key out.",
    ),
    "a key that belongs nowhere": (
        ("poll_s: 10", "poll_s: 10\nzzz: 1"),
        "house.yaml:6:1  zzz: found an unknown key; allowed settings_version, site, poll_s, probes,"
        " hygrometers, onewire, chips, outputs, vents, enable, inputs, gpio, night, zones, plants,"
        " watch, house, tariff,"
        " broker, forecast, alarms, page, journal, folders",
    ),
    "a name with a blank and capitals": (
        ("  name: orchard", "  name: Orchard House"),
        "house.yaml:2:9  site.name: found Orchard House;"
        " allowed a name of small letters, digits and hyphens, such as bench-left\n"
        "    Did you mean orchard-house?",
    ),
    "a name too long": (
        ("  name: orchard", "  name: " + "o" * 41),
        "house.yaml:2:9  site.name: found " + "o" * 39 + "…;"
        " allowed a name of small letters, digits and hyphens, such as bench-left\n"
        "    At most 40 characters.",
    ),
    "who asks for a forecast, too short": (
        ("journal:", "forecast: {url: 'https://weather.example/x', identity: orchard}\njournal:"),
        "house.yaml:26:56  forecast.identity: found orchard;"
        " allowed one line of plain letters, digits and signs\n"
        "    At least 8 characters.",
    ),
    "a name of the owner's that is none": (
        (
            "  fan: {kind: gpio, pin: 23}",
            "  fan: {kind: gpio, pin: 23}\n  Big_Fan: {kind: gpio, pin: 22}",
        ),
        "house.yaml:13:3  outputs.Big_Fan: found the name Big_Fan;"
        " allowed a name of small letters, digits and hyphens, such as bench-left",
    ),
    "a number for a name": (
        ("  name: orchard", "  name: 17"),
        "house.yaml:2:9  site.name: found 17;"
        " allowed a name of small letters, digits and hyphens, such as bench-left\n"
        "    Put it in quotes.",
    ),
    "an id in capitals": (
        ("28-000000000001", "28-00000000000A"),
        "house.yaml:7:30  probes.left.rom: found 28-00000000000A;"
        " allowed an id such as 28-0316a2795a01 (family 10, 22, 28, 3b or 42)\n"
        "    Did you mean 28-00000000000a?",
    ),
    "an id without its family": (
        ("28-000000000001", "000000000001"),
        "house.yaml:7:30  probes.left.rom: found 000000000001;"
        " allowed an id such as 28-0316a2795a01 (family 10, 22, 28, 3b or 42)",
    ),
    "a time with one digit": (
        ("from: '20:00'", "from: 6:30"),
        "house.yaml:13:15  night.from: found 6:30; allowed a time from '00:00' to '23:59'\n"
        "    Did you mean '06:30'?",
    ),
    "a time that is none": (
        ("from: '20:00'", "from: '24:00'"),
        "house.yaml:13:15  night.from: found 24:00; allowed a time from '00:00' to '23:59'",
    ),
    "a time zone in small letters": (
        ("Europe/Brussels", "europe/brussels"),
        "house.yaml:3:13  site.timezone: found europe/brussels;"
        " allowed a time zone such as Europe/Brussels or UTC\n    Did you mean Europe/Brussels?",
    ),
    "a group where a list belongs": (
        ("probes: [left, right]", "probes: left"),
        "house.yaml:16:13  zones.bench.probes: found left;"
        " allowed a list such as [bench-left, bench-right]",
    ),
    "an empty list of probes": (
        ("probes: [left, right]", "probes: []"),
        "house.yaml:16:13  zones.bench.probes: found none;"
        " allowed a list such as [bench-left, bench-right]",
    ),
    "a list where a group belongs": (
        ("journal: {keep_days: 3650}", "journal: [3650]"),
        "house.yaml:26:10  journal: found a list;"
        " allowed a group of keys (file, keep_days, minutes_days, …)",
    ),
    "a group where the plants belong": (
        ("  - {name: plumbago, zone: bench, min_c: 4}", "  plumbago: {zone: bench}"),
        "house.yaml:25:3  plants: found a group of keys; allowed a list, each with a - in front",
    ),
    "an empty text": (
        ("name: plumbago", "name: ''"),
        "house.yaml:25:12  plants[1].name: found an empty text; allowed text of 1 to 80 characters",
    ),
    "an empty path": (
        ("poll_s: 10", "poll_s: 10\nfolders: {state: ''}"),
        "house.yaml:6:18  folders.state: found an empty text; allowed some text",
    ),
    "a broker with a scheme": (
        ("poll_s: 10", "poll_s: 10\nbroker: {host: 'mqtt://hub'}"),
        "house.yaml:6:16  broker.host: found mqtt://hub;"
        " allowed a name, an address or a path, such as hub.local",
    ),
}


@pytest.mark.parametrize("slip", FAULTS)
def test_a_slip_is_told_once_and_in_full(slip: str) -> None:
    change, expected = FAULTS[slip]
    assert said(changed(change)) == [expected]


def test_the_sound_house_is_sound() -> None:
    assert said(changed()) == []


@pytest.mark.parametrize(
    "change",
    [
        ("setpoint_c: 5", "setpoint_c: '41 °F'"),
        ("setpoint_c: 5", "setpoint_c: 41 °F"),
        ("setpoint_c: 5", "setpoint_c: '5'"),
        ("stale_s: 45", "offset_k: -0.2 K"),
        ("stale_s: 45", "offset_k: '0.5'"),
        ("from: '20:00'", "from: 20:00"),
        ("stale_s: 45", "stale_s: 45.5"),
        ("poll_s: 10", "poll_s: 1e1"),
        ("poll_s: 10", "poll_s: 10\nbroker:"),
    ],
)
def test_these_ways_of_writing_are_welcome(change: tuple[str, str]) -> None:
    assert said(changed(change)) == []


def test_all_faults_come_at_once_in_the_files_order() -> None:
    text = changed(
        ("poll_s: 10", "poll_s: never"),
        ("pin: 17", "pin: 99"),
        ("min_c: 4", "min_c: 99"),
        ("  name: orchard", "  name: Orchard"),
    )
    assert [(fault.line, fault.key) for fault in faults(text)] == [
        (2, "site.name"),
        (5, "poll_s"),
        (11, "outputs.heater.pin"),
        (25, "plants[plumbago].min_c"),
    ]


def test_three_probes_and_three_faults_of_one_kind() -> None:
    text = changed(
        ("rom: 28-000000000001", "rom: one"),
        ("rom: 28-000000000002", "rom: two"),
        ("rom: 28-000000000003", "rom: three"),
    )
    assert [fault.key for fault in faults(text)] == [
        "probes.left.rom",
        "probes.right.rom",
        "probes.outdoors.rom",
    ]


def test_every_section_missing_is_one_fault_each() -> None:
    assert said("poll_s: 10\n") == [
        "house.yaml:1:1  site: found nothing;"
        " needed a group of keys (name, latitude, longitude, …)",
        "house.yaml:1:1  probes: found nothing;"
        " needed names of your own, each with its group of keys",
        "house.yaml:1:1  zones: found nothing;"
        " needed names of your own, each with its group of keys",
    ]


@pytest.mark.parametrize("value", ["a" * 999, "'\\x1b[31m'", '"' + "é" * 500 + '"'])
def test_what_was_found_is_shown_short_and_on_one_line(value: str) -> None:
    (fault,) = faults(changed(("pin: 17", f"pin: {value}")))
    assert len(fault.found) <= 42
    assert fault.found.isprintable()


def test_a_fault_is_two_lines_at_most() -> None:
    for change, _ in FAULTS.values():
        for fault in said(changed(change)):
            assert fault.count("\n") <= 1
