"""Strategies on equal terms: trimmed to one achieved minimum, none below the ideal heater."""

from functools import cache

import pytest

from greenkeeper import sun
from greenkeeper.house.irradiance import clear_sky_w_m2
from greenkeeper.house.network import Parameters
from greenkeeper.house.weather import Surroundings
from greenkeeper.rehearsal.compare import (
    HEATED_AHEAD,
    NOT_AHEAD,
    Comparison,
    Contender,
    _contender,
    _next_shift_k,
    _Try,
    ahead_and_not,
    compare,
    saved,
)
from greenkeeper.rehearsal.rig import RehearsalError
from greenkeeper.rehearsal.run import Span, Stage, rehearse
from greenkeeper.settings.schema import Settings, Tariff
from tests.rehearsal.houses import DAY_S, JANUARY, ColdSpell, Fixed, settings, stage
from tests.rehearsal.test_run import PLAIN

A_DAY = Span(JANUARY, JANUARY + DAY_S)


@cache
def in_steady_cold() -> Comparison:
    shares: list[float] = []
    found = compare(settings(), stage(Fixed(-5.0), PLAIN), A_DAY, shares.append, workers=1)
    assert shares == sorted(shares)
    assert 0.0 <= shares[0] <= shares[-1] <= 1.0
    return found


def test_what_is_compared_is_named() -> None:
    names = [each.name for each in in_steady_cold().contenders]
    plain = ["hysteresis 0.5 K", "hysteresis 1 K", "hysteresis 2 K"]
    assert names == ["as set", *plain, "1 K, anticipating", "proportion"]


def test_the_ideal_heater_is_the_cheapest_and_a_wider_band_costs_more() -> None:
    found = in_steady_cold()
    as_set, *plain, ahead, pulsed = (each.kwh for each in found.contenders)
    assert found.ideal.kwh < pulsed < ahead < plain[1]
    assert found.ideal.kwh < min(as_set, *plain)
    assert plain == sorted(plain)
    assert as_set == pytest.approx(plain[0], rel=0.005)  # the demo's own is 0.5 K


def test_a_bands_cost_is_what_its_mean_lies_above_the_minimum() -> None:
    """60 W/K: the mean of a band of 2 K lies about 1 K above its lowest, of 9 K to outside,
    and the swing that lag adds comes on top."""
    widest = in_steady_cold().contenders[3]
    assert 1.0 / 9.0 < widest.over_ideal < 2.0 / 9.0


def test_every_strategy_ends_near_the_target() -> None:
    found = in_steady_cold()
    assert found.target_c == 4.0
    for each in found.contenders:
        assert each.low_c == pytest.approx(4.0, abs=0.1)


def test_what_is_saved_is_told_beside_a_plain_switch_of_one_kelvin() -> None:
    found = in_steady_cold()
    pair = saved(found)
    assert pair is not None
    assert [each.name for each in pair] == ["hysteresis 1 K", "proportion"]
    plain = found._replace(contenders=found.contenders[:1] + found.contenders[2:4])
    dear = found.contenders[0]._replace(kwh=1e3)
    assert saved(plain._replace(contenders=(dear, *plain.contenders[1:]))) is None


def test_where_nothing_is_heated_there_is_nothing_to_compare() -> None:
    with pytest.raises(RehearsalError, match="never runs"):
        compare(settings(), stage(Fixed(15.0), PLAIN), A_DAY, lambda _: None, workers=1)


def test_a_heater_that_is_never_enough_is_told() -> None:
    with pytest.raises(RehearsalError, match="at its limit all the time"):
        compare(settings(), stage(Fixed(-30.0), PLAIN), A_DAY, lambda _: None, workers=1)


def test_hours_beyond_the_heater_and_the_two_after_each_are_counted_among_the_left_out() -> None:
    """They are in the energies all the same: those are of the whole span."""
    of, span = settings(), Span(JANUARY, JANUARY + 12 * 3600.0)
    on_stage = stage(ColdSpell(range(3, 5)), PLAIN)._replace(earliest_utc_s=JANUARY)
    found = compare(of, on_stage, span, lambda _: None, workers=1)
    assert found.ideal.hard_hours == {0, 3, 4, 5}  # it begins in a house that is cold
    assert (found.hard_hours, found.left_out_hours) == (4, 8)
    assert found.ideal.zones[0].low_c < found.target_c - 0.5
    assert found.ideal.kwh == pytest.approx(
        sum(hour.heat_kwh for hour in found.ideal.zones[0].hours)
    )
    for each in found.contenders:
        assert each.low_c == pytest.approx(4.0, abs=0.25)


# --- the search ---------------------------------------------------------------------------------


def test_the_search_encloses_the_target_and_stops_when_it_is_near() -> None:
    def lowest(shift_k: float) -> float:
        """A house whose lowest moves in the probe's sixteenths, as real ones do."""
        return 4.6 + round(shift_k * 16.0) / 16.0

    known: list[_Try] = []
    while (shift_k := _next_shift_k(known, 4.0)) is not None:
        known.append(_Try(shift_k, lowest(shift_k), 10.0 + shift_k, None, 1))
        assert len(known) < 6
    lows_c = [each.low_c for each in known]
    assert min(lows_c) < 4.0 < max(lows_c)
    assert min(abs(low_c - 4.0) for low_c in lows_c) < 0.1


def test_between_two_tries_the_energy_is_a_straight_line() -> None:
    known = [_Try(-0.5, 3.95, 9.0, 3.0, 1), _Try(-0.4, 4.05, 10.0, 4.0, 1)]
    found = _contender("any", known, 4.0, 8.0)
    assert found.kwh == pytest.approx(9.5)
    assert found.cost == pytest.approx(3.5)
    assert found.over_ideal == pytest.approx(9.5 / 8.0 - 1.0)
    assert found.shift_k == pytest.approx(-0.45)


# --- a clear dawn -------------------------------------------------------------------------------


def in_pulses(*, left: bool) -> Settings:
    found = settings()
    bench = found.zones["bench"]
    assert bench.heat is not None
    how = {"strategy": "proportion", "leave_dawn_to_sun": left, "margin_k": 1.0}
    heat = bench.heat.model_copy(update=how)
    return found.model_copy(update={"zones": {"bench": bench.model_copy(update={"heat": heat})}})


class Clear(Fixed):
    """Steady cold, and by day the sun of a clear sky."""

    def at(self, utc_s: float) -> Surroundings:
        sine = sun.height(utc_s, SITE.latitude or 0.0, SITE.longitude or 0.0)
        return super().at(utc_s)._replace(sun_w_m2=clear_sky_w_m2(sine))


SITE = settings().site


def test_a_clear_dawn_left_to_the_sun_is_told_beside_one_that_is_not() -> None:
    on_stage = stage(Clear(-2.0), PLAIN)
    found = compare(in_pulses(left=True), on_stage, A_DAY, lambda _: None, workers=1)
    assert found.dawns is not None
    left, kept = found.dawns
    assert 0.95 * kept.kwh < left.kwh < kept.kwh
    assert 4.5 <= left.low_c < kept.low_c
    assert [each.name for each in found.contenders].count("as set") == 1
    plain = rehearse(in_pulses(left=False), on_stage, A_DAY)
    assert kept.kwh == plain.kwh


def test_under_clouds_no_dawn_is_left_to_the_sun() -> None:
    left, kept = (
        rehearse(in_pulses(left=on), stage(Fixed(-2.0), PLAIN), A_DAY) for on in (True, False)
    )
    assert left.kwh == kept.kwh


def test_a_rehearsal_knows_whether_it_went_by_invented_forecasts() -> None:
    hours = Span(JANUARY, JANUARY + 3600.0)
    for on in (True, False):
        found = rehearse(in_pulses(left=on), stage(Fixed(-2.0), PLAIN), hours)
        assert found.foretold is on


def test_a_plain_switch_has_no_dawn_to_tell_of() -> None:
    assert in_steady_cold().dawns is None


# --- cheap hours -----------------------------------------------------------------------------

TARIFF = {"per_kwh": 1.0, "hours": [{"from": "16:00", "to": "21:00", "per_kwh": 0.02}]}


def with_hours(*, ahead: bool) -> Settings:
    found = settings()
    house = {"air_kj_per_k": 90.0, "mass_kj_per_k": 5000.0, "mass_w_per_k": 90.0}
    described = settings(loss_w_per_k=20.0, **house).house
    bench = found.zones["bench"]
    assert bench.heat is not None
    heat = bench.heat.model_copy(update={"ahead_in_cheap_hours": ahead})
    site = found.site.model_copy(update={"timezone": "UTC"})
    return found.model_copy(
        update={
            "tariff": Tariff.model_validate(TARIFF),
            "house": described,
            "site": site,
            "zones": {"bench": bench.model_copy(update={"heat": heat})},
        }
    )


def test_cheap_hours_are_heated_ahead_in_and_spare_money_and_no_energy() -> None:
    heated, plain = (rehearse(with_hours(ahead=on), _in_the_cold(), A_DAY) for on in (True, False))
    assert heated.cost is not None
    assert plain.cost is not None
    assert heated.kwh > plain.kwh
    assert heated.cost < 0.97 * plain.cost
    assert heated.zones[0].low_c >= plain.zones[0].low_c - 0.1
    assert heated.zones[0].below_s == plain.zones[0].below_s


def _in_the_cold() -> Stage:
    return stage(Fixed(-2.0), Parameters.from_settings(with_hours(ahead=True).house))


@pytest.mark.parametrize(("on", "name"), [(True, NOT_AHEAD), (False, HEATED_AHEAD)])
def test_a_tariff_with_hours_has_a_row_of_its_own(on: bool, name: str) -> None:
    assert ahead_and_not(in_steady_cold()) is None, "the demo's has none"
    way = (
        Contender("as set", 5.0, 1.0, 0.0, 0.0, 4.0, 9),
        Contender(name, 6.0, 2.0, 0.0, 0.0, 4.0, 9),
    )
    pair = ahead_and_not(in_steady_cold()._replace(contenders=way))
    assert pair is not None
    assert [each.name for each in pair] == (["as set", name] if on else [name, "as set"])
