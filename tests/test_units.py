"""Temperatures as growers write them."""

import math

import pytest

from greenkeeper.units import difference_k, shown, shown_c, temperature_c


@pytest.mark.parametrize(
    ("text", "temp_c"),
    [(5, 5.0), (5.5, 5.5), ("5", 5.0), ("-2.5 °C", -2.5), ("41 °F", 5.0), ("41F", 5.0),
     ("32 F", 0.0), ("-40°F", -40.0), (" 7 C ", 7.0), ("+.5", 0.5)],
)  # fmt: skip
def test_a_temperature_may_carry_its_unit(text, temp_c):
    assert temperature_c(text) == pytest.approx(temp_c)


@pytest.mark.parametrize(
    ("text", "kelvin"), [(1, 1.0), ("0.5 K", 0.5), ("1.8 °F", 1.0), ("2 C", 2.0)]
)
def test_a_difference_has_no_zero_point(text, kelvin):
    assert difference_k(text) == pytest.approx(kelvin)


@pytest.mark.parametrize(
    "text", ["5,5", "", "warm", "5 K", "5 °", True, math.nan, math.inf, "1e400"]
)
def test_what_is_no_temperature_is_refused(text):
    with pytest.raises(ValueError, match="a temperature such as"):
        temperature_c(text)


@pytest.mark.parametrize(
    ("temp_c", "text"), [(5.04, "5.0 °C"), (-0.04, "0.0 °C"), (-4.25, "−4.2 °C"), (26.0, "26.0 °C")]
)
def test_people_read_one_decimal_and_a_true_minus(temp_c, text):
    assert shown_c(temp_c) == text


@pytest.mark.parametrize(
    ("value", "decimals", "signed", "text"),
    [
        (-1.25, 2, False, "\N{MINUS SIGN}1.25"),
        (-0.04, 1, False, "0.0"),
        (-0.04, 1, True, "+0.0"),
        (2.0, 0, True, "+2"),
        (-7.6, 0, True, "\N{MINUS SIGN}8"),
    ],
)
def test_a_number_has_a_true_minus_and_no_zero_below_zero(
    value: float, decimals: int, signed: bool, text: str
) -> None:
    assert shown(value, decimals, signed=signed) == text
