"""What the season report works out, and how it tells it."""

import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as trying
from hypothesis import strategies as st

from greenkeeper.errors import GreenkeeperError
from greenkeeper.reports import (
    picture,
    season,
    season_climate,
    season_house,
    season_picture,
    season_sheet,
    season_words,
)
from greenkeeper.reports.season import Facts
from greenkeeper.settings import load
from greenkeeper.settings.schema import Settings
from tests.support import weatherfiles

HOUSE = """\
site: {name: invented, latitude: 51, longitude: 7, timezone: Europe/Berlin,
       monthly_mean_c: [2, 3, 6, 9, 13, 16, 18, 18, 15, 11, 6, 3]}
probes: {bench: {kind: modelled, place: bench}}
outputs:
  heater: {kind: modelled, drives: heater, power_w: 2000}
  mat: {kind: modelled, drives: circulation, power_w: 60}
zones:
  bench: {probes: [bench], heat: {output: heater, setpoint: from-plants, margin_k: 1}}
plants:
  - {name: lime, zone: bench, min_c: 10}
  - {name: canna, zone: bench, min_c: 4}
  - {name: clivia, zone: bench, min_c: 10}
  - {name: olive, zone: bench, min_c: -5}
  - {name: rosemary, zone: bench}
house:
  length_m: 3
  width_m: 2
  eaves_m: 1.5
  ridge_m: 2.2
  cover: horticultural-glass
  improvements:
    bubbles: {lining: bubble-film, price: 300, lasts_years: 4, from: 10-15, to: 04-15}
    gold-leaf: {edge: shallow, price: 9000, lasts_years: 5}
    shared: {air_changes_per_h: 0.5}
    strips: {air_changes_per_h: 0.7, price: 5}
    useless: {air_changes_per_h: 9, price: 5}
tariff: {currency: EUR, per_kwh: 0.3}
"""


def settings(*changes: tuple[str, str]) -> Settings:
    text = HOUSE
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return load.parse(text, "house.yaml")


def facts(house: Settings, content: str | None = None) -> Facts:
    file = None if content is None else season_climate.WeatherFile("w.csv", content.encode())
    climate = season_climate.climate(house, season_house.described(house), file)
    return season.facts(house, season_house.held(house), climate)


def told(house: Settings, content: str | None = None) -> str:
    lines = list(season_words.lines(facts(house, content), house))
    assert max(map(len, lines)) <= 80
    return "\n".join(lines)


@pytest.fixture(scope="module")
def essen() -> str:
    return weatherfiles.german_csv(5)


# --- facts ---------------------------------------------------------------------------------


def test_improvements_come_by_how_soon_they_pay_and_the_useless_last() -> None:
    found = facts(settings()).improvements
    assert [each.name for each in found] == ["strips", "bubbles", "shared", "useless", "gold-leaf"]
    by_name = {each.name: each for each in found}
    assert by_name["gold-leaf"].worn_out_before
    assert by_name["useless"].pays_back_years is None
    assert by_name["shared"].pays_back_years is None
    strips = by_name["strips"]
    assert strips.saves_cost == pytest.approx(0.3 * strips.saves_kwh)
    assert strips.pays_back_years == pytest.approx(5.0 / (0.3 * strips.saves_kwh))


def test_all_together_save_less_than_their_sum_and_more_than_each() -> None:
    found = facts(settings())
    assert found.together is not None
    assert found.improved is not None
    each = [improvement.saves_kwh for improvement in found.improvements]
    assert max(each) < found.together.saves_kwh < sum(each)
    assert found.together.price is None  # one of them has none
    assert found.improved.kwh == pytest.approx(found.base.kwh - found.together.saves_kwh)


def test_plants_are_taken_off_the_ladder_from_the_tenderest_down() -> None:
    found = facts(settings())
    assert [plant.name for plant in found.tenderest] == ["lime", "clivia"]
    first, second = found.rungs
    assert (first.without, first.next_in_line, first.setpoint_c) == (("lime", "clivia"), "canna", 5)
    assert second.without == ("lime", "clivia", "canna")
    assert (second.next_in_line, second.setpoint_c) == ("olive", -4.0)
    assert 0.0 < first.saves_kwh < second.saves_kwh < found.base.kwh


def test_each_degree_costs_more_than_the_last() -> None:
    found = facts(settings())
    rows = sorted([*((by_k, kwh) for by_k, kwh, _ in found.degrees), (0.0, found.base.kwh)])
    assert [by_k for by_k, _ in rows] == [-2.0, -1.0, 0.0, 1.0, 2.0]
    steps = [after - before for (_, before), (_, after) in itertools.pairwise(rows)]
    assert steps == sorted(steps)
    assert steps[0] > 0.0


def test_a_fifth_either_way_encloses_the_figure() -> None:
    found = facts(settings())
    for _, better, worse in found.unsure:
        assert better < found.base.kwh < worse
    skin, air, both = (worse - better for _, better, worse in found.unsure)
    assert both > skin > air


def test_a_measured_house_scales_everything() -> None:
    sheet = season_house.described(settings())
    measured = ("  length_m: 3\n", f"  length_m: 3\n  loss_w_per_k: {sheet.loss_w_k / 2}\n")
    half, whole = facts(settings(measured)), facts(settings())
    assert half.base.kwh == pytest.approx(whole.base.kwh / 2)
    assert half.improvements[0].saves_kwh == pytest.approx(whole.improvements[0].saves_kwh / 2)
    assert half.heater.needs_w == pytest.approx(whole.heater.needs_w / 2)


def test_the_hours_know_of_the_sun_and_the_heaters_limit(essen: str) -> None:
    found = facts(settings(), essen)
    assert found.is_year
    assert found.climate.has_sun
    assert 0.3 < found.base.kwh / found.base.without_sun_kwh < 0.95
    assert found.base.short_h is not None
    assert found.base.short_h(1e6) == 0.0
    assert found.base.short_h(0.0) > 1000.0


def test_means_and_hours_agree_but_for_sun_and_wind(essen: str) -> None:
    """Monthly means of the same year: its degree hours within a tenth, as Hitchin promises."""
    columns = [line.split(",") for line in essen.splitlines()[1:]]
    means = []
    for month in range(1, 13):
        temps = [float(row[1]) for row in columns if int(row[0][5:7]) == month]
        means.append(sum(temps) / len(temps))
    still = "\n".join(["time,outdoor_c", *(",".join(row[:2]) for row in columns)])
    written = ", ".join(f"{mean_c:.2f}" for mean_c in means)
    house = settings(("[2, 3, 6, 9, 13, 16, 18, 18, 15, 11, 6, 3]", f"[{written}]"))
    by_hours, by_means = facts(house, still), facts(house)
    assert by_means.base.kwh == pytest.approx(by_hours.base.without_sun_kwh, rel=0.1)


def test_a_thermometer_book_is_understood() -> None:
    rows = [f"2031-01-{day:02d},-4,3" for day in range(1, 31)]
    found = facts(settings(), "\n".join(["date,low_c,high_c", *rows]))
    loss_w_k = season_house.described(settings()).loss_w_k
    assert found.base.kwh == pytest.approx(30 * 24 * 11.5 * loss_w_k / 1000.0)
    assert not found.is_year


# --- words ---------------------------------------------------------------------------------


def test_the_story_begins_with_what_matters() -> None:
    story = told(settings())
    begin = story.split("\n\n")[1].replace("\n", " ")
    assert begin.startswith("11.0 °C in bench takes ")
    assert "The first thing to do: strips, for 5 EUR; it pays for itself in " in begin
    assert "% of the warmth is for lime and clivia alone." in begin


@pytest.mark.parametrize(
    ("circuit_w", "has"),
    [
        (9000, "heater and reserve together have 3500 W"),
        (2100, "the stronger of heater and reserve has 2000 W"),
    ],
)
def test_two_heaters_are_told_with_what_they_can_do(circuit_w: int, has: str) -> None:
    house = settings(
        ("site: {name", f"site: {{circuit_w: {circuit_w}, name"),
        ("  mat:", "  reserve: {kind: modelled, drives: heater, power_w: 1500}\n  mat:"),
        ("heat: {output: heater,", "heat: {output: heater, second_output: reserve,"),
    )
    assert has in " ".join(told(house).split())


def test_what_costs_nothing_comes_first() -> None:
    story = told(settings(("{air_changes_per_h: 0.7, price: 5}", "{edge: deep, price: 0}")))
    assert "The first thing to do: strips, which costs nothing" in story.replace("\n", " ")


def test_what_never_pays_is_told_so() -> None:
    story = told(settings())
    assert "worn in 5 y" in story
    assert "no price" in story


def test_means_say_that_they_know_of_no_sun_and_hours_what_the_sun_spared(essen: str) -> None:
    assert "knows of no sun" in told(settings())
    assert "soil and water store, spare " in told(settings(), essen).replace("\n", " ")


def test_the_sky_is_told_where_it_is_left_out(essen: str) -> None:
    def words(text: str, *changes: tuple[str, str]) -> str:
        return told(settings(*changes), text).replace("\n", " ")

    counted = ("  length_m: 3\n", "  length_m: 3\n  sky_cooling: true\n")
    silent = "\n".join(",".join(line.split(",")[:5]) for line in essen.splitlines())
    assert "is not in it (house.sky_cooling)." in words(essen)
    assert "clear sky" not in words(essen, counted)
    assert "is not in it: the file does not tell of it." in words(silent, counted)


def test_plants_that_cost_more_than_all_improvements_save_are_named() -> None:
    assert "saves more than all the improvements together" in told(settings()).replace("\n", " ")


def test_stored_warmth_wants_hours_to_be_weighed(essen: str) -> None:
    wet = settings(("{air_changes_per_h: 9, price: 5}", "{water_l: 200, price: 5}"))
    assert "needs hours to tell" in told(wet)
    assert "needs hours to tell" not in told(wet, essen)


def test_without_a_tariff_there_is_no_money_anywhere() -> None:
    story = told(settings(("tariff: {currency: EUR, per_kwh: 0.3}\n", "")))
    assert "EUR" not in story
    assert "pays" not in story


DAY_AND_NIGHT = (
    "tariff: {currency: EUR, per_kwh: 0.3}\n",
    "tariff: {per_kwh: 0.4, hours: [{from: '18:00', to: '06:00', per_kwh: 0.2}]}\n",
)


def test_by_hours_the_season_costs_what_its_heat_costs_when_it_is_wanted(essen: str) -> None:
    found = facts(settings(DAY_AND_NIGHT), essen)
    assert found.base.cost is not None
    assert 0.2 < found.base.cost / found.base.kwh < 0.3, "the sun keeps most of it to the night"
    assert found.base.cost == pytest.approx(sum(found.base.months_cost or ()))
    for each in found.improvements:
        assert each.saves_cost is not None
        if each.saves_kwh > 10.0:
            assert 0.2 < each.saves_cost / each.saves_kwh < 0.4
    assert found.per_kwh is None


def test_where_no_hour_is_known_three_quarters_of_the_heat_fall_at_night() -> None:
    found = facts(settings(DAY_AND_NIGHT))
    assert found.base.cost == pytest.approx(found.base.kwh * (0.75 * 0.2 + 0.25 * 0.4))


def test_a_heater_too_small_is_in_the_first_paragraph(essen: str) -> None:
    story = told(settings(("power_w: 2000", "power_w: 900")), essen)
    assert "THE HEATER IS TOO SMALL" in story.split("\n\n")[1].replace("\n", " ")
    assert "In this weather it was too little for " in story.replace("\n", " ")


def test_a_heater_too_small_is_told_with_what_would_make_it_enough() -> None:
    # 21 K at the design low; all improvements together take a fifth off.
    for power_w, told_so in ((3000, "less than it has"), (900, "still more than it has")):
        story = told(settings(("power_w: 2000", f"power_w: {power_w}"))).replace("\n", " ")
        assert "TOO SMALL" in story
        assert "On that night it keeps " in story
        assert f"W would do, {told_so}." in story


def test_a_span_shorter_than_a_year_is_no_year() -> None:
    rows = [f"2031-01-{day:02d},-4,3" for day in range(1, 31)]
    story = told(settings(), "\n".join(["date,low_c,high_c", *rows]))
    assert "in these 30 days" in story
    assert "a year" not in story


def test_a_warm_week_is_told_without_a_slip() -> None:
    rows = [f"2031-07-{day:02d},18,29" for day in range(1, 9)]
    story = told(settings(), "\n".join(["date,low_c,high_c", *rows]))
    assert "takes an ideal heater 0 kWh (0 EUR) in these 8 days" in story
    assert "first thing" not in story


def test_no_plant_with_a_minimum_is_told() -> None:
    bare = settings(
        ("setpoint: from-plants, margin_k: 1", "setpoint_c: 5"),
        *((f", min_c: {least}}}", "}") for least in (4, -5)),
        ("name: lime, zone: bench, min_c: 10", "name: lime, zone: bench"),
        ("name: clivia, zone: bench, min_c: 10", "name: clivia, zone: bench"),
    )
    assert "No plant in bench has a minimum in the settings." in told(bare).replace("\n", " ")


def test_a_house_that_needs_nothing_is_told_without_a_slip() -> None:
    warm = settings(("[2, 3, 6, 9, 13, 16, 18, 18, 15, 11, 6, 3]", str([40] * 12)))
    assert "takes an ideal heater 0 kWh (0 EUR) a year" in told(warm)


@trying(max_examples=15, deadline=None)
@given(
    name=st.from_regex(r"[a-z]{1,40}", fullmatch=True),
    price=st.floats(0.0, 1e6),
    loss=st.floats(2.0, 4000.0),
)
def test_whatever_the_figures_it_fits_eighty_columns(name: str, price: float, loss: float) -> None:
    house = settings(
        ("    strips:", f"    {name}-x:"),
        ("price: 9000", f"price: {price:.4f}"),
        ("  length_m: 3\n", f"  length_m: 3\n  loss_w_per_k: {loss:.3f}\n"),
    )
    told(house)
    assert max(map(len, season_sheet.lines(house, season_house.held(house)))) <= 80


# --- the weather is none ---------------------------------------------------------------------


def test_without_any_weather_it_is_told_where_to_get_some() -> None:
    silent = settings((",\n       monthly_mean_c: [2, 3, 6, 9, 13, 16, 18, 18, 15, 11, 6, 3]", ""))
    with pytest.raises(GreenkeeperError, match=r"no weather: give a file \(--weather\)"):
        facts(silent)


def test_a_book_from_the_other_hemisphere_is_refused() -> None:
    rows = []
    for month, days in enumerate((31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31), 1):
        low = 15 if month in (12, 1, 2) else 2
        rows += [f"2031-{month:02d}-{day:02d},{low},{low + 6}" for day in range(1, days + 1)]
    with pytest.raises(GreenkeeperError, match="December to February as the warmest season"):
        facts(settings(), "\n".join(["date,low_c,high_c", *rows]))


# --- the picture -----------------------------------------------------------------------------


def _drawn(house: Settings, file: Path) -> str:
    picture.save(season_picture.drawn(facts(house), "invented"), file)
    return file.read_text("utf-8")


def test_the_picture_names_every_line_and_both_totals(tmp_path: Path) -> None:
    drawn = _drawn(settings(), tmp_path / "season.svg")
    for words in ("where the warmth goes", "front-roof", "floor edge", "with all improvements"):
        assert words in drawn
    assert "EUR" in drawn


def test_without_a_tariff_there_is_no_money_in_the_picture(tmp_path: Path) -> None:
    bare = settings(("tariff: {currency: EUR, per_kwh: 0.3}\n", ""))
    assert "EUR" not in _drawn(bare, tmp_path / "season.svg")
