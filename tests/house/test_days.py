"""A thermometer book is taken whole, or refused with the line that does not fit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.house import days
from greenkeeper.house.records.faults import WeatherError

WEEK = "date,low_c,high_c\n" + "".join(f"2031-01-{day:02d},-3,{day}\n" for day in range(10, 17))


def test_a_week_is_taken() -> None:
    found = days.parse(WEEK, "book.csv")
    assert [each.day for each in found] == [110, 111, 112, 113, 114, 115, 116]
    assert found[0] == (110, -3.0, 10.0)


def test_fahrenheit_by_its_name() -> None:
    found = days.parse(WEEK.replace("low_c,high_c", "low_f,high_f"), "book.csv")
    assert found[0].high_c == pytest.approx(-12.22, abs=0.01)


def test_a_leap_day_is_a_day() -> None:
    text = "date,low_c,high_c\n" + "".join(
        f"2028-{day},1,5\n"
        for day in ("02-26", "02-27", "02-28", "02-29", "03-01", "03-02", "03-03")
    )
    assert [each.day for each in days.parse(text, "book.csv")][3] == 229


FAULTS = {
    "a gap": (("2031-01-12,-3,12\n", ""), "book.csv:4  column 1 (date): found 2031-01-13 after"),
    "no day": (("2031-01-12", "2031-02-30"), "book.csv:4  column 1 (date): found '2031-02-30'"),
    "no number": (("12,-3,12", "12,-3,warm"), "book.csv:4  column 3 (high_c): found 'warm'"),
    "kelvin": (("12,-3,12", "12,270,285"), "book.csv:4  column 2 (low_c): found '270'"),
    "exchanged": (("12,-3,12", "12,12,-3"), "Are the two exchanged?"),
    "cut short": (("2031-01-16,-3,16\n", "2031-01-16,-3"), "Was the file cut short"),
    "a decimal comma": (("12,-3,12", "12,-3,12,5"), "is there a decimal comma?"),
    "an unknown head": (("low_c", "low_k"), "book.csv:1: found 'date,low_k,high_c'"),
    "a mixture": (("low_c", "low_f"), "book.csv:1: found 'date,low_f,high_c'"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_what_does_not_fit_is_told_with_its_line(name: str) -> None:
    (old, new), told = FAULTS[name]
    assert WEEK.count(old) == 1
    with pytest.raises(WeatherError) as caught:
        days.parse(WEEK.replace(old, new), "book.csv")
    assert told in str(caught.value)


def test_fewer_days_than_a_week_are_none() -> None:
    with pytest.raises(WeatherError, match="6 days; allowed 7 or more"):
        days.parse(WEEK.rpartition("2031")[0], "book.csv")


def _year(warm: range) -> tuple[days.DayRecord, ...]:
    return tuple(
        days.DayRecord(100 * month + day, 10.0 if month in warm else 0.0, 20.0)
        for month in range(1, 13)
        for day in range(1, 31)
    )


def test_a_summer_in_the_wrong_half_of_the_year_is_refused() -> None:
    days.check_seasons(_year(range(6, 9)), 50.0, "book.csv")
    days.check_seasons(_year(range(6, 9)), -5.0, "book.csv")  # the rains make the seasons
    days.check_seasons(_year(range(6, 9))[:200], -50.0, "book.csv")  # too little to tell
    with pytest.raises(WeatherError, match="June to August as the warmest season at latitude -50"):
        days.check_seasons(_year(range(6, 9)), -50.0, "book.csv")


@given(text=st.text(max_size=200))
def test_any_text_is_taken_or_refused_in_our_own_words(text: str) -> None:
    told = "book.csv: "
    try:
        days.parse("date,low_c,high_c\n" + text, "book.csv")
    except WeatherError as error:
        told = str(error)
    assert told.startswith("book.csv")
