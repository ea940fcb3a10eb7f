"""What is read and switched over the broker: what it takes to be trusted.

A wireless switch is never the only layer between a heater and a fire: hardware-notes/
relays.md says what it cannot promise. So what would make it one is refused here.
"""

from collections.abc import Iterator

from greenkeeper.settings.checks.finding import Finding, is_written, written
from greenkeeper.settings.damp import BrokerHygrometer
from greenkeeper.settings.faults import Path, number
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.sensors import BrokerProbe
from greenkeeper.settings.switches import HOLD, BrokerOutput


def faults(settings: Settings) -> Iterator[Finding]:
    yield from _without_a_broker(settings)
    yield from _own_topics(settings)
    yield from _ages(settings)
    yield from _switches(settings)
    yield from _only_layer(settings)


def remarks(settings: Settings) -> Iterator[Finding]:
    for name, output in _outputs(settings):
        if HOLD not in output.order_on:
            found = f"its orders do not say {HOLD}: is {number(output.hold_s)} s set in the switch?"
            hint = "Without a timer of its own it stays on when the broker or this keeper dies."
            yield Finding(("outputs", name, "order_on"), found, hint=hint)
    for zone_id, zone in settings.zones.items():
        probes = [settings.probes.get(name) for name in zone.probes]
        if all(isinstance(probe, BrokerProbe) for probe in probes):
            hint = "One on a wire keeps the zone in sight."
            yield Finding(("zones", zone_id, "probes"), "blind while the broker is away", hint=hint)


def _outputs(settings: Settings) -> list[tuple[str, BrokerOutput]]:
    return [(n, each) for n, each in settings.outputs.items() if isinstance(each, BrokerOutput)]


def _topics(settings: Settings) -> Iterator[tuple[Path, str]]:
    for name, probe in settings.probes.items():
        if isinstance(probe, BrokerProbe):
            yield ("probes", name, "topic"), probe.topic
    for name, hygrometer in settings.hygrometers.items():
        if isinstance(hygrometer, BrokerHygrometer):
            yield ("hygrometers", name, "topic"), hygrometer.topic
    for name, output in _outputs(settings):
        yield ("outputs", name, "topic"), output.topic
        yield ("outputs", name, "answers"), output.answers


def _without_a_broker(settings: Settings) -> Iterator[Finding]:
    if settings.broker is None:
        for path, topic in _topics(settings):
            yield Finding(path, topic, "it beside broker:", leans_on=(("broker",),))


def _own_topics(settings: Settings) -> Iterator[Finding]:
    if settings.broker is None:
        return
    root = f"{settings.broker.domain}/5/{settings.broker.device or settings.site.name}/"
    for path, topic in _topics(settings):
        if topic.startswith(root):
            leans_on = (("broker", "domain"), ("broker", "device"), ("site", "name"))
            yield Finding(
                path, f"{topic}, which this keeper writes", "another's topic", "", leans_on
            )


def _ages(settings: Settings) -> Iterator[Finding]:
    """How seldom it reports is known to the owner alone, and 45 s would be a surprise."""
    allowed = "twice the time from one report to the next, written down"
    for section, kind in (("probes", BrokerProbe), ("hygrometers", BrokerHygrometer)):
        for name, each in getattr(settings, section).items():
            if isinstance(each, kind) and not is_written(each, "stale_s"):
                yield Finding((section, name, "stale_s"), written(each, "stale_s"), allowed)


def _switches(settings: Settings) -> Iterator[Finding]:
    first: dict[str, str] = {}
    for name, output in _outputs(settings):
        path = ("outputs", name)
        if output.order_on == output.order_off:
            yield Finding((*path, "order_off"), output.order_off, "another than order_on")
        if output.says_on == output.says_off:
            yield Finding((*path, "says_off"), output.says_off, "another than says_on")
        owner = first.setdefault(output.topic, name)
        if owner != name:
            leans_on: tuple[Path, ...] = (("outputs", owner, "topic"),)
            found = f"{output.topic}, which {owner} has"
            yield Finding((*path, "topic"), found, "a topic of its own", leans_on=leans_on)
        if output.hold_s < settings.lease_s:
            allowed = f"{number(settings.lease_s)} or more (seconds): three polls"
            yield Finding(
                (*path, "hold_s"), written(output, "hold_s"), allowed, leans_on=(("poll_s",),)
            )
        elif output.confirm_s > output.hold_s:
            allowed = f"at most {number(output.hold_s)} (seconds), its hold_s"
            leans_on = ((*path, "hold_s"),)
            yield Finding((*path, "confirm_s"), written(output, "confirm_s"), allowed, "", leans_on)


def _only_layer(settings: Settings) -> Iterator[Finding]:
    remote = {name for name, _ in _outputs(settings)}
    for zone_id, zone in settings.zones.items():
        heat = zone.heat
        if heat is None or heat.independent_limit:
            continue
        for key, heater in (("output", heat.output), ("second_output", heat.second_output)):
            if heater not in remote:
                continue
            path = ("zones", zone_id, "heat", key)
            found = f"{heater}, which is switched over the broker"
            allowed = "it beside independent_limit: true, a limit thermostat that is fitted"
            hint = "What a wireless switch cannot promise: hardware-notes/relays.md, section 5."
            leans_on: tuple[Path, ...] = (("zones", zone_id, "heat", "independent_limit"),)
            yield Finding(path, found, allowed, hint, leans_on)
    for name, output in _outputs(settings):
        if output.role is not None:
            found = f"{output.role}, switched over the broker"
            yield Finding(("outputs", name, "role"), found, "a contact on a wire")
    for vent_id, vent in settings.vents.items():
        for key, relay in (("open", vent.open), ("close", vent.close)):
            if relay in remote:
                found = f"{relay}, which is switched over the broker"
                hint = "Both relays of a motor on at once may short its supply."
                yield Finding(("vents", vent_id, key), found, "a relay on a wire", hint)
