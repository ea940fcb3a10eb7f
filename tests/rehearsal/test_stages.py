"""Two modelled heaters in cold nights: with one dead element the plants are kept all the same."""

from functools import cache

import pytest

from greenkeeper.rehearsal.faults import Fault
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.run import Span, Way, rehearse
from greenkeeper.settings.schema import Settings
from tests.rehearsal.houses import DAY_S, JANUARY, Fixed, settings, stage
from tests.rehearsal.test_run import PLAIN

TWO_DAYS = Span(JANUARY, JANUARY + 2 * DAY_S)


def two_heaters(power_w: float) -> Settings:
    written = settings(poll_s=30).model_dump(exclude_unset=True, by_alias=True)
    heater = {"kind": "modelled", "drives": "heater", "power_w": power_w}
    written["outputs"] |= {"heater": heater, "second": heater}
    written["zones"]["bench"]["heat"]["second_output"] = "second"
    return Settings.model_validate(written)


@cache
def lived(power_w: float, fault: bool = False, outdoor_c: float = -5.0) -> Result:
    broken = Fault("dead-element", JANUARY, JANUARY + 2 * DAY_S) if fault else None
    return rehearse(two_heaters(power_w), stage(Fixed(outdoor_c), PLAIN), TWO_DAYS, fault=broken)


def on_s(found: Result) -> dict[str, float]:
    return {each.name: each.on_s for each in found.outputs if each.heats}


def test_while_one_is_enough_they_share_the_work_and_are_never_both_needed() -> None:
    found = lived(1200.0)
    assert "second-heater" not in {each.code for each in found.told}
    assert min(on_s(found).values()) > 0.2 * max(on_s(found).values())
    assert found.zones[0].low_c >= 4.0


def test_where_one_is_too_small_the_other_joins_and_is_told() -> None:
    """60 W/K and 10 K: 600 W are needed, and each has 450."""
    found = lived(450.0)
    assert "second-heater" in {each.code for each in found.told}
    assert "heater-at-limit" not in {each.code for each in found.told}
    assert found.zones[0].low_c >= 3.5


def test_a_dead_element_beside_a_sound_heater_freezes_nothing_and_is_told() -> None:
    found = lived(1200.0, fault=True)
    assert found.zones[0].low_c >= 2.5
    assert "no-response" in {each.code for each in found.told}
    # Before, one heater of that house would have been all there was.
    assert on_s(found)["second"] > 3.0 * on_s(found)["heater"]


def test_beside_the_ideal_heater_no_second_one_heats() -> None:
    """Else `--compare` shows every strategy as thriftier than the ideal."""
    ideal = rehearse(two_heaters(1200.0), stage(Fixed(-5.0), PLAIN), TWO_DAYS, way=Way(ideal=True))
    assert ideal.kwh < lived(1200.0).kwh
    assert on_s(ideal)["second"] == 0.0


@pytest.mark.parametrize("power_w", [450.0, 1200.0])
def test_what_both_take_is_what_the_house_lost(power_w: float) -> None:
    found = lived(power_w)
    taken = sum(each.kwh or 0.0 for each in found.outputs if each.heats)
    assert taken == pytest.approx(found.kwh, rel=0.01)
