"""Wet leaves: when they are told, when that ends, and what is not held against anybody."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper import moisture
from greenkeeper.control import make_plan
from greenkeeper.control.wetness import CONDENSATION, MOULD, follow, wet_s
from greenkeeper.model import Bad, Damp, DampVerdict, Fault, Now, WetnessMemory, ZoneView
from tests.control.houses import settings, zone

PLAN = make_plan(
    settings(
        hygrometers={"damp": {"kind": "scripted", "file": "x", "beside": "bench-left"}},
        zones=zone(hygrometer="damp"),
    )
)
HOUR_S = 3600.0


def air(temp_c: float, rh_pct: float) -> Damp:
    return Damp(
        rh_pct,
        0.0,
        temp_c,
        moisture.dew_point_c(temp_c, rh_pct),
        moisture.water_g_m3(temp_c, rh_pct),
    )


class Bench:
    def __init__(self) -> None:
        self.now_s = 1000.0
        self.memory: dict[str, WetnessMemory] = {}

    def look(
        self, damp: DampVerdict, temp_c: float | None = 8.0, after_s: float = 60.0
    ) -> set[str]:
        self.now_s += after_s
        view = ZoneView("bench", temp_c, "bench-left", temp_c, "bench-left", "day", None, None, ())
        wet = follow(PLAN, {"damp": damp}, (view,), self.memory, Now(self.now_s, self.now_s, True))
        self.memory = dict(wet.memory)
        return {condition.code for condition in wet.conditions}

    def stays(self, temp_c: float, rh_pct: float, for_s: float) -> set[str]:
        told: set[str] = set()
        for _ in range(int(for_s / 60.0)):
            told = self.look(air(temp_c, rh_pct), temp_c)
        return told

    @property
    def wet_h(self) -> float:
        return wet_s(self.memory["bench"]) / HOUR_S


def test_leaves_get_wet_where_the_dew_point_reaches_them_and_dry_a_kelvin_later() -> None:
    """Dew points of 8 °C air: 90 % 6.46 °C, 91 % 6.62 °C, 83 % 5.29 °C, 85 % 5.63 °C."""
    bench = Bench()
    assert CONDENSATION not in bench.look(air(8.0, 90.0))  # leaves at 6.5 °C
    assert CONDENSATION in bench.look(air(8.0, 91.0))
    assert CONDENSATION in bench.look(air(8.0, 85.0))
    assert CONDENSATION not in bench.look(air(8.0, 83.0))
    assert CONDENSATION not in bench.look(air(8.0, 90.0))


def test_a_colder_corner_gets_wet_sooner() -> None:
    assert CONDENSATION in Bench().look(air(8.0, 80.0), 6.0)


def test_six_wet_hours_within_a_day_are_a_warning_and_fewer_are_none() -> None:
    bench = Bench()
    assert MOULD not in bench.stays(8.0, 95.0, 3 * HOUR_S)
    assert MOULD not in bench.stays(8.0, 60.0, 8 * HOUR_S)
    assert MOULD not in bench.stays(8.0, 95.0, 2.9 * HOUR_S)
    assert bench.wet_h == pytest.approx(5.9, abs=0.1)
    assert MOULD in bench.stays(8.0, 95.0, 0.3 * HOUR_S)


def test_the_warning_ends_when_most_of_the_wet_hours_are_a_day_old() -> None:
    bench = Bench()
    assert MOULD in bench.stays(8.0, 95.0, 7 * HOUR_S)
    assert MOULD in bench.stays(8.0, 50.0, 18 * HOUR_S)
    assert MOULD not in bench.stays(8.0, 50.0, 4 * HOUR_S)


def test_dry_hours_and_cold_hours_do_not_count() -> None:
    bench = Bench()
    assert MOULD not in bench.stays(8.0, 80.0, 30 * HOUR_S)
    assert MOULD not in bench.stays(4.0, 98.0, 30 * HOUR_S)


def test_what_nobody_measured_is_not_counted_and_not_told() -> None:
    bench = Bench()
    bench.stays(8.0, 95.0, 1 * HOUR_S)
    before_h = bench.wet_h
    for _ in range(600):
        assert bench.look(Bad(Fault.MISSING, "")) == set()
    bench.look(air(8.0, 95.0), after_s=10 * HOUR_S)
    assert bench.wet_h == pytest.approx(before_h, abs=0.01)


def test_a_zone_that_cannot_see_is_told_nothing_of_its_damp() -> None:
    assert Bench().look(air(8.0, 99.0), None) == set()


def test_without_a_dew_point_only_humidity_counts() -> None:
    bench = Bench()
    for _ in range(7 * 60):
        told = bench.look(Damp(95.0, 0.0))
    assert told == {MOULD}


@given(
    st.lists(
        st.tuples(
            st.none() | st.floats(5.0, 100.0),
            st.none() | st.floats(-20.0, 40.0),
            st.floats(0.1, 50_000.0),
        ),
        max_size=80,
    )
)
def test_the_count_is_bounded_whatever_happens(
    course: list[tuple[float | None, float | None, float]],
) -> None:
    bench = Bench()
    for rh_pct, temp_c, after_s in course:
        damp: DampVerdict = Bad(Fault.MISSING, "")
        if rh_pct is not None:
            damp = Damp(rh_pct, 0.0) if temp_c is None else air(temp_c, rh_pct)
        bench.look(damp, temp_c, after_s)
        memory = bench.memory["bench"]
        assert len(memory.hours) <= 24
        assert 0.0 <= wet_s(memory) <= 24 * HOUR_S
        assert all(0.0 <= seconds <= HOUR_S + 300.0 for _, seconds in memory.hours)
