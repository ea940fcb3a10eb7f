"""What the guard drives beside heaters and fans: isolators, companions, vents; as plans.

Lives here: these parts of a Plan, boiled down from the settings once. Does not live
here: moving any of them (isolators.py, companions.py, vents.py), and the rest of the
plan (plan.py).
"""

from collections.abc import Mapping
from typing import NamedTuple

from greenkeeper.settings import derived
from greenkeeper.settings.schema import Heat, Settings
from greenkeeper.settings.switches import GpioOutput, Output

# A motor is given this much of its measured run time, so that it reaches the switch at the
# end of its travel when it is cold or the wind is against it (common practice, no source).
_TRAVEL_SHARE = 1.2

# Pulses of heat without a probe come at least this far apart: three an hour spare the relay,
# and the pots carry the house over the pause.
_PERIOD_S = 1200.0

# When the relay's life is worth a word, as shares of it (common practice, no source).
_HALF_SHARE = 0.5
_WORN_SHARE = 0.8


class Isolator(NamedTuple):
    """A second contact in series with heaters; it switches no load."""

    name: str
    heaters: tuple[str, ...]
    settle_s: float


class Companion(NamedTuple):
    """An output that runs whenever one of its heaters does."""

    name: str
    heaters: tuple[str, ...]
    required_by: frozenset[str]  # heaters that must not run without it
    run_on_s: float
    min_on_s: float
    min_off_s: float


class Vent(NamedTuple):
    """A motor with a relay for each way."""

    name: str
    open: str
    close: str
    travel_s: float  # how long a relay is on for the whole way
    pause_s: float


class Guess(NamedTuple):
    """Heat for a zone that cannot see: how much, and how much in all."""

    output: str
    second: str | None  # which may take its place
    duty: float
    pulse_s: float
    period_s: float
    longest_s: float


class Life(NamedTuple):
    """How many switchings a relay's contact is good for."""

    rated: int
    half: int
    worn: int


class Gear(NamedTuple):
    isolators: tuple[Isolator, ...]
    companions: tuple[Companion, ...]
    vents: tuple[Vent, ...]
    lives: Mapping[str, Life]  # of every relay, used or not
    jobs: Mapping[str, str]  # the outputs of the first three, and what each is there for

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self.jobs)


def gear_of(settings: Settings) -> Gear:
    """What some zone uses. Outputs and vents that no zone uses do not appear in it."""
    isolators = tuple(
        Isolator(name, heaters, output.settle_s)
        for name, output in settings.outputs.items()
        if output.role == "isolator" and (heaters := derived.isolated_by(settings, name))
    )
    companions = _companions(settings)
    vents = _vents(settings)
    jobs = {
        **{each.name: "isolator" for each in isolators},
        **{each.name: "companion" for each in companions},
        **{relay: "vent" for vent in vents for relay in (vent.open, vent.close)},
    }
    lives = {
        name: Life(rated, round(rated * _HALF_SHARE), round(rated * _WORN_SHARE))
        for name, output in settings.outputs.items()
        if (rated := _rated(output)) is not None
    }
    return Gear(isolators, companions, vents, lives, jobs)


def guess_of(settings: Settings, heat: Heat | None) -> Guess | None:
    """None: without a trusted probe this zone asks for nothing."""
    if heat is None or not heat.independent_limit or heat.blind_duty <= 0.0:
        return None
    heaters, duty = [settings.outputs[name] for name in derived.heats_with(heat)], heat.blind_duty
    least_on_s = max(each.min_on_s for each in heaters)
    least_off_s = max(each.min_off_s for each in heaters)
    period_s = max(_PERIOD_S, least_on_s / duty, least_off_s / (1.0 - duty))
    return Guess(
        heat.output, heat.second_output, duty, duty * period_s, period_s, heat.blind_longest_s
    )


def _rated(output: Output) -> int | None:
    return output.rated_operations if isinstance(output, GpioOutput) else None


def _companions(settings: Settings) -> tuple[Companion, ...]:
    heats = [zone.heat for zone in settings.zones.values() if zone.heat is not None]
    return tuple(
        Companion(
            name=name,
            heaters=tuple(
                dict.fromkeys(each for heat in mine for each in derived.heats_with(heat))
            ),
            required_by=frozenset(
                each for heat in mine if heat.with_required for each in derived.heats_with(heat)
            ),
            run_on_s=max(heat.run_on_s for heat in mine),
            min_on_s=output.min_on_s,
            min_off_s=output.min_off_s,
        )
        for name, output in settings.outputs.items()
        if (mine := [heat for heat in heats if heat.with_ == name])
    )


def _vents(settings: Settings) -> tuple[Vent, ...]:
    used = derived.ventilators(settings)
    return tuple(
        Vent(name, vent.open, vent.close, _TRAVEL_SHARE * vent.run_s, vent.pause_s)
        for name, vent in settings.vents.items()
        if name in used
    )
