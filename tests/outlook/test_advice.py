"""One sentence for every night, and the right one."""

import pytest

from greenkeeper.outlook.advice import Limits, Ways, advise
from greenkeeper.outlook.ahead import Night

LIMITS = Limits(4.0, "plumbago", "fleece")


def night(low_c: float, kwh: float = 0.0) -> Night:
    return Night(low_c, 3600.0, 0.0, kwh)


def said(limits: Limits = LIMITS, **ways: Night | None) -> tuple[str, bool]:
    plain = Ways(night(2.0), night(5.0, 4.0), None, None, night(5.0, 6.0))
    found = advise(plain._replace(**ways), limits, "before 16:40", lambda utc_s: "06:40")
    return found.text, found.grave


def test_a_heater_that_does_it_needs_nobody() -> None:
    assert said() == ("Nothing to do: the heater keeps it, with about 4.0 kWh.", False)


def test_a_mild_night_takes_no_heat() -> None:
    mild = said(cold=night(7.0), kept=night(7.0), harsh=night(6.0))
    assert mild == ("Nothing to do: its heater is not needed, it stays at 7.0 °C or above.", False)


def test_covers_that_save_are_worth_a_walk_and_those_that_do_not_are_not() -> None:
    saving = said(covered_cold=night(3.0), covered_kept=night(5.0, 2.5))
    assert saving == ("The heater will do. Lay fleece before 16:40 to save 1.5 of 4.0 kWh.", False)
    assert "Nothing to do" in said(covered_cold=night(2.1), covered_kept=night(5.0, 3.8))[0]
    little = said(kept=night(5.0, 0.3), covered_cold=night(3.0), covered_kept=night(5.0, 0.15))
    assert "Nothing to do" in little[0], "half of hardly anything"


def test_what_they_save_is_told_in_money_where_a_price_is_known() -> None:
    bare, covered = (night(5.0, kwh)._replace(cost=0.32 * kwh) for kwh in (4.0, 2.5))
    ways = Ways(night(2.0), bare, night(3.0), covered, night(5.0, 6.0))
    found = advise(ways, LIMITS, "before 16:40", lambda utc_s: "06:40", "EUR")
    assert found.text.endswith("to save 1.5 of 4.0 kWh (0.48 EUR).")


def test_covers_that_turn_the_night_are_asked_for_in_time() -> None:
    text, grave = said(kept=night(3.1, 9.0), covered_cold=night(3.0), covered_kept=night(5.0, 7.0))
    assert text == (
        "Lay fleece before 16:40: without, even with the heater on all night it falls to 3.1 °C "
        "by 06:40, and plumbago must have 4.0 °C. With, 5.0 °C."
    )
    assert not grave


def test_a_night_that_nothing_turns_is_grave() -> None:
    text, grave = said(kept=night(1.0, 9.0), covered_cold=night(0.0), covered_kept=night(2.0, 9.0))
    assert grave
    assert text.startswith("Plants will be too cold: even with the heater on all night it falls")
    assert "Carry in the tenderest" in text
    assert text.endswith("Fleece alone will not do.")


def test_without_a_heater_it_says_so_much_less() -> None:
    text, grave = said(kept=None, cold=night(1.0), harsh=night(-1.0))
    assert grave
    assert "heater" not in text
    near = said(kept=None, cold=night(4.5), harsh=night(4.1))
    assert near == ("Nothing to do: it falls to 4.5 °C by 06:40, and that is close.", False)


@pytest.mark.parametrize("covered", [None, night(5.0, 3.9)])
def test_the_coldest_night_in_ten_is_told_while_something_can_be_done(
    covered: Night | None,
) -> None:
    text, grave = said(harsh=night(3.0, 9.0), covered_kept=covered)
    assert text.startswith(
        "It should do, but one night in ten would fall to 3.0 °C, and plumbago must have"
    )
    assert ("Lay fleece" in text) == (covered is not None)
    assert not grave
