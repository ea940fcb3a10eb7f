"""Arbitrary settings and ticks, for what must hold whatever the house is like.

The ticks are wilder than control would ever make: any text, any number, probes and
outputs nobody told of. What is published must stay within the convention even so.
"""

from typing import Any

from hypothesis import strategies as st

from greenkeeper.errors import CATALOGUE
from greenkeeper.model import (
    Alarm,
    AlarmMemory,
    Ask,
    Bad,
    Command,
    Fault,
    Good,
    Latch,
    Memory,
    Mode,
    Now,
    OutputMemory,
    Override,
    ProbeMemory,
    Tick,
    Wish,
    ZoneView,
)
from greenkeeper.settings.schema import Settings

NUMBERS = st.floats()  # infinities and NaN among them
TEXTS = st.text(max_size=30)
IDS = st.from_regex(r"[a-z0-9]{1,6}(-[a-z0-9]{1,4}){0,2}", fullmatch=True)
MAYBE_NUMBERS = st.none() | NUMBERS


def _some_ids(least: int) -> st.SearchStrategy[list[str]]:
    return st.lists(IDS, min_size=least, max_size=4, unique=True)


@st.composite
def settings(draw: st.DrawFn) -> Settings:
    probes, outputs, zones = draw(_some_ids(1)), draw(_some_ids(0)), draw(_some_ids(1))

    def use() -> dict[str, Any] | None:
        wanted = bool(outputs) and draw(st.booleans())
        return {"output": outputs[0], "setpoint_c": 5.0} if wanted else None

    return Settings.model_validate(
        {
            "site": {"name": draw(IDS)},
            "probes": {name: {"kind": "modelled", "place": "bench"} for name in probes},
            "outputs": {name: {"kind": "modelled", "drives": "fan"} for name in outputs},
            "zones": {name: {"probes": probes, "heat": use(), "cool": use()} for name in zones},
            "broker": {
                "host": "hub",
                "domain": draw(IDS),
                "device": draw(st.none() | IDS),
                "commands": draw(st.none() | st.just({"setpoints": zones, "switches": zones})),
            },
        }
    )


NOWS = st.builds(
    Now, NUMBERS.filter(lambda x: abs(x) < 1e12), st.floats(-1e13, 1e13), st.booleans()
)
CODES = st.sampled_from(sorted(CATALOGUE)) | TEXTS
ALARMS = st.builds(Alarm, CODES, TEXTS, TEXTS, NUMBERS, NUMBERS)
LATCHES = st.builds(Latch, CODES, TEXTS, TEXTS, NUMBERS)
WISHES = st.builds(Wish, TEXTS, st.sampled_from(Mode), TEXTS, st.booleans(), TEXTS, NUMBERS)
VERDICTS = st.builds(Good, NUMBERS, NUMBERS) | st.builds(Bad, st.sampled_from(Fault), TEXTS)


@st.composite
def ticks(draw: st.DrawFn, house: Settings) -> Tick:
    """A tick of this house; any part of it may be missing."""
    now = draw(NOWS)
    probes = draw(st.lists(st.sampled_from(sorted(house.probes)), unique=True))
    zones = draw(st.lists(st.sampled_from(sorted(house.zones)), unique=True))
    outputs = sorted(house.outputs)
    return Tick(
        now=now,
        readings={},
        verdicts={name: draw(VERDICTS) for name in probes},
        zones=tuple(draw(_views(name)) for name in zones),
        commands=tuple(
            Command(name, draw(st.booleans()), draw(MAYBE_NUMBERS), draw(TEXTS)) for name in outputs
        ),
        events=(),
        memory=Memory(
            probes={name: ProbeMemory(good_s=draw(st.none() | _moments(now))) for name in probes},
            outputs={
                name: OutputMemory(draw(st.booleans()), 0.0, None, "", draw(st.integers(0, 10**9)))
                for name in outputs
            },
            wishes={},
            alarms={
                (alarm.code, alarm.subject): AlarmMemory(alarm, draw(st.booleans()), None)
                for alarm in draw(st.lists(ALARMS, max_size=3))
            },
            latches={latch.name: latch for latch in draw(st.lists(LATCHES, max_size=2))},
            last=None,
            overrides={
                (each.zone, each.ask): each
                for name in zones
                for each in draw(st.lists(_overrides(name, now), max_size=2))
            },
        ),
    )


def _moments(now: Now) -> st.SearchStrategy[float]:
    return st.floats(now.mono_s - 1e9, now.mono_s)


def _overrides(zone: str, now: Now) -> st.SearchStrategy[Override]:
    until_s = st.floats(now.mono_s, now.mono_s + 2e5)
    return st.builds(Override, st.just(zone), st.sampled_from(Ask), MAYBE_NUMBERS, until_s, NUMBERS)


def _views(name: str) -> st.SearchStrategy[ZoneView]:
    return st.builds(
        ZoneView,
        name=st.just(name),
        coldest_c=MAYBE_NUMBERS,
        coldest_probe=st.none() | TEXTS,
        warmest_c=MAYBE_NUMBERS,
        warmest_probe=st.none() | TEXTS,
        period=st.sampled_from(["day", "night"]) | TEXTS,
        heat_setpoint_c=MAYBE_NUMBERS,
        cool_setpoint_c=MAYBE_NUMBERS,
        wishes=st.lists(WISHES, max_size=3).map(tuple),
    )
