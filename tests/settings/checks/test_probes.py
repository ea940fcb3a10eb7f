"""Probes beside each other: settings that could not be meant."""

import pytest

from tests.settings.examples import changed, remarks, said


@pytest.mark.parametrize("frozen_s", [0, 1800])
def test_a_probe_is_called_frozen_never_or_after_half_an_hour_at_the_soonest(frozen_s: int) -> None:
    assert said(changed(("stale_s: 45", f"frozen_s: {frozen_s}"))) == []


def test_a_probe_may_stand_still_for_a_while() -> None:
    assert said(changed(("stale_s: 45", "frozen_s: 1799"))) == [
        "house.yaml:8:58  probes.right.frozen_s: found 1799;"
        " allowed 0 for never, or 1800 or more (seconds)\n"
        "    Calm air may well stand still for a quarter of an hour."
    ]


def test_the_outdoor_probe_is_never_called_frozen() -> None:
    text = changed(("28-000000000003}", "28-000000000003, frozen_s: 7200}"))
    assert remarks(text) == [
        "probes.outdoors.frozen_s: the outdoor probe is never called frozen"
        " | Air outside may stand still while heat moves the air inside."
    ]


def test_who_switches_it_off_outdoors_is_told_nothing() -> None:
    assert remarks(changed(("28-000000000003}", "28-000000000003, frozen_s: 0}"))) == []


def test_the_only_probe_has_nobody_to_be_compared_with() -> None:
    text = changed(
        ("  right: {kind: onewire, rom: 28-000000000002, stale_s: 45}\n", ""),
        ("  outdoors: {kind: onewire, rom: 28-000000000003}\n", ""),
        ("  outdoor_probe: outdoors\n", ""),
        ("[left, right]", "[left]"),
        ("28-000000000001}", "28-000000000001, frozen_k: 2}"),
    )
    assert remarks(text) == ["probes.left.frozen_k: the only probe is never called frozen"]


@pytest.mark.parametrize("key", ["disagree_k: 2", "disagree_s: 600"])
def test_one_probe_disagrees_with_nobody(key: str) -> None:
    text = changed(("[left, right]", "[left]"), ("ceiling_c: 40", f"ceiling_c: 40\n    {key}"))
    name = key.partition(":")[0]
    assert f"zones.bench.{name}: counts only with two probes or more" in remarks(text)


@pytest.mark.parametrize(("limit_k", "told"), [("0.9", True), ("1", False)])
def test_a_limit_finer_than_the_probes_is_remarked(limit_k: str, told: bool) -> None:
    said_of_it = remarks(changed(("ceiling_c: 40", f"ceiling_c: 40\n    disagree_k: {limit_k}")))
    expected = (
        "zones.bench.disagree_k: 0.9 K is less than two sound probes may differ by"
        " | Each may be half a kelvin off: 1 between them."
    )
    assert said_of_it == ([expected] if told else [])
