"""All checks asked together."""

from greenkeeper.settings import load, rules
from tests.settings.examples import FILE, changed, faults


def test_remarks_can_be_had_of_settings_alone_without_a_place() -> None:
    settings = load.parse(changed(("pin: 23", "pin: 23, min_on_s: 5")), FILE)
    (remark,) = rules.remarks(settings)
    assert (remark.file, remark.line, remark.key) == ("", 0, "outputs.fan.min_on_s")


def test_faults_of_every_room_of_checks_come_in_one_go() -> None:
    text = changed(
        ("outdoor_probe: outdoors", "outdoor_probe: porch"),
        ("pin: 23", "pin: 17"),
        ("setpoint_c: 26", "setpoint_c: 7"),
        ("min_c: 4", "min_c: 6"),
        ("to: '07:00'", "to: '20:00'"),
    )
    assert [fault.key for fault in faults(text)] == [
        "site.outdoor_probe",
        "outputs.fan.pin",
        "night.to",
        "zones.bench.cool.setpoint_c",
        "plants[plumbago].min_c",
    ]


def test_what_is_true_by_day_and_by_night_is_said_once() -> None:
    text = changed(
        ("      setpoint_c: 5", "      setpoint_c: 5\n      night_setpoint_c: 6"),
        ("ceiling_c: 40", "ceiling_c: 26"),
    )
    assert [fault.key for fault in faults(text)] == ["zones.bench.cool.setpoint_c"]
