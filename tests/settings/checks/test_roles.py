"""Roles: every output has one job, and what belongs to that job is where it counts."""

from pathlib import Path

import pytest

from greenkeeper.settings import derived, load
from greenkeeper.settings.checks import roles
from greenkeeper.settings.schema import Settings
from tests.settings.examples import changed, remarks, said

DEMO_YAML = Path(__file__).resolve().parents[3] / "config" / "demo.yaml"

_OUTPUTS = "  fan: {kind: gpio, pin: 23}\n"
_MORE = (
    "  circulation: {kind: gpio, pin: 22}\n"
    "  vent-open: {kind: gpio, pin: 24}\n"
    "  vent-close: {kind: gpio, pin: 25}\n"
    "  isolator: {kind: gpio, pin: 27, role: isolator}\n"
)
_ROOF = "vents: {roof: {open: vent-open, close: vent-close}}\n"
_COOLS = ("      output: fan", "      output: roof")
_WITH = ("      setpoint_c: 5", "      setpoint_c: 5\n      with: circulation")
_FULL = ((_OUTPUTS, _MORE), ("night:", f"{_ROOF}night:"), _COOLS, _WITH)


def _text(*changes: tuple[str, str], more: str = _MORE) -> str:
    """The sound house with a circulating fan, a vent in place of the fan, and an isolator."""
    text = changed((_OUTPUTS, more), *_FULL[1:])
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} is not there exactly once"
        text = text.replace(old, new)
    return text


def test_a_house_with_everything_is_sound_and_worth_no_remark() -> None:
    assert said(_text()) == []
    assert remarks(_text()) == []


# --- one job each ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            ("with: circulation", "with: heater"),
            "zones.bench.heat.with: found heater, which zones.bench heats with;"
            " allowed a fan of its own, one that moves the air inside",
        ),
        (
            ("open: vent-open", "open: vent-close"),
            "vents.roof.close: found vent-close, which opens vents.roof;"
            " allowed an output of its own",
        ),
        (
            ("output: heater", "output: isolator"),
            "zones.bench.heat.output: found isolator, which is an isolator;"
            " allowed an output that only heats",
        ),
        (
            ("close: vent-close", "close: circulation"),
            "vents.roof.close: found circulation, which runs with the heat of zones.bench;"
            " allowed an output of its own",
        ),
    ],
)
def test_an_output_with_two_jobs_is_refused(change: tuple[str, str], expected: str) -> None:
    (fault,) = said(_text(change))
    assert fault.partition("  ")[2] == expected


def test_the_fan_that_blows_air_out_must_not_run_with_the_heat() -> None:
    (fault,) = said(changed(("      setpoint_c: 5", "      setpoint_c: 5\n      with: fan")))
    assert fault.partition("  ")[2] == (
        "zones.bench.heat.with: found fan, which zones.bench cools with;"
        " allowed a fan of its own, one that moves the air inside"
    )


def test_two_zones_may_share_the_fan_that_stirs_and_the_vent() -> None:
    porch = (
        "  porch:\n    probes: [right]\n"
        "    heat: {output: heater, setpoint_c: 3, with: circulation}\n"
        "    cool: {output: roof, setpoint_c: 20}\nplants:"
    )
    assert said(_text(("plants:", porch))) == []


def test_one_relay_in_two_vents_is_refused() -> None:
    door = "vents: {door: {open: vent-open, close: fan}, roof:"
    (fault,) = said(_text(("vents: {roof:", door), more=_OUTPUTS + _MORE))
    assert "vents.roof.open: found vent-open, which opens vents.door" in fault


# --- names ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (("with: circulation", "with: circulating"), "Did you mean circulation?"),
        (("open: vent-open", "open: vent-opens"), "Did you mean vent-open?"),
        (("output: roof", "output: rouf"), "Did you mean roof?"),
        (("role: isolator", "role: isolator, isolates: [heatr]"), "Did you mean heater?"),
    ],
)
def test_a_misspelt_name_is_found(change: tuple[str, str], expected: str) -> None:
    (fault,) = said(_text(change))
    assert fault.endswith(expected)


def test_what_cools_is_an_output_or_a_vent() -> None:
    (fault,) = said(_text(("output: roof", "output: window")))
    assert "found window; allowed a name under outputs or vents (" in fault


def test_a_vent_may_not_be_called_like_an_output() -> None:
    text = _text(("vents: {roof:", "vents: {heater:"), ("output: roof", "output: fan"))
    assert any(
        "vents.heater: found heater, which is an output's name too; allowed a name of its own"
        in fault
        for fault in said(text)
    )


# --- isolators -------------------------------------------------------------------------------


def test_an_isolator_names_outputs_that_heat() -> None:
    change = ("role: isolator", "role: isolator, isolates: [heater, circulation]")
    (fault,) = said(_text(change))
    assert fault.partition("  ")[2] == (
        "outputs.isolator.isolates[2]: found circulation, which heats no zone;"
        " allowed outputs that heat"
    )


def test_isolates_belongs_to_an_isolator() -> None:
    (fault,) = said(_text(("pin: 22", "pin: 22, isolates: [heater]")))
    assert "outputs.circulation.isolates: found heaters of no isolator;" in fault


def test_an_isolator_is_behind_every_heater_unless_it_names_some() -> None:
    nursery = "  nursery: {probes: [right], heat: {output: mat, setpoint_c: 18}}\nplants:"
    more = _MORE + "  mat: {kind: gpio, pin: 26}\n"
    every = load.parse(_text(("plants:", nursery), more=more), "f")
    assert derived.isolated_by(every, "isolator") == ("heater", "mat")
    some = more.replace("role: isolator", "role: isolator, isolates: [mat]")
    assert derived.isolated_by(
        load.parse(_text(("plants:", nursery), more=some), "f"), "isolator"
    ) == ("mat",)


# --- heat without a probe ----------------------------------------------------------------------


def test_heat_without_a_probe_needs_a_declared_limit() -> None:
    duty = ("      setpoint_c: 5", "      setpoint_c: 5\n      blind_duty: 0.3")
    (fault,) = said(changed(duty))
    assert fault.partition("  ")[2] == (
        "zones.bench.heat.blind_duty: found 0.3 without independent_limit: true;"
        " allowed 0, or more behind a limit thermostat that is fitted and declared\n"
        "    What it must be: hardware-notes/safety.md, section 4."
    )
    limited = (duty[0], f"{duty[1]}\n      independent_limit: true")
    assert said(changed(limited)) == []


def test_one_heater_makes_one_guess() -> None:
    guess = "independent_limit: true, blind_duty: 0.2"
    porch = f"  porch: {{probes: [right], heat: {{output: heater, setpoint_c: 3, {guess}}}}}\n"
    duty = "      setpoint_c: 5\n      independent_limit: true\n      blind_duty: 0.3"
    (fault,) = said(changed(("      setpoint_c: 5", duty), ("plants:", f"{porch}plants:")))
    assert "found 0.2, and zones.bench has one for heater; allowed it in one zone" in fault


def test_a_longest_run_below_the_shortest_is_refused() -> None:
    (fault,) = said(changed(("pin: 17", "pin: 17, min_on_s: 1200, longest_on_s: 900")))
    assert "outputs.heater.longest_on_s: found 900; allowed at least 1200 (seconds)" in fault


@pytest.mark.parametrize(
    ("change", "heater_s", "fan_s"),
    [
        (("pin: 17", "pin: 17"), 43_200.0, None),
        (("pin: 17", "pin: 17, longest_on_s: 7200"), 7200.0, None),
        (("pin: 23", "pin: 23, longest_on_s: 3600"), 43_200.0, 3600.0),
    ],
)
def test_only_heat_has_a_longest_run_of_its_own_accord(
    change: tuple[str, str], heater_s: float, fan_s: float | None
) -> None:
    settings = load.parse(changed(change), "f")
    assert derived.longest_on_s(settings, "heater") == heater_s
    assert derived.longest_on_s(settings, "fan") == fan_s


# --- remarks -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            ("pin: 27", "pin: 27, min_off_s: 90"),
            "outputs.isolator.min_off_s: 90 counts for nothing here"
            " | An isolator follows its heaters.",
        ),
        (
            ("pin: 24", "pin: 24, min_on_s: 5"),
            "outputs.vent-open.min_on_s: 5 counts for nothing here"
            " | The vent's run_s and pause_s say when it moves.",
        ),
        (
            ("pin: 22", "pin: 22, longest_on_s: 3600"),
            "outputs.circulation.longest_on_s: 3600 counts for nothing here"
            " | It runs as long as the heater it goes with.",
        ),
        (
            ("pin: 22", "pin: 22, settle_s: 2"),
            "outputs.circulation.settle_s: counts only with role: isolator",
        ),
        (
            ("pin: 22", "pin: 22, min_off_s: 300"),
            "zones.bench.heat.with: heat may have to wait for circulation: its min_off_s is 300,"
            " the heater's 60 (the default)",
        ),
    ],
)
def test_what_counts_for_nothing_is_remarked(change: tuple[str, str], expected: str) -> None:
    assert expected in remarks(_text(change))


def test_a_vent_nothing_cools_with_is_remarked() -> None:
    text = _text(("output: roof", "output: fan"), more=_OUTPUTS + _MORE)
    assert remarks(text) == ["vents.roof: no zone cools with it: it stands still"]


def test_an_isolator_of_nothing_is_remarked() -> None:
    text = changed(
        ("    heat:\n      output: heater\n      setpoint_c: 5\n", ""),
        ("{kind: gpio, pin: 17}", "{kind: gpio, pin: 17, role: isolator}"),
        ("min_c: 4", "max_c: 40"),
    )
    assert remarks(text) == ["outputs.heater: nothing heats behind it: it stays off"]


@pytest.mark.parametrize("key", ["with_required: true", "run_on_s: 30"])
def test_what_belongs_beside_with_is_remarked_without_it(key: str) -> None:
    text = changed(("      setpoint_c: 5", f"      setpoint_c: 5\n      {key}"))
    name = key.partition(":")[0]
    assert remarks(text) == [f"zones.bench.heat.{name}: counts only beside with"]


def test_a_bound_on_heat_that_is_never_given_is_remarked() -> None:
    text = changed(("      setpoint_c: 5", "      setpoint_c: 5\n      blind_longest_s: 7200"))
    assert remarks(text) == [
        "zones.bench.heat.blind_longest_s: counts only beside a blind_duty above 0"
    ]


def test_a_heater_in_proportion_that_anticipates_is_remarked_on() -> None:
    more = "      setpoint_c: 5\n      strategy: proportion\n      anticipate: true"
    (remark,) = [
        each for each in remarks(changed(("      setpoint_c: 5", more))) if "anticipate" in each
    ]
    assert remark.startswith("zones.bench.heat.anticipate: counts only with strategy: hysteresis")


def test_a_modelled_output_that_is_something_else_in_the_model_is_remarked() -> None:
    text = changed(("heater: {kind: gpio, pin: 17}", "heater: {kind: modelled, drives: fan}"))
    expected = "outputs.heater.drives: fan, where its job is that of a modelled heater"
    assert expected in remarks(text)


# --- the line that says the keeper is well -----------------------------------------------------


def test_the_enable_line_has_a_quiet_pin_of_its_own() -> None:
    assert said(changed(("night:", "enable: {pin: 16}\nnight:"))) == []
    (fault,) = said(changed(("night:", "enable: {pin: 17}\nnight:")))
    assert "enable.pin: found 17, which heater has; allowed a pin of its own" in fault
    (fault,) = said(changed(("night:", "enable: {pin: 5}\nnight:")))
    assert "enable.pin: found 5; allowed a quiet pin" in fault
    assert said(changed(("night:", "enable: {pin: 5, unsafe_pin: true}\nnight:"))) == []


def test_a_modelled_heater_says_what_it_draws() -> None:
    """The keeper would not start with it: `check` says so first."""
    without = load.load(DEMO_YAML).model_dump(exclude_unset=True, by_alias=True)
    del without["outputs"]["heater"]["power_w"]
    (found,) = roles.faults(Settings.model_validate(without))
    assert found.path == ("outputs", "heater")
    assert "power_w" in str(found.allowed)
