"""How figures look to whoever reads: their unit of temperature, their numbers, their dates.

Lives here: the one place where °C becomes °F and 4.5 becomes 4,5, for figures and for
finished sentences alike. Sentences are written once (control's reasons, advice, the
journal's texts), in °C, with a point, and are kept so; of what a reader prefers nothing
upstream knows. Does not live here: any sentence. Numbers and dates of languages are those
of the Unicode CLDR, by the library babel.
"""

import re
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from babel import Locale, UnknownLocaleError, dates, numbers

from greenkeeper.errors import GreenkeeperError
from greenkeeper.reports.night import Span, is_of_years
from greenkeeper.reports.words import NOTHING

_NO_BREAK = "\N{NO-BREAK SPACE}"
_MINUS = "\N{MINUS SIGN}"
F_PER_K = 9.0 / 5.0

# A number with what it counts. "W/K" and "K/h" are none of these: there K is not the unit.
_MEASURE = re.compile(
    r"(?P<number>[−+]?\d+(?:\.\d+)?)[ \N{NO-BREAK SPACE}]"
    r"(?P<unit>°C|K·h|K(?![\w/·])|(?=[^\W\d_]|%))"
)


class Figures:
    """One reader's way of writing. Immutable."""

    def __init__(self, *, units: str, language: str, timezone: str) -> None:
        """language: as in RFC 5646, "de-AT". Raises GreenkeeperError for one unknown."""
        try:
            self._locale = Locale.parse(language, sep="-")
        except (UnknownLocaleError, ValueError) as error:
            raise GreenkeeperError(
                f"page.language: nothing is known of '{language}'; write a language and a "
                "country, such as en-GB or de-AT"
            ) from error
        self._fahrenheit = units == "fahrenheit"
        self._zone = ZoneInfo(timezone)
        self.zone = self._zone
        self.degree = "°F" if self._fahrenheit else "°C"

    # --- temperatures and numbers --------------------------------------------------------

    def degrees(self, temp_c: float) -> float:
        """A temperature as a number of the reader's degrees."""
        return temp_c * F_PER_K + 32.0 if self._fahrenheit else temp_c

    def celsius(self, degrees: float) -> float:
        """The way back."""
        return (degrees - 32.0) / F_PER_K if self._fahrenheit else degrees

    def temperature(self, temp_c: float | None, digits: int = 1) -> str:
        if temp_c is None:
            return NOTHING
        return f"{self.number(self.degrees(temp_c), digits)}{_NO_BREAK}{self.degree}"

    def difference(self, kelvin: float, *, signed: bool = False) -> str:
        size = kelvin * F_PER_K if self._fahrenheit else kelvin
        unit = "°F" if self._fahrenheit else "K"
        plus = "+" if signed and round(size, 1) > 0.0 else ""
        return f"{plus}{self.number(size, 1)}{_NO_BREAK}{unit}"

    def number(self, value: float | None, digits: int = 0) -> str:
        if value is None:
            return NOTHING
        size = round(abs(value), digits)
        pattern = "#,##0" + ("." + "0" * digits if digits else "")
        shown = numbers.format_decimal(size, format=pattern, locale=self._locale)
        return f"{_MINUS}{shown}" if value < 0.0 and size > 0.0 else shown

    # --- moments -------------------------------------------------------------------------

    def time(self, utc_s: float) -> str:
        """Of the day: 21:40."""
        return dates.format_time(self._local(utc_s), "short", locale=self._locale)

    def moment(self, utc_s: float) -> str:
        """Wed 25 Nov, 21:40."""
        return f"{self.day_of(utc_s)}, {self.time(utc_s)}"

    def moment_in(self, span: Span, utc_s: float) -> str:
        """The same, with its year where the span asks for one."""
        if not is_of_years(*span):
            return self.moment(utc_s)
        day = self._local(utc_s).date()
        when = dates.format_skeleton("yMMMEd", day, locale=self._locale)
        return f"{when}, {self.time(utc_s)}"

    def since(self, utc_s: float, now_utc_s: float) -> str:
        """A time of the day, with its day where that was not within the last hours."""
        return self.time(utc_s) if 0.0 <= now_utc_s - utc_s < 20 * 3600.0 else self.moment(utc_s)

    def day(self, day: date) -> str:
        """Wed 25 Nov."""
        return dates.format_skeleton("EdMMM", day, locale=self._locale)

    def day_of(self, utc_s: float) -> str:
        """Wed 25 Nov."""
        return self.day(self._local(utc_s).date())

    def short_day(self, day: date) -> str:
        """Wed 25."""
        return dates.format_skeleton("Ed", day, locale=self._locale)

    def whole_day(self, day: date) -> str:
        """25 Nov 2026."""
        return dates.format_skeleton("yMMMd", day, locale=self._locale)

    def month(self, day: date) -> str:
        """Nov, or Nov 2026 in January."""
        return dates.format_skeleton("yMMM" if day.month == 1 else "MMM", day, locale=self._locale)

    def month_name(self, month: int) -> str:
        """January is 1."""
        name: str = dates.get_month_names("abbreviated", locale=self._locale)[month]
        return name

    def _local(self, utc_s: float) -> datetime:
        return datetime.fromtimestamp(utc_s, UTC).astimezone(self._zone)

    # --- finished sentences --------------------------------------------------------------

    def text(self, sentence: str) -> str:
        """The sentence with its measures as this reader writes them."""
        return _MEASURE.sub(self._measure, sentence)

    def _measure(self, found: re.Match[str]) -> str:
        number, unit = found["number"], found["unit"]
        digits = len(number.partition(".")[2])
        value = float(number.replace(_MINUS, "-"))
        plus = "+" if number.startswith("+") else ""
        if self._fahrenheit and unit:
            value = self.degrees(value) if unit == "°C" else value * F_PER_K
            unit = unit.replace("°C", "°F").replace("K", "°F")
        if not digits and not unit:
            return found[0]  # a count, or a date's number: nothing to write differently
        return f"{plus}{self.number(value, digits)}{_NO_BREAK}{unit}"
