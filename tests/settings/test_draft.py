"""Cross-checks beside wrong keys: as many as can be judged, and none by a wrong key."""

import pytest

from greenkeeper.settings import draft as drafting
from greenkeeper.settings.draft import drafted
from tests.settings.examples import changed, faults

_TOO_NARROW = ("setpoint_c: 26", "setpoint_c: 7")


def _keys(*changes: tuple[str, str]) -> list[str]:
    return [fault.key for fault in faults(changed(*changes))]


def test_checks_over_several_keys_come_with_the_single_ones() -> None:
    assert _keys(
        ("  name: orchard", "  name: Orchard"),
        ("pin: 23", "pin: 4"),
        _TOO_NARROW,
        ("min_c: 4", "min_c: 6"),
    ) == [
        "site.name",
        "outputs.fan.pin",
        "zones.bench.cool.setpoint_c",
        "plants[plumbago].min_c",
    ]


def test_a_check_waits_when_it_leans_on_a_wrong_key() -> None:
    """With hysteresis_k left out the deadband would be met or not by a mere default."""
    heat = "      setpoint_c: 5\n      hysteresis_k: "
    assert _keys(("      setpoint_c: 5", f"{heat}9"), _TOO_NARROW) == [
        "zones.bench.heat.hysteresis_k"
    ]
    assert _keys(("      setpoint_c: 5", f"{heat}1"), _TOO_NARROW) == [
        "zones.bench.cool.setpoint_c"
    ]


def test_a_misspelt_key_counts_as_the_one_it_meant() -> None:
    heat = "      setpoint_c: 5\n      hysteresys_k: 1"
    assert _keys(("      setpoint_c: 5", heat), _TOO_NARROW) == ["zones.bench.heat.hysteresys_k"]


def test_a_key_given_twice_is_not_leant_on() -> None:
    twice = ("      setpoint_c: 5", "      setpoint_c: 5\n      setpoint_c: 4")
    assert _keys(twice, _TOO_NARROW) == ["zones.bench.heat.setpoint_c"]


def test_a_probe_that_is_wrong_is_still_there_to_be_named() -> None:
    assert _keys(("28-000000000001", "28")) == ["probes.left.rom"]


def test_a_whole_section_that_is_wrong_is_not_missed_elsewhere() -> None:
    outputs = "outputs:\n  heater: {kind: gpio, pin: 17}\n  fan: {kind: gpio, pin: 23}\n"
    assert _keys((outputs, "outputs: none\n")) == ["outputs"]
    assert _keys((outputs, "")) == ["zones.bench.heat.output", "zones.bench.cool.output"]
    assert _keys(("outputs:", "outputz:")) == ["outputz"]


def test_a_plant_that_cannot_be_read_puts_off_the_checks_on_plants() -> None:
    more = "plants:\n  - lemon\n"
    assert _keys(("plants:\n", more), ("min_c: 4", "min_c: 6")) == ["plants[1]"]


def test_a_plant_with_one_wrong_key_does_not_put_off_the_others() -> None:
    more = "plants:\n  - {name: lemon, zone: bench, max_c: hot}\n"
    text = (("plants:\n", more), ("min_c: 4", "min_c: 6"))
    assert _keys(*text) == ["plants[lemon].max_c"]


def test_a_draft_leaves_out_no_more_than_it_must() -> None:
    data = {
        "site": {"name": "Not A Name"},
        "poll_s": 5,
        "probes": {"one": {"kind": "onewire", "rom": "28-000000000001", "jump_k": -1}},
        "zones": {"bench": {"probes": ["one"], "heat": {"setpoint_c": 5}}},
        "plants": [{"name": "lemon", "zone": "bench", "min_c": "cold"}],
        "unheard-of": 1,
    }
    draft, left_out = drafted(data)
    assert draft.poll_s == 5
    assert list(draft.probes) == ["one"]
    assert draft.zones["bench"].heat is None
    assert draft.plants[0].name == "lemon"
    assert {
        ("site", "name"),
        ("probes", "one", "jump_k"),
        ("zones", "bench", "heat"),
        ("plants", 0, "min_c"),
        ("unheard-of",),
    } <= left_out
    assert data["site"] == {"name": "Not A Name"}, "the caller's data stay as they were"


def test_a_draft_of_nothing_is_empty() -> None:
    draft, _ = drafted({"site": 1, "probes": [], "zones": "x", "plants": {}, "house": None})
    assert (draft.probes, draft.zones, draft.plants) == ({}, {}, ())


def test_a_draft_that_cannot_be_made_is_leant_on_by_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Rounds without end must not keep a keeper from starting on its old settings."""
    monkeypatch.setattr(drafting, "MOST_DEEP", 0)
    draft, left_out = drafted({"poll_s": 5})
    assert (draft.poll_s, left_out) == (10.0, {drafting.EVERYTHING})
    assert _keys(("pin: 17", "pin: 99"), _TOO_NARROW) == ["outputs.heater.pin"]
