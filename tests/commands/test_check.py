"""`greenkeeper check`: what it prints and how it ends."""

import argparse
import json
import sys
from pathlib import Path

import pytest

from greenkeeper.commands import check
from greenkeeper.settings.json_schema import schema_json
from tests.settings import shipped
from tests.settings.examples import SOUND


def _check(*arguments: str) -> int:
    parser = argparse.ArgumentParser()
    check.configure(parser)
    return check.run(parser.parse_args(arguments))


@pytest.fixture
def house(tmp_path: Path) -> Path:
    path = tmp_path / "house.yaml"
    path.write_text(SOUND, encoding="utf-8")
    return path


def _spoil(house: Path, old: str, new: str) -> None:
    house.write_text(house.read_text("utf-8").replace(old, new), encoding="utf-8")


def test_a_sound_house_is_told_as_it_was_understood(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _check(str(house)) == 0
    assert capsys.readouterr().out == (
        f"{house} can be used.\n"
        "\n"
        "  site       orchard, read every 10 s\n"
        "  outdoors   outdoors\n"
        "\n"
        "zone bench\n"
        "  probes     left, right\n"
        "  heat       on at 5.0 °C, off at 5.5 °C\n"
        "             by heater: GPIO17, high is on\n"
        "  cool       on at 26.0 °C, off at 24.5 °C\n"
        "             by fan: GPIO23, high is on\n"
        "  ceiling    above 40.0 °C every heater is locked out, until you clear it\n"
        "  plants     1; at least 4.0 °C (plumbago)\n"
    )


def test_who_is_told_is_told_by_the_name_of_a_file(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    secret = house.with_name("who")
    secret.write_text("json://example.org/not-to-be-shown")
    group = f"{{addresses_file: {secret}, quiet: {{}}, heartbeat_file: heartbeat-address}}"
    _spoil(house, "night:", f"alarms: {group}\nnight:")
    assert _check(str(house)) == 0
    told = capsys.readouterr().out
    flat = "".join(told.split())
    assert f"warningsandalarmstotheaddressesin{secret};" in flat
    assert "from22:00to07:00alarmsonly;theaddressinheartbeat-addressiscalledevery300s" in flat
    assert "not-to-be-shown" not in told


def test_a_described_house_is_told_with_what_it_loses(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written = "house: {length_m: 2.4, width_m: 1.8, loss_w_per_k: 61}\n"
    house.write_text(house.read_text("utf-8") + written, encoding="utf-8")
    assert _check(str(house)) == 0
    told = capsys.readouterr().out
    assert "  house      61.0 W/K: greenkeeper season --sheet says why\n" in told


@pytest.mark.parametrize(
    ("circuit_w", "job"),
    [
        (2500, "joins when that alone is not enough; they take turns, by wear"),
        (1600, "takes its place when that gives no heat: the circuit does not bear both"),
    ],
)
def test_a_second_heater_is_told_with_what_it_is_there_for(
    circuit_w: int, job: str, house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _spoil(house, "site:\n", f"site:\n  circuit_w: {circuit_w}\n")
    _spoil(
        house,
        "  heater: {kind: gpio, pin: 17}\n",
        "  heater: {kind: gpio, pin: 17, power_w: 1500}\n"
        "  second: {kind: gpio, pin: 27, power_w: 1000}\n",
    )
    _spoil(house, "output: heater\n", "output: heater\n      second_output: second\n")
    assert _check(str(house)) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert f"circuit never more than {circuit_w} W of heat at once" in told
    assert job in told.split("second (GPIO27, ", 1)[1]


def test_day_and_night_are_told_apart_where_they_differ(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _spoil(house, "setpoint_c: 5", "setpoint_c: 8\n      night_setpoint_c: 5")
    assert _check(str(house)) == 0
    told = capsys.readouterr().out
    assert "  night      from 20:00 to 07:00, Europe/Brussels\n" in told
    assert (
        "  heat       on at 8.0 °C, off at 8.5 °C by day\n"
        "             on at 5.0 °C, off at 5.5 °C by night\n"
        "             by heater: GPIO17, high is on\n"
        "  cool       on at 26.0 °C, off at 24.5 °C\n"
    ) in told


def test_every_shipped_file_is_told_in_eighty_columns(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for file in shipped.FILES:
        assert _check(str(file)) == 0
        told = capsys.readouterr().out.split("\n\n", 1)[1].split("remark")[0]
        assert max(map(len, told.splitlines())) <= 80


def test_faults_are_all_told_and_end_with_one(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _spoil(house, "pin: 17", "pin: 99")
    _spoil(house, "min_c: 4", "min_c: 9")
    assert _check(str(house)) == 1
    told = capsys.readouterr().out
    assert told == (
        f"{house}:11:29  outputs.heater.pin: found 99; allowed a whole number, 0 to 27\n"
        f"{house}:25:42  plants[plumbago].min_c: found 9 °C;"
        " allowed at most 5 °C, where bench starts to heat\n"
        "    Raise zones.bench.heat.setpoint_c to 9 °C, or write setpoint: from-plants.\n"
        "\n"
        "2 faults. The keeper uses nothing of this file until all is put right.\n"
    )


def test_a_file_that_is_not_there_is_a_finding(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _check(str(tmp_path / "none.yaml")) == 1
    assert "none.yaml: no such file" in capsys.readouterr().out


def test_remarks_are_told_and_end_well(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _spoil(house, "pin: 23", "pin: 23, min_on_s: 5")
    assert _check(str(house)) == 0
    assert capsys.readouterr().out.endswith(
        "\n1 remark, nothing wrong:\n"
        f"{house}:12:40  outputs.fan.min_on_s: 5 s is shorter than poll_s\n"
        "    Nothing switches faster than once in 10 s anyway.\n"
    )


def test_machines_get_faults_as_json(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _spoil(house, "pin: 17", "pin: 99")
    assert _check(str(house), "--json") == 1
    assert json.loads(capsys.readouterr().out) == {
        "file": str(house),
        "ok": False,
        "faults": [
            {
                "file": str(house),
                "line": 11,
                "column": 29,
                "key": "outputs.heater.pin",
                "found": "99",
                "allowed": "a whole number, 0 to 27",
                "hint": "",
            }
        ],
        "remarks": [],
        "zones": {},
    }


def test_machines_get_the_switching_points_as_json(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _spoil(house, "pin: 23", "pin: 23, min_on_s: 5")
    assert _check(str(house), "--json") == 0
    told = json.loads(capsys.readouterr().out)
    points = {"heat_on_c": 5.0, "heat_off_c": 5.5, "cool_on_c": 26.0, "cool_off_c": 24.5}
    assert told["ok"] is True
    assert [remark["key"] for remark in told["remarks"]] == ["outputs.fan.min_on_s"]
    assert told["zones"] == {
        "bench": {
            "probes": ["left", "right"],
            "heat_output": "heater",
            "second_heat_output": None,
            "cool_output": "fan",
            "ceiling_c": 40.0,
            "day": points,
            "night": points,
        }
    }


def test_contacts_are_told_as_they_were_understood(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    inputs = (
        "inputs:\n"
        "  heater-contactor: {kind: gpio, tells: contactor-closed, of: heater, pin: 26,"
        " active: high}\n"
        "  mains: {kind: gpio, tells: mains-present, pin: 12, active: low, pull: none}\n"
        "  porch: {kind: scripted, tells: door-open, file: /tmp/porch.csv}\n"
    )
    _spoil(house, "plants:", f"{inputs}plants:")
    assert _check(str(house)) == 0
    assert capsys.readouterr().out.endswith(
        "\ncontacts\n"
        "  heater-contactor  GPIO26, pulled up; high is contactor closed (heater)\n"
        "  mains             GPIO12, no pull; low is mains present\n"
        "  porch             door open, as /tmp/porch.csv says\n"
    )


def test_the_schema_needs_no_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert _check("--schema") == 0
    assert capsys.readouterr().out == schema_json()


def test_without_a_file_the_installed_one_is_checked() -> None:
    parser = argparse.ArgumentParser()
    check.configure(parser)
    assert parser.parse_args([]).file == Path("/etc/greenkeeper/greenkeeper.yaml")


@pytest.mark.parametrize(
    ("terminal", "no_colour", "painted"),
    [(True, False, True), (True, True, False), (False, False, False)],
)
def test_colour_shows_on_a_terminal_that_wants_it(
    house: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    terminal: bool,
    no_colour: bool,
    painted: bool,
) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: terminal)
    monkeypatch.delenv("NO_COLOR", raising=False)
    if no_colour:
        monkeypatch.setenv("NO_COLOR", "1")
    assert _check(str(house)) == 0
    assert ("\x1b[" in capsys.readouterr().out) is painted


def test_whether_heating_ahead_can_pay_is_told(
    house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    prices = (
        "tariff: {per_kwh: 0.30, hours: [{from: '18:00', to: '23:00', per_kwh: 0.05}]}\n"
        "house: {loss_w_per_k: 20, air_kj_per_k: 90, mass_kj_per_k: 5000, mass_w_per_k: 90}\n"
    )
    _spoil(house, "night:", f"{prices}night:")
    _spoil(house, "{kind: gpio, pin: 17}", "{kind: gpio, pin: 17, power_w: 1500}")
    _spoil(house, "      setpoint_c: 5", "      setpoint_c: 5\n      ahead_in_cheap_hours: true")

    def said() -> str:
        assert _check(str(house)) == 0
        return " ".join(capsys.readouterr().out.split())

    assert "not heated ahead in cheap hours: site.latitude and longitude are missing" in said()
    _spoil(house, "site:\n", "site:\n  latitude: 51\n  longitude: 0\n")
    assert "heated ahead in cheap hours, in up to 5.0 h at 0.05 before 0.3 EUR a kWh" in said()
    _spoil(house, "per_kwh: 0.30", "per_kwh: 0.10")
    found = said()
    assert "never heated ahead: heat kept in this house from cheap hours would pay from" in found
    assert "the dear ones cost 2.0 times as much" in found
