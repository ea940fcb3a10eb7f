"""Roles: every output has one job, and what belongs to that job is where it counts.

Lives here: outputs shared where they must not be, isolators, vents, the fan that runs with
the heater, and heating without a probe. Does not live here: whether a name exists
(names.py) and pins (wiring.py).
"""

from collections.abc import Iterator
from typing import NamedTuple

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding, is_written, written
from greenkeeper.settings.faults import Path, number
from greenkeeper.settings.schema import Heat, Settings
from greenkeeper.settings.switches import ModelledOutput, Output

_DRIVES = {
    "heats": "heater",
    "cools": "fan",
    "stirs": "circulation",
    "opens": "vent-open",
    "closes": "vent-close",
    "isolates": "isolator",
}
_SHARED = ("heats", "cools", "stirs")  # by several zones

_ALLOWED = {
    "heats": "an output that only heats",
    "cools": "an output that only cools",
    "stirs": "a fan of its own, one that moves the air inside",
    "opens": "an output of its own",
    "closes": "an output of its own",
}


class Use(NamedTuple):
    """One place of the settings that gives an output a job."""

    path: Path
    output: str
    job: str
    words: str  # to follow the output's name: "which zones.bench heats with"


def _unpowered(settings: Settings) -> Iterator[Finding]:
    """A modelled house must know what its heater draws."""
    for name, output in settings.outputs.items():
        modelled = isinstance(output, ModelledOutput) and output.drives == "heater"
        if modelled and output.power_w is None:
            hint = "The rated power in watts, such as power_w: 1200."
            yield Finding(("outputs", name), "a modelled heater", "one with power_w", hint)


def uses(settings: Settings) -> Iterator[Use]:
    """Every use of an output, heat before what must keep clear of it."""
    for name, output in settings.outputs.items():
        if output.role == "isolator":
            yield Use(("outputs", name, "role"), name, "isolates", "which is an isolator")
    for zone_id, heat in _heats(settings):
        words = f"which zones.{zone_id} heats with"
        yield Use(("zones", zone_id, "heat", "output"), heat.output, "heats", words)
        if heat.second_output is not None:
            path = ("zones", zone_id, "heat", "second_output")
            yield Use(path, heat.second_output, "heats", words)
    for zone_id, zone in settings.zones.items():
        for key, part in (("cool", zone.cool), ("air", zone.air)):
            if part is not None and part.output not in settings.vents:
                path = ("zones", zone_id, key, "output")
                words = f"which zones.{zone_id} {key}s with"
                yield Use(path, part.output, "cools", words)
    for zone_id, heat in _heats(settings):
        if heat.with_ is not None:
            words = f"which runs with the heat of zones.{zone_id}"
            yield Use(("zones", zone_id, "heat", "with"), heat.with_, "stirs", words)
    for name, vent in settings.vents.items():
        for job, key, relay in (("opens", "open", vent.open), ("closes", "close", vent.close)):
            yield Use(("vents", name, key), relay, job, f"which {job} vents.{name}")


def faults(settings: Settings) -> Iterator[Finding]:
    yield from _two_jobs(settings)
    yield from _isolates(settings)
    yield from _vent_names(settings)
    yield from _blind(settings)
    yield from _longest_run(settings)
    yield from _unpowered(settings)


def remarks(settings: Settings) -> Iterator[Finding]:
    yield from _idle(settings)
    yield from _times_that_do_not_count(settings)
    yield from _keys_that_do_not_count(settings)
    yield from _late_companions(settings)
    yield from _drives(settings)


def _two_jobs(settings: Settings) -> Iterator[Finding]:
    first: dict[str, Use] = {}
    for use in uses(settings):
        other = first.setdefault(use.output, use)
        shared = use.job == other.job and use.job in _SHARED
        if other is not use and not shared:
            found = f"{use.output}, {other.words}"
            yield Finding(use.path, found, _ALLOWED[use.job], leans_on=(other.path,))


def _isolates(settings: Settings) -> Iterator[Finding]:
    heaters = derived.heaters(settings)
    leans_on = tuple(("zones", zone_id, "heat", "output") for zone_id, _ in _heats(settings))
    for name, output in settings.outputs.items():
        path = ("outputs", name, "isolates")
        if output.isolates and output.role is None:
            role = ("outputs", name, "role")
            yield Finding(path, "heaters of no isolator", "it beside role: isolator", "", (role,))
        for index, heater in enumerate(output.isolates):
            if heater in settings.outputs and heater not in heaters:
                found = f"{heater}, which heats no zone"
                yield Finding((*path, index), found, "outputs that heat", "", leans_on)


def _vent_names(settings: Settings) -> Iterator[Finding]:
    for name in settings.vents:
        if name in settings.outputs:
            found = f"{name}, which is an output's name too"
            leans_on = (("outputs", name),)
            yield Finding(("vents", name), found, "a name of its own", leans_on=leans_on)


def _blind(settings: Settings) -> Iterator[Finding]:
    """The one heating without sight: only behind a limit, and one guess for each heater."""
    first: dict[str, str] = {}
    for zone_id, heat in _heats(settings):
        path = ("zones", zone_id, "heat", "blind_duty")
        if heat.blind_duty <= 0.0:
            continue
        if not heat.independent_limit:
            found = f"{number(heat.blind_duty)} without independent_limit: true"
            allowed = "0, or more behind a limit thermostat that is fitted and declared"
            hint = "What it must be: hardware-notes/safety.md, section 4."
            leans_on = (("zones", zone_id, "heat", "independent_limit"),)
            yield Finding(path, found, allowed, hint, leans_on)
        owner = first.setdefault(heat.output, zone_id)
        if owner != zone_id:
            found = f"{number(heat.blind_duty)}, and zones.{owner} has one for {heat.output}"
            others = (("zones", owner, "heat", "blind_duty"), ("zones", owner, "heat", "output"))
            yield Finding(path, found, "it in one zone of a heater", leans_on=others)


def _longest_run(settings: Settings) -> Iterator[Finding]:
    for name, output in settings.outputs.items():
        if output.longest_on_s is not None and output.longest_on_s < output.min_on_s:
            allowed = f"at least {number(output.min_on_s)} (seconds), its min_on_s"
            leans_on = (("outputs", name, "min_on_s"),)
            path = ("outputs", name, "longest_on_s")
            yield Finding(path, number(output.longest_on_s), allowed, leans_on=leans_on)


def _idle(settings: Settings) -> Iterator[Finding]:
    used = {use.output for use in uses(settings) if use.job != "isolates"}
    for name, output in settings.outputs.items():
        if output.role == "isolator":
            if not derived.isolated_by(settings, name):
                yield Finding(("outputs", name), "nothing heats behind it: it stays off")
        elif name not in used:
            yield Finding(("outputs", name), "no zone uses it: it stays off")
    used_vents = derived.ventilators(settings)
    for name in settings.vents:
        if name not in used_vents:
            yield Finding(("vents", name), "no zone cools with it: it stands still")


def _times_that_do_not_count(settings: Settings) -> Iterator[Finding]:
    dull = {
        "isolates": ("min_on_s", "min_off_s", "longest_on_s"),
        "opens": ("min_on_s", "min_off_s", "longest_on_s"),
        "closes": ("min_on_s", "min_off_s", "longest_on_s"),
        "stirs": ("longest_on_s",),
    }
    instead = {
        "isolates": "An isolator follows its heaters.",
        "stirs": "It runs as long as the heater it goes with.",
    }
    for use in uses(settings):
        output = settings.outputs.get(use.output)
        for key in dull.get(use.job, ()):
            if output is not None and is_written(output, key):
                found = f"{written(output, key)} counts for nothing here"
                hint = instead.get(use.job, "The vent's run_s and pause_s say when it moves.")
                yield Finding(("outputs", use.output, key), found, hint=hint)


def _keys_that_do_not_count(settings: Settings) -> Iterator[Finding]:
    for name, output in settings.outputs.items():
        if output.role is None and is_written(output, "settle_s"):
            yield Finding(("outputs", name, "settle_s"), "counts only with role: isolator")
    for zone_id, heat in _heats(settings):
        for key in ("with_required", "run_on_s"):
            if heat.with_ is None and is_written(heat, key):
                yield Finding(("zones", zone_id, "heat", key), "counts only beside with")
        if heat.anticipate and heat.strategy == "proportion":
            path = ("zones", zone_id, "heat", "anticipate")
            yield Finding(path, "counts only with strategy: hysteresis: proportion anticipates too")
        if heat.blind_duty <= 0.0 and is_written(heat, "blind_longest_s"):
            path = ("zones", zone_id, "heat", "blind_longest_s")
            yield Finding(path, "counts only beside a blind_duty above 0")


def _late_companions(settings: Settings) -> Iterator[Finding]:
    """Heat starts with its fan, so it waits for the fan's minimum off time too."""
    for zone_id, heat in _heats(settings):
        fan = settings.outputs.get(heat.with_ or "")
        heaters = [settings.outputs.get(name) for name in derived.heats_with(heat)]
        known = [each for each in heaters if each is not None]
        heater = min(known, key=lambda each: each.min_off_s, default=None)
        if fan is not None and heater is not None and fan.min_off_s > heater.min_off_s:
            found = (
                f"heat may have to wait for {heat.with_}: its min_off_s is "
                f"{written(fan, 'min_off_s')}, the heater's {written(heater, 'min_off_s')}"
            )
            yield Finding(("zones", zone_id, "heat", "with"), found)


def _drives(settings: Settings) -> Iterator[Finding]:
    """A modelled output that is one thing in the model and another in the settings."""
    told = set()
    for use in uses(settings):
        output: Output | None = settings.outputs.get(use.output)
        fits = _DRIVES[use.job]
        if isinstance(output, ModelledOutput) and output.drives != fits and use.output not in told:
            told.add(use.output)
            found = f"{output.drives}, where its job is that of a modelled {fits}"
            yield Finding(("outputs", use.output, "drives"), found)


def _heats(settings: Settings) -> list[tuple[str, Heat]]:
    return [
        (zone_id, zone.heat) for zone_id, zone in settings.zones.items() if zone.heat is not None
    ]
