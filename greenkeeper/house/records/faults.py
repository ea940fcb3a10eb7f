"""What can be wrong with a weather file, and where.

Lives here: the one error of this room, and reading one number out of one cell. Does not
live here: formats, and whether a whole year makes sense (plausible.py).
"""

import math
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError

_SHOWN = 40


class WeatherError(GreenkeeperError):
    """The file cannot be used. Nothing of it is."""

    def __init__(
        self, file: str, found: str, allowed: str, *, line: int = 0, cell: str = "", hint: str = ""
    ) -> None:
        """cell: which column, in words. hint: what to do about it."""
        place = f":{line}" if line else ""
        where = f"  {cell}:" if cell else ":"
        more = f"\n    {hint}" if hint else ""
        super().__init__(f"{file}{place}{where} found {found}; allowed {allowed}{more}")


class Quantity(NamedTuple):
    """What a column holds, what it may hold, and what a value beyond that usually means."""

    name: str
    lowest: float
    highest: float
    unit: str
    hint: str

    @property
    def allowed(self) -> str:
        return f"{self.lowest:g} to {self.highest:g} {self.unit}"


# Records of the earth: -89.2 and +56.7 °C, gusts of 113 m/s (WMO archive of extremes); an
# hour's mean wind and sun stay far below. Night sensors say a little less than nothing.
OUTDOOR = Quantity(
    "outdoor_c", -75.0, 60.0, "°C", "Is it in °F, kelvin or tenths? It must be in °C."
)
DEW_POINT = Quantity("dew_point_c", -90.0, 40.0, "°C", OUTDOOR.hint)
SUN = Quantity(
    "sun_w_m2", -15.0, 1500.0, "W/m²", "Is it kJ/m² or J/cm² in an hour? It must be a mean in W/m²."
)
DIRECT = SUN._replace(name="direct_w_m2")
DIFFUSE = SUN._replace(name="diffuse_w_m2")
WIND = Quantity("wind_m_s", 0.0, 75.0, "m/s", "Is it in km/h or knots? It must be in m/s.")
SKY = Quantity("sky_w_m2", 50.0, 700.0, "W/m²", SUN.hint)
CLOUD = Quantity("cloud_tenths", 0.0, 10.0, "tenths", "Is it in percent or eighths?")


def number(text: str, quantity: Quantity, file: str, line: int, cell: str) -> float:
    """The number in a cell. Raises WeatherError for anything but one in its range."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if quantity.lowest <= value <= quantity.highest:  # so that NaN fails too
        return value
    hint = quantity.hint if math.isfinite(value) else "Each row wants one: nothing is guessed."
    raise WeatherError(file, shown(text), quantity.allowed, line=line, cell=cell, hint=hint)


def shown(text: str) -> str:
    """Text from a file, so that every character of it can be seen, and not too much of it."""
    if not text.strip():
        return "nothing"
    seen = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text[: _SHOWN + 1])
    return f"'{seen}'" if len(text) <= _SHOWN else f"'{seen[:_SHOWN]}…'"
