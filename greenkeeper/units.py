"""Temperatures as a grower writes them, turned into degrees Celsius and kelvin.

Lives here: parsing "5", "5 °C", "41 °F" and differences such as "0.5 K", and the
one way a number, a temperature and a humidity are written for people. Does not live here:
any rule about which temperatures are sensible; settings and judge have those.
"""

import math
import re

_NUMBER = r"(?P<number>[-+]?(?:\d+(?:\.\d*)?|\.\d+))"
_ABSOLUTE = re.compile(rf"^\s*{_NUMBER}\s*(?P<unit>°\s*[CF]|[CF])?\s*$")
_DIFFERENCE = re.compile(rf"^\s*{_NUMBER}\s*(?P<unit>°\s*[CF]|[CFK])?\s*$")

K_PER_F = 5.0 / 9.0


def temperature_c(text: str | float) -> float:
    """Degrees Celsius from a bare number (already °C) or a text with a unit.

    Raises ValueError for anything else, a decimal comma and NaN included.
    """
    number, unit = _split(text, _ABSOLUTE, "a temperature such as 5, '5 °C' or '41 °F'")
    return (number - 32.0) * K_PER_F if unit == "F" else number


def difference_k(text: str | float) -> float:
    """Kelvin from a bare number (already K) or a text such as '0.5 K' or '1 °F'.

    Raises ValueError for anything else.
    """
    number, unit = _split(text, _DIFFERENCE, "a difference such as 0.5, '0.5 K' or '1 °F'")
    return number * K_PER_F if unit == "F" else number


def _split(text: str | float, pattern: re.Pattern[str], wanted: str) -> tuple[float, str]:
    if isinstance(text, bool) or not isinstance(text, int | float | str):
        raise ValueError(f"expected {wanted}")  # whatever a settings file may hold there
    if isinstance(text, int | float):
        if not math.isfinite(text):
            raise ValueError(f"expected {wanted}")
        return float(text), ""
    match = pattern.match(text)
    if match is None:
        raise ValueError(f"expected {wanted}")
    unit = (match["unit"] or "").removeprefix("°").strip()
    return float(match["number"]), unit


def shown(value: float, decimals: int = 1, *, signed: bool = False) -> str:
    """A number for people: a true minus sign, and no zero below zero.

    signed: a plus before what is not below zero.
    """
    rounded = round(value, decimals) + 0.0  # which makes of a zero below zero a plain one
    text = f"{rounded:+.{decimals}f}" if signed else f"{rounded:.{decimals}f}"
    return text.replace("-", "\N{MINUS SIGN}")


def shown_c(temp_c: float) -> str:
    """A temperature for people: one decimal."""
    return f"{shown(temp_c)} °C"


def shown_pct(rh_pct: float) -> str:
    """A relative humidity for people: whole per cent, as no usual chip is better."""
    return f"{rh_pct:.0f} %"
