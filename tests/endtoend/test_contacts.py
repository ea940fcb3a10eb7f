"""Contacts in the real program: a weld, a loss of mains, a broken wire, a busy line.

The pulses of the mains detector are real ones: the program samples a line that goes up and
down fifty times a second.
"""

import json
import os
import signal
from pathlib import Path
from typing import Any

import pytest

from tests.endtoend.shed import HEATER, Shed

MIRROR, MAINS, AMPS, ISOLATOR = 26, 12, 13, 27
ISOLATED = f"  isolator: {{kind: gpio, pin: {ISOLATOR}, role: isolator, settle_s: 0.1}}\n"


def mirror(settle_s: int = 1) -> str:
    return (
        f"  mirror: {{kind: gpio, pin: {MIRROR}, tells: contactor-closed, of: heater,"
        f" active: high, settle_s: {settle_s}}}\n"
    )


MAINS_AND_AMPS = (
    f"  mains: {{kind: gpio, pin: {MAINS}, tells: mains-present, active: low, settle_s: 1}}\n"
    f"  amps: {{kind: gpio, pin: {AMPS}, tells: heater-current, of: heater, active: low,"
    " settle_s: 1}\n"
)


@pytest.fixture
def shed(tmp_path: Path):
    with Shed(tmp_path) as made:
        made.bench(8.0)
        yield made


def says(shed: Shed, contact: str) -> Any:
    return shed.status().get("contacts", {}).get(contact, {}).get("active", "nothing yet")


def told(shed: Shed, code: str) -> list[dict[str, Any]]:
    lines = [json.loads(line) for line in shed.log().splitlines() if line.startswith("{")]
    return [line for line in lines if line["event"] == code]


def alarms(shed: Shed) -> dict[str, str]:
    return {each["code"]: each["text"] for each in shed.status().get("alarms", ())}


def test_a_contactor_that_stays_closed_opens_the_isolator_and_latches(shed: Shed) -> None:
    shed.write_settings(outputs=ISOLATED, extra="inputs:\n" + mirror(settle_s=2))
    shed.lines.force(MIRROR, 0)
    shed.bench(4.9)
    shed.start()
    shed.until(shed.heating, "the heater did not come on")
    shed.lines.force(MIRROR, 1)  # the contactor has pulled in, and never lets go again
    shed.until(lambda: says(shed, "mirror") is True, "the contact was not seen to close")
    assert shed.lines.level(ISOLATOR) == 1
    shed.bench(7.0)
    shed.until(lambda: "stuck-on" in alarms(shed), "the weld was not told")
    assert alarms(shed)["stuck-on"] == "heater is off, but the contactor is closed (mirror)"
    assert shed.status()["latches"] == ["stuck-on-heater"]
    assert shed.lines.level(ISOLATOR) == 0

    shed.bench(4.0)
    shed.until(lambda: shed.status()["zones"]["bench"]["coldest_c"] == 4.0, "no cold was seen")
    clear = ("clear", "--runtime", str(shed.runtime), "stuck-on-heater")
    refused = shed.command(*clear)
    assert refused.returncode == 1
    assert "stuck-on-heater stands: the keeper found its cause still there" in refused.stdout
    assert (shed.heating(), shed.lines.level(ISOLATOR)) == (False, 0)

    shed.lines.force(MIRROR, 0)  # an electrician has put in another
    shed.until(lambda: says(shed, "mirror") is False, "the new contactor was not seen")
    done = shed.command(*clear)
    assert done.returncode == 0, done.stderr
    shed.until(shed.heating, "it did not heat afterwards")
    assert shed.end() == 0
    assert shed.lines.changes(MIRROR)[-1] == ("free", None)


def test_a_broken_wire_of_the_mirror_contact_counts_as_a_weld(shed: Shed) -> None:
    shed.write_settings(extra="inputs:\n" + mirror())
    shed.lines.force(MIRROR, 0)
    shed.start()
    shed.until(lambda: says(shed, "mirror") is False, "the contact was not read")
    assert alarms(shed) == {}
    shed.lines.let_be(MIRROR)  # nothing but the pin's own resistor
    shed.until(lambda: "stuck-on" in alarms(shed), "the broken wire was not told")


def test_missing_heat_is_explained_by_missing_mains_and_by_nothing_else(shed: Shed) -> None:
    shed.write_settings(extra="inputs:\n" + MAINS_AND_AMPS)
    shed.bench(4.9)
    shed.start()
    shed.until(shed.heating, "the heater did not come on")
    shed.until(lambda: "mains-lost" in alarms(shed), "the loss of mains was not told")
    shed.until(
        lambda: (state := shed.status())["utc_s"] - state["outputs"]["heater"]["since_utc_s"] > 4,
        "time stood still",
    )
    assert says(shed, "amps") is False
    assert set(alarms(shed)) == {"mains-lost"}

    shed.lines.pulse(MAINS, hz=50.0, high_share=0.6)  # an opto-coupler without smoothing
    shed.until(lambda: says(shed, "mains") is True, "the pulses were not seen as mains")
    shed.until(lambda: told(shed, "contact-changed"), "the change was not told")
    assert [each["text"] for each in told(shed, "contact-changed")] == ["mains present"]
    shed.until(lambda: "no-response" in alarms(shed), "the dead heater was not told")
    assert alarms(shed)["no-response"] == "heater is on, but no current flows (amps)"
    shown = shed.command("now", "--settings", str(shed.file))
    assert "mains         mains present" in shown.stdout
    assert "amps          no current" in shown.stdout


def test_a_contact_whose_line_another_program_holds_is_unknown_and_heat_goes_on(
    shed: Shed,
) -> None:
    shed.write_settings(extra="inputs:\n" + mirror())
    shed.lines.hold(MIRROR, owner=os.getppid())
    shed.bench(4.9)
    shed.start()
    shed.until(shed.heating, "a contact kept the heat off")
    shed.until(lambda: says(shed, "mirror") is None, "the contact was not unknown")
    assert "GPIO26 is busy" in shed.status()["contacts"]["mirror"]["detail"]
    assert alarms(shed) == {}  # it takes a minute to be told
    shed.lines.hold(MIRROR, owner=2**22)  # beyond any process: its holder has died
    shed.until(lambda: says(shed, "mirror") is True, "the free line was not taken")


def test_new_settings_bring_contacts_and_take_them_away(shed: Shed) -> None:
    shed.start()
    shed.until(shed.status, "it did not start")
    assert shed.status()["contacts"] == {}
    shed.write_settings(extra="inputs:\n" + mirror())
    shed.lines.force(MIRROR, 0)
    shed.send(signal.SIGHUP)
    shed.until(lambda: says(shed, "mirror") is False, "the new contact was not read")
    # The heater moves to the contact's pin, which has to be let go before.
    shed.lines.force(MIRROR, 1)
    shed.write_settings(heater=MIRROR)
    shed.send(signal.SIGHUP)
    shed.until(lambda: len(told(shed, "settings-changed")) == 2, "the settings were refused")
    shed.until(lambda: shed.status()["contacts"] == {}, "the contact is still there")
    changes = shed.lines.changes(MIRROR)
    assert changes[:3] == [("input", "up"), ("free", None), ("output", 1)]
    assert shed.lines.changes(HEATER)[-1] == ("free", None)
    assert shed.end() == 0
