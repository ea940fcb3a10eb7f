"""What may be ordered over the broker: zones that exist, and temperatures that can be.

plants' minimum, lowest_c ... ordered setpoint ... highest_c, deadband, ceiling
"""

from collections.abc import Collection, Iterator

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding, celsius, listed
from greenkeeper.settings.checks.thermostat import cool_leans, heat_leans
from greenkeeper.settings.faults import Path, plain
from greenkeeper.settings.guesses import did_you_mean, nearest
from greenkeeper.settings.schema import Commands, Settings

_COMMANDS: Path = ("broker", "commands")


def faults(settings: Settings, zones: Collection[str]) -> Iterator[Finding]:
    """zones: every name under zones, those of faulty groups among them."""
    commands = None if settings.broker is None else settings.broker.commands
    if commands is None:
        return
    for key, names in (("setpoints", commands.setpoints), ("switches", commands.switches)):
        for index, name in enumerate(names):
            yield from _zone(settings, (*_COMMANDS, key, index), name, zones)
    for index, name in enumerate(commands.setpoints):
        yield from _range(settings, commands, (*_COMMANDS, "setpoints", index), name)


def remarks(settings: Settings) -> Iterator[Finding]:
    broker = settings.broker
    if broker is None or broker.commands is None:
        return
    if not broker.commands.setpoints and not broker.commands.switches:
        yield Finding(_COMMANDS, "it names no zone, so nothing can be ordered")
    elif broker.username is None and (broker.tls is None or broker.tls.cert_file is None):
        hint = "Whoever reaches the broker may order: give it users and an access list."
        yield Finding(_COMMANDS, "orders, and the keeper itself signs in as nobody", hint=hint)


def _zone(settings: Settings, path: Path, name: str, zones: Collection[str]) -> Iterator[Finding]:
    if name not in zones:
        names = sorted(map(plain, zones))
        allowed = f"a name under zones ({listed(names)})"
        hint = did_you_mean(nearest(name, names))
        yield Finding(path, name, allowed, hint, (("zones", name),))
    elif path[2] == "setpoints" and name in settings.zones and settings.zones[name].heat is None:
        yield Finding(
            path, f"{name}, which has no heat", "a zone with heat", "", (("zones", name),)
        )


def _range(settings: Settings, commands: Commands, path: Path, name: str) -> Iterator[Finding]:
    between_c = derived.ordered_range_c(settings, name)
    if between_c is None or between_c[0] <= between_c[1]:
        return
    lowest, highest = (celsius(each) for each in between_c)
    bounds = f"{celsius(commands.lowest_c)} to {celsius(commands.highest_c)}"
    hint = (
        f"With its plants' minimum, deadband and ceiling, {bounds} leaves {lowest} as the least "
        f"and {highest} as the most."
    )
    leans_on = (
        *heat_leans(name),
        *cool_leans(name),
        ("zones", name),
        (*_COMMANDS, "lowest_c"),
        (*_COMMANDS, "highest_c"),
    )
    yield Finding(path, f"{name}: no setpoint is left", "a zone with room", hint, leans_on)
