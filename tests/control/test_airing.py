"""Airing: when a zone asks for it, when it stops, and what may never happen."""

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from greenkeeper import moisture
from greenkeeper.control import Plan, fresh, make_plan, step
from greenkeeper.control.airing import let_out_wh
from greenkeeper.model import Ask, Fault, HumidityReading, Now, Override, Reading, Tick
from tests.control.houses import ONE_ZONE, START, decided, settings, zone

HYGROMETERS = {
    "bench-damp": {"kind": "scripted", "file": "x", "beside": "bench-left"},
    "outdoor-damp": {"kind": "scripted", "file": "x", "beside": "outdoors"},
}
SITE = {"name": "fern-corner", "outdoor_probe": "outdoors", "outdoor_hygrometer": "outdoor-damp"}
HATCH = {"hatch": {"open": "up", "close": "down", "run_s": 30.0}}
VENT_OUTPUTS = {
    **ONE_ZONE["outputs"],
    "up": {"kind": "modelled", "drives": "vent-open"},
    "down": {"kind": "modelled", "drives": "vent-close"},
}
# The plants want 4 °C; heat goes off at 5.5 °C, so that airing ends below 6.5 °C.
BASE_C = 6.5


def plan(
    *, output: str = "fan", cool: Any = ONE_ZONE["zones"]["bench"]["cool"], **air: Any
) -> Plan:
    return make_plan(
        settings(
            site=SITE,
            hygrometers=HYGROMETERS,
            outputs=VENT_OUTPUTS,
            vents=HATCH,
            zones=zone(hygrometer="bench-damp", cool=cool, air={"output": output, **air}),
        )
    )


class Shed:
    def __init__(self, made: Plan | None = None) -> None:
        self.plan = made or plan()
        self.now = START
        self.memory = fresh(self.plan, START)
        self.ticks: list[Tick] = []

    def tick(
        self,
        temp_c: float | Fault = 10.0,
        rh_pct: float | Fault | None = 92.0,
        outdoor_c: float | Fault = 8.0,
        outdoor_pct: float | Fault | None = 70.0,
        after_s: float = 10.0,
    ) -> Tick:
        now = self.now
        self.now = Now(now.mono_s + after_s, now.utc_s + after_s, now.clock_trusted)
        temps = {"bench-left": temp_c, "bench-right": temp_c, "outdoors": outdoor_c}
        damps = {"bench-damp": rh_pct, "outdoor-damp": outdoor_pct}
        at_s = self.now.mono_s
        tick = step(
            {
                name: Reading(at_s, None, each) if isinstance(each, Fault) else Reading(at_s, each)
                for name, each in temps.items()
            },
            self.memory,
            self.plan,
            self.now,
            humidity={
                name: HumidityReading(at_s, None, each)
                if isinstance(each, Fault)
                else HumidityReading(at_s, each)
                for name, each in damps.items()
                if each is not None
            },
        )
        self.memory = tick.memory
        self.ticks.append(tick)
        return tick

    def stays(self, for_s: float, **state: Any) -> Tick:
        for _ in range(int(for_s / 10.0)):
            tick = self.tick(**state)
        return tick

    def airs(self) -> bool:
        return self.memory.airing["bench"].asking

    def on(self, output: str) -> bool:
        return self.memory.outputs[output].on

    def why(self) -> str:
        return self.memory.airing["bench"].reason


def test_a_damp_zone_is_aired_with_air_that_carries_less_water_and_says_why() -> None:
    shed = Shed()
    shed.stays(120.0)
    drier = moisture.water_g_m3(10.0, 92.0) - moisture.water_g_m3(8.0, 70.0)
    assert shed.on("fan")
    assert shed.why() == f"airing: 92 % at bench-damp, outdoors is {drier:.1f} g/m³ drier"
    assert shed.memory.outputs["fan"].reason == shed.why()


@pytest.mark.parametrize(
    ("state", "why"),
    [
        ({"rh_pct": 84.0}, "84 % is dry enough, from 85 % on"),
        ({"rh_pct": Fault.MISSING}, "no trusted humidity and temperature at bench-damp"),
        ({"outdoor_c": Fault.MISSING}, "no trusted outdoor probe"),
        ({"temp_c": 7.4}, "bench-left is below 7.5 °C"),
        ({"temp_c": 4.9}, "heat is wanted"),
        ({"outdoor_c": 3.9}, "outdoors 3.9 °C is below 4.0 °C"),
        (
            {"outdoor_pct": 100.0, "outdoor_c": 10.0},
            "outdoors carries 9.4 g/m³ of water, inside 8.6",
        ),
        (
            {"outdoor_pct": Fault.MISSING, "outdoor_c": 9.9},
            "outdoors may carry 9.3 g/m³ of water, inside 8.6",
        ),
    ],
)
def test_it_is_not_aired_and_says_why_not(state: dict[str, Any], why: str) -> None:
    shed = Shed()
    shed.stays(120.0, **state)
    assert not shed.on("fan")
    assert shed.why() == f"no airing: {why}"


def test_without_an_outdoor_hygrometer_cold_enough_air_is_drier_for_certain() -> None:
    shed = Shed()
    shed.stays(120.0, outdoor_c=6.0, outdoor_pct=None)
    assert shed.on("fan")
    assert "at least 1.4 g/m³ drier" in shed.why()


def test_it_ends_once_the_air_is_dry_and_not_at_the_first_percent() -> None:
    shed = Shed()
    shed.stays(120.0)
    shed.stays(60.0, rh_pct=81.0)
    assert shed.on("fan")
    shed.stays(60.0, rh_pct=79.0)
    assert not shed.on("fan")


def test_it_ends_before_heat_would_come_on_and_heat_then_finds_no_fan() -> None:
    shed = Shed()
    shed.stays(120.0)
    shed.stays(30.0, temp_c=BASE_C)
    assert shed.on("fan")
    shed.stays(60.0, temp_c=BASE_C - 0.1)
    assert not shed.on("fan")
    shed.stays(120.0, temp_c=4.9)
    assert shed.on("heater")


def test_one_bout_has_its_end_and_the_next_one_waits() -> None:
    shed = Shed()
    starts = [
        tick.now.mono_s
        for before, tick in _pairs(shed, 3 * 3600.0)
        if tick.memory.airing["bench"].asking and not before.memory.airing["bench"].asking
    ]
    gaps_s = [later - earlier for earlier, later in pairwise(starts)]
    assert gaps_s
    assert all(gap_s == pytest.approx(900.0 + 1800.0, abs=20.0) for gap_s in gaps_s)


def _pairs(shed: Shed, for_s: float) -> list[tuple[Tick, Tick]]:
    shed.stays(for_s)
    return list(pairwise(shed.ticks))


def test_a_bout_is_told_with_its_course_and_the_heat_it_let_out() -> None:
    """250 W/K (house.fan_w_per_k) over 2 K for as long as the fan ran."""
    shed = Shed()
    shed.stays(120.0)
    shed.stays(240.0)
    tick = shed.stays(40.0, rh_pct=78.0)
    (told,) = [event for each in shed.ticks for event in each.events if event.code == "aired"]
    ran_s = sum(10.0 for each in shed.ticks if each.memory.outputs["fan"].on)
    assert "from 92 % to 78 %" in told.text
    assert "an estimate" in told.text
    expected_wh = 250.0 * 2.0 * ran_s / 3600.0
    assert let_out_wh(tick.memory.airing["bench"]) == pytest.approx(expected_wh, rel=0.2)


def test_a_zone_that_goes_blind_is_not_aired() -> None:
    shed = Shed()
    shed.stays(120.0)
    shed.stays(100.0, temp_c=Fault.MISSING)
    assert not shed.on("fan")
    assert shed.why() == "no trusted probe in bench"


def test_a_hatch_that_only_airs_closes_when_the_zone_goes_blind() -> None:
    shed = Shed(plan(output="hatch"))
    shed.stays(240.0)
    assert shed.memory.vents["hatch"].place.value == "open"
    shed.stays(200.0, temp_c=Fault.MISSING)
    assert shed.memory.vents["hatch"].place.value == "closed"


def test_a_roof_that_cools_as_well_stands_when_the_zone_goes_blind() -> None:
    cool = {"output": "hatch", "setpoint_c": 26.0}
    shed = Shed(plan(output="hatch", cool=cool))
    shed.stays(240.0)
    shed.stays(200.0, temp_c=Fault.MISSING)
    assert shed.memory.vents["hatch"].place.value == "open"


def test_a_hatch_closes_when_the_hygrometer_is_lost_and_before_heat_comes_on() -> None:
    shed = Shed(plan(output="hatch"))
    shed.stays(240.0)
    shed.stays(200.0, rh_pct=Fault.MISSING)
    assert shed.memory.vents["hatch"].place.value == "closed"
    shed.stays(1800.0, rh_pct=70.0)
    shed.stays(240.0)
    assert shed.memory.vents["hatch"].place.value == "open"
    for _ in range(60):
        tick = shed.tick(temp_c=4.9)
        assert not shed.on("heater") or tick.memory.vents["hatch"].place.value == "closed"
    assert shed.on("heater")


def test_where_nobody_measures_damp_no_hygrometer_is_missed_and_nothing_is_aired() -> None:
    """A modelled house, which has no damp: `humidity` is not given at all."""
    made = plan()
    now, memory = START, fresh(made, START)
    for _ in range(60):
        now = Now(now.mono_s + 10.0, now.utc_s + 10.0, True)
        readings = {name: Reading(now.mono_s, 10.0) for name in made.probes}
        tick = decided(readings, memory, made, now)
        memory = tick.memory
        assert not [event for event in tick.events if event.subject.endswith("-damp")]
    assert not memory.alarms
    assert not memory.outputs["fan"].on
    assert memory.calm is not None  # it costs a rehearsal nothing


def ordered(shed: Shed, ask: Ask, setpoint_c: float | None = None) -> None:
    """Somebody ordered it over the broker, and it holds for hours."""
    override = Override("bench", ask, setpoint_c, START.mono_s + 1e4, START.utc_s + 1e4)
    shed.memory = shed.memory._replace(overrides={("bench", ask): override})


def test_an_ordered_setpoint_moves_the_point_where_it_ends() -> None:
    shed = Shed()
    shed.stays(120.0)
    assert shed.on("fan")
    ordered(shed, Ask.SETPOINT, 9.0)
    shed.stays(60.0)
    assert shed.why() == "no airing: bench-left is below 11.5 °C"
    assert not shed.on("fan")


def test_a_zone_that_is_switched_off_is_not_aired() -> None:
    shed = Shed()
    ordered(shed, Ask.OFF)
    shed.stays(120.0)
    assert not shed.on("fan")
    assert shed.why() == "no airing: bench is switched off"


STATES = st.fixed_dictionaries(
    {
        "temp_c": st.one_of(st.floats(3.0, 30.0), st.sampled_from([4.9, 6.4, 6.6, 7.4, 7.6])),
        "rh_pct": st.one_of(st.floats(40.0, 105.0), st.sampled_from(list(Fault)), st.none()),
        "outdoor_c": st.one_of(st.floats(-15.0, 25.0), st.just(Fault.MISSING)),
        "outdoor_pct": st.one_of(st.floats(10.0, 105.0), st.none()),
    }
)


@hypothesis_settings(max_examples=100, deadline=None)
@given(
    st.sampled_from(["fan", "hatch"]),
    st.lists(st.tuples(STATES, st.integers(1, 40), st.sampled_from([10.0, 10.0, 40.0, 4000.0]))),
)
def test_no_course_whatever_airs_a_zone_that_should_not_be(
    output: str, course: list[tuple[dict[str, Any], int, float]]
) -> None:
    shed = Shed(plan(output=output))
    air = shed.plan.zones[0].air
    assert air is not None
    asked_since_s: float | None = None
    ended_s: float | None = None
    for state, ticks, first_s in course:
        for number in range(ticks):
            tick = shed.tick(**state, after_s=first_s if number == 0 else 10.0)
            memory, (view,) = tick.memory.airing["bench"], tick.zones
            now_s = tick.now.mono_s
            assert memory.reason
            assert len(memory.hours) <= 24
            assert all(wh >= 0.0 for _, wh in memory.hours)
            if not memory.asking:
                if asked_since_s is not None:
                    asked_since_s, ended_s = None, now_s
                continue
            if asked_since_s is None:
                asked_since_s = now_s
                assert ended_s is None or now_s - ended_s >= air.rest_s
            assert now_s - asked_since_s < air.for_s
            outdoors = tick.verdicts["outdoors"]
            inside = tick.humidity["bench-damp"]
            assert view.coldest_c is not None and view.coldest_c >= BASE_C  # noqa: PT018
            assert outdoors.temp_c >= 3.5  # type: ignore[union-attr] # bad ones have none
            assert inside.rh_pct > air.off_pct  # type: ignore[union-attr]
            assert not any(wish.on for wish in view.wishes if wish.mode.value == "heat")
