"""A tick taken apart."""

from typing import Any

import pytest

from greenkeeper.journal.gather import Gather, source_of
from greenkeeper.journal.rows import ClockStep, OutputMinute, ProbeMinute, Switching, ZoneChange
from greenkeeper.model import Event
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.sensors import KernelProbe, ModelledProbe, OnewireProbe, ScriptedProbe
from tests.journal import ticks
from tests.journal.ticks import after, at, tick, zone


@pytest.fixture
def gather() -> Gather:
    return Gather(ticks.settings())


def test_events_and_switchings_come_out_with_their_tick(gather: Gather) -> None:
    event = ticks.event(at(0))
    notes = gather.add(tick(at(0), {"bench": 4.9}, {"heater": True}, events=[event]))
    assert [type(note) for note in notes] == [Switching, Event]
    assert notes[1] == event


def test_minutes_name_what_measured_and_the_power_of_what_ran(gather: Gather) -> None:
    gather.add(tick(at(0), {"bench": 4.9}, {"heater": True}))
    probe, output = gather.take()
    assert isinstance(probe, ProbeMinute)
    assert isinstance(output, OutputMinute)
    assert (probe.source, output.power_w) == ("modelled bench", 1500.0)


@pytest.mark.parametrize(
    ("probe", "source"),
    [
        (
            OnewireProbe(kind="onewire", rom="28-0316a2795a01", offset_k=-0.2, stale_s=60.0),
            "onewire 28-0316a2795a01",
        ),
        (ScriptedProbe(kind="scripted", file="a night.csv"), "scripted a night.csv"),
        (ModelledProbe(kind="modelled", place="ridge"), "modelled ridge"),
        (KernelProbe(kind="kernel", chip="bme280", at="1-0076"), "kernel bme280 1-0076"),
    ],
)
def test_a_source_tells_one_probe_from_another_and_ignores_its_tuning(
    probe: Any, source: str
) -> None:
    assert source_of(probe) == source


def test_new_settings_hold_from_now_on_only(gather: Gather) -> None:
    gather.add(tick(at(0), {}, {"heater": True}))
    (old,) = gather.use(ticks.settings(outputs={"heater": 2000.0}))
    gather.add(tick(at(10), {}, {"heater": True}))
    (new,) = gather.take()
    assert isinstance(old, OutputMinute)
    assert isinstance(new, OutputMinute)
    assert (old.power_w, new.power_w) == (1500.0, 2000.0)
    assert new.switchings == 0  # it stayed on throughout


def test_a_name_the_settings_do_not_know_is_recorded_without_a_source(gather: Gather) -> None:
    gather.add(tick(at(0), {"stranger": 7.0}, {"lamp": False}))
    assert gather.take() == [
        ProbeMinute(int(at(0).utc_s), "stranger", "", 1, 7.0, 7.0, 7.0, 0),
        OutputMinute(int(at(0).utc_s), "lamp", None, 0.0, 0),
    ]


def test_a_zone_is_noted_at_the_start_and_whenever_it_changes(gather: Gather) -> None:
    views = [zone(), zone(), zone(wanted=True), zone(wanted=True), zone(setpoint_c=7.0)]
    noted = [gather.add(tick(at(10 * step), zones=[view])) for step, view in enumerate(views)]
    assert [len(notes) for notes in noted] == [1, 0, 1, 0, 1]
    assert noted[2] == [
        ZoneChange(
            utc_s=at(20).utc_s,
            mono_s=at(20).mono_s,
            zone="bench",
            period="night",
            heat_setpoint_c=5.0,
            cool_setpoint_c=None,
            min_c=4.0,
            max_c=30.0,
            heat_wanted=True,
            cool_wanted=None,
        )
    ]


def test_every_day_notes_each_zone_afresh(gather: Gather) -> None:
    """UTC midnight is 16 hours after the tests' beginning."""
    midnight = 16 * 3600
    noted = [gather.add(tick(at(midnight + s), zones=[zone()])) for s in (-20, -10, 0, 10)]
    assert [len(notes) for notes in noted] == [1, 0, 1, 0]


def test_a_changed_plant_limit_is_noted_although_the_setpoint_stays(gather: Gather) -> None:
    gather.add(tick(at(0), zones=[zone()]))
    other = ticks.settings().model_dump(by_alias=True)
    other["plants"] = [{"name": "lemon", "zone": "bench", "min_c": 6.0}]
    gather.use(Settings.model_validate(other))
    (change,) = gather.add(tick(at(10), zones=[zone()]))
    assert isinstance(change, ZoneChange)
    assert (change.min_c, change.max_c) == (6.0, None)


@pytest.mark.parametrize("step_s", [-3600.0, -2.1, 2.1, 86_400.0])
def test_a_clock_that_is_set_is_noted_with_before_and_after(gather: Gather, step_s: float) -> None:
    first = at(0)
    gather.add(tick(first))
    (note,) = gather.add(tick(after(first, 10.0, civil_s=10.0 + step_s)))
    assert note == ClockStep(at(10).mono_s, at(10).utc_s, at(10).utc_s + step_s)


@pytest.mark.parametrize("drift_s", [-1.9, 0.005, 1.9])
def test_a_slewed_clock_and_a_late_tick_are_no_step(gather: Gather, drift_s: float) -> None:
    first = at(0)
    gather.add(tick(first))
    assert gather.add(tick(after(first, 500.0, civil_s=500.0 + drift_s))) == []
