"""The figures in hardware-notes that follow from others: worked out again.

What comes from a data sheet or a code is only as right as its source in brackets; what is
computed from it has to be computed right.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from greenkeeper.settings.checks.wiring import UNSAFE_PINS
from greenkeeper.settings.schema import Settings

NOTES = Path(__file__).parents[1] / "hardware-notes"
RATED_OPERATIONS = 100_000
WINTER_DAYS = 180


def rows(note: str, heading: str) -> Iterator[list[str]]:
    """The cells of the first table below a heading, its head left out."""
    text = (NOTES / note).read_text(encoding="utf-8").partition(f"\n## {heading}")[2]
    table = re.search(r"(?:^\|.*\n)+", text, re.MULTILINE)
    assert table is not None, f"no table under {heading!r} in {note}"
    for line in table[0].splitlines()[2:]:
        yield [cell.strip() for cell in line.strip("|").split("|")]


def number(text: str) -> float:
    found = re.match(r"[\d,.]+", text)
    assert found is not None, text
    return float(found[0].replace(",", ""))


def test_heater_currents_and_contacts_are_worked_out_right() -> None:
    table = list(rows("relays.md", "1. What they carry"))
    assert len(table) == 5
    for power, *cells in table:
        for volt, amp, contact in zip((230, 120), cells[::2], cells[1::2], strict=True):
            assert number(amp) == pytest.approx(number(power) / volt, abs=0.051)
            assert number(contact) == pytest.approx(1.5 * number(power) / volt, abs=0.051)


def test_relay_life_follows_from_the_minimum_times() -> None:
    table = list(rows("relays.md", "2. How long they last"))
    assert len(table) == 5
    for times, an_hour, a_winter, days in table:
        assert number(an_hour) == 3600 / number(times)
        assert number(a_winter) == number(an_hour) * 24 * WINTER_DAYS
        assert number(days) == round(RATED_OPERATIONS / (number(an_hour) * 24))


def test_the_default_minimum_times_are_those_of_the_settings() -> None:
    (line,) = [row[0] for row in rows("relays.md", "2. How") if "default" in row[0]]
    settings = _smallest()
    heater = settings.outputs["heater"]
    assert line == (
        f"{heater.min_on_s + heater.min_off_s:.0f} s "
        f"(the default: {heater.min_on_s:.0f} + {heater.min_off_s:.0f})"
    )


def test_safe_states_speaks_of_the_default_times() -> None:
    text = (NOTES / "safe-states.md").read_text(encoding="utf-8")
    settings = _smallest()
    probe = settings.probes["bench"]
    assert f"every {settings.poll_s:.0f} s (`poll_s`)" in text
    assert f"permission that\nlasts {settings.lease_s:.0f} s" in text
    assert f"`stale_s` {probe.stale_s:.0f} s" in text


def _smallest() -> Settings:
    return Settings.model_validate(
        {
            "site": {"name": "invented"},
            "probes": {"bench": {"kind": "onewire", "rom": "28-0316a2795a01"}},
            "outputs": {"heater": {"kind": "gpio", "pin": 17}},
            "zones": {
                "bench": {"probes": ["bench"], "heat": {"output": "heater", "setpoint_c": 5.0}}
            },
        }
    )


def test_the_pins_to_avoid_are_those_the_settings_refuse() -> None:
    text = (NOTES / "wiring.md").read_text(encoding="utf-8")
    table = text.partition("| BCM | why not |\n|---|---|\n")[2].partition("\n\n")[0]
    named = {pin for line in table.splitlines() for pin in _pins(line.split("|")[1])}
    assert named == UNSAFE_PINS.keys()


def test_the_pin_plan_keeps_outputs_off_those_pins() -> None:
    for pins, _, use, _ in rows("wiring.md", "1. Pins"):
        if use.startswith(("heater", "second heater", "fan", "contacts")):
            assert _pins(pins).isdisjoint(UNSAFE_PINS), use


def _pins(text: str) -> set[int]:
    first, to, last = text.partition(" to ")
    if to:
        return set(range(int(first), int(last) + 1))
    return {int(pin) for pin in re.findall(r"\d+", text)}


# --- the charge pump of wiring.md, section 9 ---------------------------------------------------

LINE_V, DIODE_V = 3.3, 0.5
SERIES_OHM, DRAIN_OHM = 470.0, 220e3
PUMP_F = HOLD_F = 4.7e-6
STEP_S = 2e-4  # a tenth of the quickest time constant, 470 ohm times 4.7 uF
SETTLED_S, AFTER_S = 6.0, 6.0


def gate_v(hz: float, then_v: float) -> tuple[list[float], list[float]]:
    """Volts at the gate: over the last second of moving, and after the line stopped at then_v."""
    pump_v = hold_v = 0.0
    moving, standing = [], []
    for step in range(round((SETTLED_S + AFTER_S) / STEP_S)):
        at_s = step * STEP_S
        high = int(at_s * 2.0 * hz + 1e-9) % 2 == 0
        line_v = (LINE_V if high else 0.0) if at_s < SETTLED_S else then_v
        point_v = line_v - pump_v
        onward_a = max(0.0, point_v - hold_v - DIODE_V) / SERIES_OHM
        from_ground_a = max(0.0, -point_v - DIODE_V) / SERIES_OHM
        pump_v += (onward_a - from_ground_a) * STEP_S / PUMP_F
        hold_v += (onward_a - hold_v / DRAIN_OHM) * STEP_S / HOLD_F
        if SETTLED_S - 1.0 <= at_s < SETTLED_S:
            moving.append(hold_v)
        elif at_s >= SETTLED_S:
            standing.append(hold_v)
    return moving, standing


def test_the_charge_pump_holds_while_the_line_moves_and_lets_go_when_it_stands() -> None:
    text = (NOTES / "wiring.md").read_text(encoding="utf-8")
    picture = (NOTES / "enable.svg").read_text(encoding="utf-8")
    for value in ("470 Ω", "220 kΩ"):
        assert value in picture
    assert picture.count("4.7 µF") == 2
    at_ten, at_five = re.findall(r"at the gate, at the least \| ([\d.]+) V \| ([\d.]+) V", text)[0]
    # Downwards: what is promised at least.
    assert 0.0 <= min(gate_v(10.0, 0.0)[0]) - float(at_ten) < 0.1
    assert 0.0 <= min(gate_v(5.0, 0.0)[0]) - float(at_five) < 0.1
    within = re.search(
        r"gate falls below ([\d.]+) V.*?within ([\d.]+) s.*?low and\s+([\d.]+) s", text, re.S
    )
    assert within is not None
    for then_v, longest_s in ((0.0, float(within[2])), (LINE_V, float(within[3]))):
        off_s = next(
            number * STEP_S
            for number, volt in enumerate(gate_v(10.0, then_v)[1])
            if volt < float(within[1])
        )
        assert 0.0 <= longest_s - off_s < 0.1
    used = re.search(r"enable: \{pin: \d+, hz: (\d+)\}", text)
    assert used is not None
    assert float(used[1]) == 10.0


# --- every figure has its source -----------------------------------------------------------------

HARDWARE = ("safety", "wiring", "relays", "probes", "parts", "calibration")
FIGURE = re.compile(
    r"\d[\d.,]*\s?(?:mA|A|kW|W|kΩ|Ω|[µnp]F|°C|K|mm|m|µs|ms|s|min|h|days|years|%|Hz|MiB|MB)\b"
    r"|(?:half|an?|two|three|five|ten) (?:minutes?|hours?|days|metres?|degrees?)\b"
)
OWN_WORD = ("common practice", "from memory", "design advice", "omputed", "orked out", "physics")
# A name in brackets, a link to where it stands, or the program's own word for it.
ELSEWHERE = re.compile(r"\([^()]*[A-Z][a-z]{2}[^()]*\)|\]\(|\([^()]*data sheet[^()]*\)|`")


def unsourced(text: str) -> list[str]:
    """The paragraphs and points of a page with a figure in them and nobody who says so."""
    text = re.sub(r"```.*?```|^[#|!].*$", "", text, flags=re.DOTALL | re.MULTILINE)
    points = re.split(r"\n\s*\n|\n(?=\s*(?:[-*]|\d+\.) )", text)
    return [
        " ".join(point.split())
        for point in points
        if FIGURE.search(point)
        and not ELSEWHERE.search(point)
        and not any(word in point for word in OWN_WORD)
    ]


@pytest.mark.parametrize("note", HARDWARE)
def test_who_says_so_stands_beside_every_figure(note: str) -> None:
    """Or that nobody does. Tables have their own columns, and tests above."""
    assert unsourced((NOTES / f"{note}.md").read_text(encoding="utf-8")) == []


def test_a_figure_without_a_source_is_found() -> None:
    bare = "Fit 10 kΩ.\n\n- Fit 22 kΩ (Maxim, tutorial 148).\n- Wait for five minutes."
    assert unsourced(bare) == ["Fit 10 kΩ.", "- Wait for five minutes."]
