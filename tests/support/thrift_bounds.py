"""The least that a relay can do in a drawn house, whoever switches it.

Lives here: two bounds, each as energy by the ideal heater's. Does not live here: what the
project's own ways to meter heat take (thrift_trials.py), the table
(tests/bench/bench_thrift.py).

`least_over_ideal` knows the hour's need beforehand and repeats equal pulses: no relay can do
better. `least_unforeseen` knows everything about this moment, exactly, and nothing of the
next: what is between the two is the price of gusts and clouds that nobody foresees, and what
a keeper takes beyond it is the price of a lagging probe and of figures that are not exact.
"""

import math
from collections.abc import Sequence

from greenkeeper.control import observer, proportion
from greenkeeper.control.observer import Figures
from greenkeeper.control.purse import LONGEST_PULSE_S
from greenkeeper.house.model import follow, inputs_of
from greenkeeper.house.simulated import SimulatedHouse, weights_in
from greenkeeper.house.wind import loss_share
from greenkeeper.model import Behind, Now
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.run import Span
from tests.support import thrift_trials
from tests.support.thrift_trials import House


def least_over_ideal(
    tried: House, best: Sequence[Result], *, least_s: float, closings: float = math.inf
) -> float:
    """Energy by the ideal's of a switch that knows everything, and only has to be on or off.

    In every hour it repeats one pulse and one pause, each of least_s or more, about the mean
    heat of the ideal, and the dips between them just touch the minimum: so the air's mean is
    above it by the depth of the dip. closings: as many in 120 days at most; it then chooses
    its periods as is cheapest, which is longer where pulse and pause are most unequal.
    Element and air are two lags in a row; the mass stands still meanwhile.
    """
    p = tried.truth
    per_k = p.loss_w_per_k + p.mass_w_per_k
    full_kwh = tried.heater_w / 1000.0
    hours_of = [hour for each in best for hour in each.zones[0].hours]
    duties = [min(0.99, hour.heat_kwh / full_kwh) for hour in hours_of]
    counts: dict[float, int] = {}
    for duty in duties:
        if duty > 0.01:
            step = max(0.02, round(duty * 20.0) / 20.0)
            counts[step] = counts.get(step, 0) + 1
    gain_k, fast_s = tried.heater_w / per_k, p.air_j_per_k / per_k

    def sums(scale_s: float) -> tuple[float, float]:
        switched, more_kwh = 0.0, 0.0
        for duty, hours in counts.items():
            uneven = math.sqrt(duty * (1.0 - duty))
            period_s = max(scale_s / uneven, least_s / min(duty, 1.0 - duty))
            switched += hours * 3600.0 / period_s
            dip_k = gain_k * dip(duty, period_s, p.element_lag_s, fast_s)
            more_kwh += hours * p.loss_w_per_k * dip_k / 1000.0
        return switched * thrift_trials.WINTER_DAYS * 24.0 / len(duties), more_kwh

    low_s, high_s = 1.0, 20_000.0
    if sums(low_s)[0] <= closings:
        high_s = low_s
    for _ in range(30):
        middle_s = math.sqrt(low_s * high_s)
        low_s, high_s = (middle_s, high_s) if sums(middle_s)[0] > closings else (low_s, middle_s)
    return 1.0 + sums(high_s)[1] / sum(each.kwh for each in best)


def dip(duty: float, period_s: float, element_s: float, fast_s: float) -> float:
    """Mean less lowest of the air, for a gain of 1, in endless equal pulses."""
    if abs(element_s - fast_s) < 1.0:
        element_s += 1.0
    waves = [
        (fast_s * air - element_s * element) / (fast_s - element_s)
        for air, element in zip(
            _one_lag(duty, period_s, fast_s), _one_lag(duty, period_s, element_s), strict=True
        )
    ]
    return duty - min(waves)


def _one_lag(duty: float, period_s: float, lag_s: float) -> Sequence[float]:
    on_s = duty * period_s
    begins = (math.exp(-(period_s - on_s) / lag_s) - math.exp(-period_s / lag_s)) / (
        1.0 - math.exp(-period_s / lag_s)
    )
    peak = 1.0 - (1.0 - begins) * math.exp(-on_s / lag_s)
    moments = [period_s * at / 200.0 for at in range(200)]
    return [
        1.0 - (1.0 - begins) * math.exp(-at / lag_s)
        if at < on_s
        else peak * math.exp(-(at - on_s) / lag_s)
        for at in moments
    ]


# --- and the least without foresight -----------------------------------------------------

_LEAD_S = thrift_trials.DAY_S
_TICK_S = thrift_trials.POLL_S
_COOLED_C = 26.0  # as the drawn houses' fans are set
_TRIES = 9  # to within 2 % of the closings


def least_unforeseen(
    tried: House,
    spans: Sequence[Span],
    best: Sequence[Result],
    *,
    least_s: float,
    closings: float = math.inf,
) -> float:
    """Energy by the ideal's of a switch that knows this moment and no other.

    It sees air, element and what the air is drawn to without any lag or error, and knows the
    house's figures; its floor is the minimum, with no margin. Each pulse begins at the last
    moment and ends when a rest worth making dips no lower, as a keeper's does. closings: as many
    in 120 days at most, spent as evenly as if it had known the whole winter's need.
    """
    ideal_kwh = sum(each.kwh for each in best)
    days = sum(span.to_utc_s - span.from_utc_s for span in spans) / thrift_trials.DAY_S
    allowed = closings * days / thrift_trials.WINTER_DAYS
    low_s, high_s = 1.0, 4.0 * LONGEST_PULSE_S
    kwh, switched = _metered(tried, spans, least_s, low_s)
    if switched <= allowed:
        return kwh / ideal_kwh
    kwh = math.inf
    for _ in range(_TRIES):
        middle_s = math.sqrt(low_s * high_s)
        found_kwh, switched = _metered(tried, spans, least_s, middle_s)
        if switched > allowed:
            low_s = middle_s
        else:
            high_s, kwh = middle_s, min(kwh, found_kwh)
    return kwh / ideal_kwh


def _metered(
    tried: House, spans: Sequence[Span], least_s: float, scale_s: float
) -> tuple[float, int]:
    """What it draws and how often it closes in the spans, each after a day of lead."""
    kwh, switched = 0.0, 0
    for span in spans:
        began_utc_s = span.from_utc_s - _LEAD_S
        house = SimulatedHouse(tried.truth, tried.weather, Now(0.0, began_utc_s, True))
        switch = _Switch(tried, house, least_s, scale_s)
        switch.through(_LEAD_S)
        before_j, before = house.used_j, switch.closings
        switch.through(span.to_utc_s - span.from_utc_s)
        kwh += (house.used_j - before_j) / 3.6e6
        switched += switch.closings - before
    return kwh, switched


class _Switch:
    """One that knows its house as it is now."""

    def __init__(self, tried: House, house: SimulatedHouse, least_s: float, scale_s: float) -> None:
        p = tried.truth
        per_k = p.loss_w_per_k + p.mass_w_per_k
        self.closings = 0
        self._house, self._truth, self._power_w = house, p, tried.heater_w
        self._floor_c, self._least_s, self._scale_s = tried.minimum_c, least_s, scale_s
        self._figures = Figures(
            tried.heater_w / per_k, p.air_j_per_k / per_k, p.element_lag_s, p.probe_lag_s
        )
        self._now_s, self._since_s, self._on, self._fan = 0.0, -math.inf, False, False

    def through(self, for_s: float) -> None:
        for _ in range(round(for_s / _TICK_S)):
            self._house.advance_to_s(self._now_s)
            self._air()
            if (on := self._wants()) is not self._on:
                self._on, self._since_s = on, self._now_s
                self.closings += on
                self._house.set_heater(self._power_w if on else 0.0)
            self._now_s += _TICK_S
        self._house.advance_to_s(self._now_s)

    def _wants(self) -> bool:
        stood_s = self._now_s - self._since_s
        if stood_s < self._least_s:
            return self._on
        x = self._seen()
        share = proportion.duty(x.rest_c, self._floor_c, self._figures.gain_k)
        by_rest = math.sqrt(max(share, 0.01) / max(1.0 - share, 0.01))
        on_s, off_s = (
            max(self._least_s, min(LONGEST_PULSE_S, self._scale_s * by))
            for by in (by_rest, 1.0 / by_rest)
        )
        if self._on and stood_s < on_s:
            return True
        rest_s = max(self._least_s, min(on_s, off_s)) if self._on else _TICK_S
        return observer.lowest_c(self._figures, x, rest_s, self._floor_c) < self._floor_c

    def _seen(self) -> Behind:
        """The moment as it truly is. The air is drawn to where its fall, were the element cold,
        would take it if that went on as it begins."""
        state, around = self._house.state, self._house.surroundings
        cold = state._replace(element_w=0.0)
        step = weights_in(self._truth, loss_share(around.wind_m_s), 0.0, False, False, 1.0)
        fallen = follow(step, step.added(inputs_of(self._truth, around, 0.0)), cold)
        rest_c = state.air_c + (fallen.air_c - state.air_c) * self._figures.fast_s
        heat = state.element_w / self._power_w
        return Behind(heat, state.air_c, state.bench_c, rest_c, 1, self._now_s)

    def _air(self) -> None:
        air_c = self._house.state.air_c
        fan = air_c > (_COOLED_C - 1.5 if self._fan else _COOLED_C)
        if fan is not self._fan:
            self._fan = fan
            self._house.set_fan(on=fan)
