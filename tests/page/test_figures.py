"""Figures as each reader writes them.

°C into °F: t/°F = 9/5 t/°C + 32 (NIST Special Publication 811, 2008, appendix B.8; fixed
points of water). Numbers and dates: Unicode CLDR, by babel.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.errors import GreenkeeperError
from greenkeeper.page.figures import Figures
from greenkeeper.reports.night import Span
from greenkeeper.units import shown_c

BRUSSELS = "Europe/Brussels"
BRITISH = Figures(units="celsius", language="en-GB", timezone=BRUSSELS)
AMERICAN = Figures(units="fahrenheit", language="en-US", timezone=BRUSSELS)
AUSTRIAN = Figures(units="celsius", language="de-AT", timezone=BRUSSELS)


def plain(text: str) -> str:
    """With the blanks one can see: CLDR puts narrow ones before AM and PM."""
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("temp_c", "british", "american", "austrian"),
    [
        (0.0, "0.0 °C", "32.0 °F", "0,0 °C"),
        (100.0, "100.0 °C", "212.0 °F", "100,0 °C"),
        (-40.0, "−40.0 °C", "−40.0 °F", "−40,0 °C"),
        (-0.04, "0.0 °C", "31.9 °F", "0,0 °C"),
        (None, "–", "–", "–"),
    ],
)
def test_a_temperature_is_written_in_the_readers_degrees(
    temp_c: float | None, british: str, american: str, austrian: str
) -> None:
    found = [plain(each.temperature(temp_c)) for each in (BRITISH, AMERICAN, AUSTRIAN)]
    assert found == [british, american, austrian]


def test_a_difference_has_no_zero_point() -> None:
    assert plain(BRITISH.difference(-1.5)) == "−1.5 K"
    assert plain(AMERICAN.difference(1.5, signed=True)) == "+2.7 °F"
    assert plain(AMERICAN.difference(0.0, signed=True)) == "0.0 °F"


@pytest.mark.parametrize(
    ("sentence", "american"),
    [
        ("bench-left 4.9 °C is at or below 5.0 °C", "bench-left 40.8 °F is at or below 41.0 °F"),
        ("0.9 K above the minimum", "1.6 °F above the minimum"),
        ("it falls to −1.5 °C by 06:10", "it falls to 29.3 °F by 06:10"),
        ("below it for 20 min, 3.0 K·h", "below it for 20 min, 5.4 °F·h"),
        ("15.0 K × 59.2 W/K = 887 W", "27.0 °F × 59.2 W/K = 887 W"),
        ("over 3 K/h, in 2 K-steps", "over 3 K/h, in 4 °F-steps"),
        ("38 s of its minimum off time left", "38 s of its minimum off time left"),
        ("28-0316a2795a01 at GPIO17, 12 Kings", "28-0316a2795a01 at GPIO17, 12 Kings"),
        ("", ""),
    ],
)
def test_finished_sentences_are_put_into_the_readers_units(sentence: str, american: str) -> None:
    assert plain(AMERICAN.text(sentence)) == american
    assert plain(BRITISH.text(sentence)) == sentence


def test_a_decimal_comma_stands_only_in_measures() -> None:
    sentence = "2.1 of 5.3 kWh, 0.32 EUR, 40.5 % at 192.0.2.7, version 1.2.3."
    assert plain(AUSTRIAN.text(sentence)) == (
        "2,1 of 5,3 kWh, 0,32 EUR, 40,5 % at 192.0.2.7, version 1.2.3."
    )


@given(st.floats(-60.0, 70.0))
def test_a_sentence_says_the_temperature_that_the_figure_says(temp_c: float) -> None:
    said = plain(AMERICAN.text(f"it was {shown_c(temp_c)} then"))
    degrees = float(said.split()[2].replace("−", "-"))
    assert abs(degrees - (temp_c * 1.8 + 32.0)) < 0.05 * 1.8 + 0.05 + 1e-9


@given(st.floats(-60.0, 70.0))
def test_degrees_and_celsius_are_each_others_way_back(temp_c: float) -> None:
    assert AMERICAN.celsius(AMERICAN.degrees(temp_c)) == pytest.approx(temp_c)


def test_moments_are_of_the_house_and_of_the_language() -> None:
    utc_s = 1_926_189_600.0  # 14 January 2031, 20:40 UTC
    assert plain(BRITISH.moment(utc_s)) == "Tue 14 Jan, 21:40"
    assert plain(AMERICAN.moment(utc_s)) == "Tue, Jan 14, 9:40 PM"
    assert plain(AUSTRIAN.moment(utc_s)) == "Di., 14. Jän., 21:40"
    assert plain(BRITISH.since(utc_s, utc_s + 3600.0)) == "21:40"
    assert plain(BRITISH.since(utc_s, utc_s + 90_000.0)) == "Tue 14 Jan, 21:40"
    assert plain(BRITISH.month(date(2031, 1, 1))) == "Jan 2031"
    assert BRITISH.month_name(9) == "Sept"


def test_a_moment_bears_its_year_where_the_span_has_its_day_more_than_once() -> None:
    utc_s, day_s = 1_926_189_600.0, 86_400.0
    winter, decade = Span(utc_s - 90.0 * day_s, utc_s), Span(utc_s - 3650.0 * day_s, utc_s)
    assert plain(BRITISH.moment_in(winter, utc_s)) == "Tue 14 Jan, 21:40"
    assert plain(BRITISH.moment_in(decade, utc_s)) == "Tue, 14 Jan 2031, 21:40"


@pytest.mark.parametrize("language", ["xx-XX", "zz", "english"])
def test_an_unknown_language_is_refused_by_name(language: str) -> None:
    with pytest.raises(GreenkeeperError, match=f"nothing is known of '{language}'"):
        Figures(units="celsius", language=language, timezone=BRUSSELS)
