"""What to do about the coming night: one sentence, with a deadline.

Lives here: which sentence. Does not live here: the figures (ahead.py), and layout
(reports/outlook_sheet.py). Nothing here is worked out but comparisons, so that the advice
can be held against the figures beside it.
"""

from collections.abc import Callable
from typing import NamedTuple

from greenkeeper.outlook.ahead import Night
from greenkeeper.units import shown_c

LEAST_KWH = 0.05  # less is no heat at all
NEAR_K = 1.0  # so close above the minimum, a wrong degree is a dead plant
# Covers that save less of the night's energy are not worth a walk; nor are those that save less
# than this, whatever share it is.
_WORTH_SHARE, _WORTH_KWH = 0.1, 0.2


class Ways(NamedTuple):
    """The same night in several houses. None: there is no heater, or there are no covers."""

    cold: Night  # without heat
    kept: Night | None  # with it
    covered_cold: Night | None  # without heat, under the covers
    covered_kept: Night | None
    harsh: Night  # as it stands (kept, else cold), in the coldest night in ten

    @property
    def stands(self) -> Night:
        return self.kept or self.cold

    def ordered(self) -> "Ways":
        """A held night's low is where a step of the reckoning left the air when the heater began:
        a few hundredths either way, by which the coldest in ten must not come out warmer."""
        low_c = min(self.harsh.low_c, self.stands.low_c)
        return self._replace(harsh=self.harsh._replace(low_c=low_c))


class Limits(NamedTuple):
    minimum_c: float  # of the tenderest plant, or the heat setpoint where none is named
    tenderest: str  # its name; "" where none is named
    covers: str  # their names, for people; "" without

    @property
    def wants(self) -> str:
        if not self.tenderest:
            return f"the heat setpoint is {shown_c(self.minimum_c)}"
        return f"{self.tenderest} must have {shown_c(self.minimum_c)}"


class Advice(NamedTuple):
    text: str
    # What this is: nothing to do, something that saves, something that must be done.
    grave: bool  # plants will fall below their minimum whatever the heater does


def advise(
    ways: Ways,
    limits: Limits,
    deadline: str,
    moment: Callable[[float], str],
    currency: str = "",
) -> Advice:
    """deadline: until when covers can be laid, in words. moment: a time, in words."""
    stands = ways.stands
    covered = ways.covered_kept or ways.covered_cold
    if stands.low_c < limits.minimum_c:
        falls = f"{_low(stands)} by {moment(stands.low_utc_s)}, and {limits.wants}"
        with_heat = "even with the heater on all night " if ways.kept is not None else ""
        if covered is not None and covered.low_c >= limits.minimum_c:
            text = f"Lay {limits.covers} {deadline}: without, {with_heat}it falls to {falls}."
            return Advice(f"{text} With, {_low(covered)}.", grave=False)
        more = f" {_capital(limits.covers)} alone will not do." if covered is not None else ""
        return Advice(
            f"Plants will be too cold: {with_heat}it falls to {falls}. Carry in the tenderest, "
            f"or bring more heat, {deadline}.{more}",
            grave=True,
        )
    if ways.harsh.low_c < limits.minimum_c:
        text = f"It should do, but one night in ten would fall to {_low(ways.harsh)}"
        text += f", and {limits.wants}."
        if covered is not None:
            text += f" Lay {limits.covers} {deadline} to be sure."
        return Advice(text, grave=False)
    if ways.kept is None:
        near = stands.low_c < limits.minimum_c + NEAR_K
        return Advice(
            f"Nothing to do: it falls to {_low(stands)} by {moment(stands.low_utc_s)}"
            + (", and that is close." if near else "."),
            grave=False,
        )
    if ways.kept.kwh < LEAST_KWH:
        return Advice(
            f"Nothing to do: its heater is not needed, it stays at {_low(ways.cold)} or above.",
            grave=False,
        )
    if ways.covered_kept is not None and _is_worth_it(ways.kept, ways.covered_kept):
        return Advice(
            f"The heater will do. Lay {limits.covers} {deadline} to save "
            f"{_saved(ways.kept, ways.covered_kept, currency)}.",
            grave=False,
        )
    return Advice(
        f"Nothing to do: the heater keeps it, with about {ways.kept.kwh:.1f} kWh.", grave=False
    )


def _is_worth_it(bare: Night, covered: Night) -> bool:
    return bare.kwh - covered.kwh > max(_WORTH_KWH, _WORTH_SHARE * bare.kwh)


def _saved(bare: Night, covered: Night, currency: str) -> str:
    told = f"{bare.kwh - covered.kwh:.1f} of {bare.kwh:.1f} kWh"
    if bare.cost is None or covered.cost is None:
        return told
    return f"{told} ({bare.cost - covered.cost:.2f} {currency})"


def _low(night: Night) -> str:
    return shown_c(night.low_c)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
