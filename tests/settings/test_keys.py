"""The schema seen key by key, and the words for it."""

import math

import pytest
from pydantic import ValidationError

from greenkeeper.settings.keys import ROOT, Key, Kind, key_at, members, walk
from greenkeeper.settings.schema import Heat, Night, Settings
from greenkeeper.settings.switches import ModelledOutput
from greenkeeper.settings.wording import PATTERN_WORDS, allowed, default_text, nearest, unit_of

_KEYS = list(walk())

# Numbers that count nothing: their names need no unit.
_WITHOUT_UNIT = {
    *("pin", "port", "rated_operations", "blind_duty", "flaky_share", "sun_share", "per_kwh"),
    *("limit_duty", "channel", "most_an_hour", "settings_version"),
    *("transmittance", "frame_factor", "outdoor_share", "light_share", "heater_margin", "price"),
}


def test_every_number_has_a_unit_in_its_name_or_is_known_to_have_none() -> None:
    bare = {key.name for _, key in _KEYS if key.is_number and not unit_of(key)}
    assert bare == _WITHOUT_UNIT


def test_temperatures_and_differences_are_named_after_their_unit() -> None:
    single = ((path, key) for path, key in _KEYS if key.kind is not Kind.LIST)
    for path, key in single:  # a list's items are among them, by its name
        assert (key.kind is Kind.TEMPERATURE) == (unit_of(key) == "°C"), path
        assert (key.kind is Kind.DIFFERENCE) == (unit_of(key) == "kelvin"), path


def test_every_number_is_bounded_on_both_sides() -> None:
    for path, key in _KEYS:
        if key.is_number:
            assert math.isfinite(key.lowest), path
            assert math.isfinite(key.highest), path


def test_every_key_has_a_description() -> None:
    silent = [path for path, key in _KEYS if path[-1] not in ("*", "kind") and not key.description]
    assert silent == []


def test_every_pattern_has_words() -> None:
    for path, key in _KEYS:
        if key.pattern is not None:
            assert allowed(key) == PATTERN_WORDS[key.pattern], path


def test_what_is_said_to_be_allowed_is() -> None:
    """The bounds read off the schema are those pydantic enforces."""
    key = {key.name: key for key in members(ROOT, None).values()}["poll_s"]
    for poll_s, fine in ((key.lowest, True), (key.highest, True), (0.999, False), (60.001, False)):
        assert _takes_poll(poll_s) is fine


def _takes_poll(poll_s: float) -> bool:
    data = {
        "site": {"name": "house"},
        "poll_s": poll_s,
        "probes": {"one": {"kind": "modelled", "place": "bench"}},
        "zones": {"bench": {"probes": ["one"]}},
    }
    try:
        Settings.model_validate(data)
    except ValidationError:
        return False
    return True


def test_a_bound_that_is_itself_excluded_is_told_apart() -> None:
    (power,) = [key for path, key in _KEYS if path == ("outputs", "*", "<gpio>", "power_w")]
    assert (power.lowest, power.lowest_excluded) == (0, True)
    assert allowed(power) == "above 0, up to 20000 (watts)"
    with pytest.raises(ValidationError):
        ModelledOutput.model_validate({"kind": "modelled", "drives": "fan", "power_w": 0.0})


def test_names_in_the_file_are_used_not_those_in_the_program() -> None:
    night = key_at(("night",), None)
    assert night is not None
    assert list(members(night, None)) == ["from", "to"]
    assert Night.model_validate({"from": "21:00"}).from_minute == 21 * 60


def test_the_kind_written_decides_which_keys_there_are() -> None:
    data = {"outputs": {"heater": {"kind": "gpio"}, "odd": {"kind": "odd"}}}
    pin = key_at(("outputs", "heater", "pin"), data)
    assert pin is not None
    assert pin.kind is Kind.WHOLE
    assert key_at(("outputs", "odd", "pin"), data) is None
    kind = key_at(("outputs", "odd", "kind"), data)
    assert kind is not None
    assert kind.choices == ("gpio", "broker", "modelled")


def test_a_place_the_schema_does_not_know_has_no_key() -> None:
    assert key_at(("nowhere", "at", "all"), {}) is None


def test_defaults_are_written_as_in_a_file() -> None:
    defaults = {".".join(path): default_text(key) for path, key in _KEYS}
    assert defaults["night.from"] == "'20:00'"
    assert defaults["poll_s"] == "10"
    assert defaults["outputs.*.<gpio>.on_level"] == "high"
    assert defaults["outputs.*.<gpio>.unsafe_pin"] == "false"
    assert defaults["zones.*.heat.setpoint_c"] == ""
    assert Heat.model_fields["margin_k"].default == float(defaults["zones.*.heat.margin_k"])


@pytest.mark.parametrize(
    ("written", "meant"),
    [("hysterisis_k", "hysteresis_k"), ("OUTPUT", "output"), ("zzz", None), ("x" * 500, None)],
)
def test_the_nearest_name_is_near(written: str, meant: str | None) -> None:
    assert nearest(written, ["output", "hysteresis_k", "margin_k"]) == meant


def test_a_plain_text_says_how_long_it_may_be() -> None:
    assert allowed(Key("name", Kind.TEXT, most=80)) == "text of 1 to 80 characters"
