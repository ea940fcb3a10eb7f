"""What the keeper understood of a settings file: who is kept where, and by what.

Lives here: the summary that `check` shows for sound settings, in eighty columns, and the
same as plain data. Does not live here: faults and remarks (settings/), and colour.
"""

import textwrap
from collections.abc import Iterator
from typing import Any

from greenkeeper.commands import warmth_ahead
from greenkeeper.control import dawn
from greenkeeper.house import envelope
from greenkeeper.learned import Learned
from greenkeeper.settings import derived
from greenkeeper.settings.checks.thermostat import Band, bands
from greenkeeper.settings.damp import Airing
from greenkeeper.settings.faults import number
from greenkeeper.settings.schema import Alarms, Heat, Plant, Settings, Tariff, TariffHours
from greenkeeper.settings.switches import BrokerOutput, GpioInput, GpioOutput, Input, Output
from greenkeeper.units import shown_c, shown_pct

WIDTH = 80
_LABEL = 13
_DAWN = (
    "before a sunrise that is foretold clear, half of what the setpoint has above the plants' "
    f"minimum is let go, up to {dawn.MOST_K:g} K"
)


def lines(settings: Settings, learned: Learned | None = None) -> Iterator[str]:
    """learned: what the keeper would go by, where it has learned its house."""
    yield from _house(settings)
    for zone_id in settings.zones:
        yield ""
        yield from _zone(settings, zone_id, learned)
    if settings.inputs:
        yield ""
        yield "contacts"
        column = max(_LABEL, *(len(name) + 4 for name in settings.inputs))
        for name, contact in settings.inputs.items():
            yield from _wrapped(name, _contact(contact), column)


def data(settings: Settings) -> dict[str, Any]:
    """Zone by zone, for machines: probes, and the switching points in °C by day and night."""
    return {
        zone_id: {
            "probes": list(zone.probes),
            "heat_output": zone.heat.output if zone.heat else None,
            "second_heat_output": zone.heat.second_output if zone.heat else None,
            "cool_output": zone.cool.output if zone.cool else None,
            "ceiling_c": zone.ceiling_c,
            **{name: _points(settings, zone_id, name == "night") for name in ("day", "night")},
        }
        for zone_id, zone in settings.zones.items()
    }


def _points(settings: Settings, zone_id: str, night: bool) -> dict[str, float | None]:
    return {
        "heat_on_c": derived.heat_setpoint_c(settings, zone_id, night),
        "heat_off_c": derived.heat_off_c(settings, zone_id, night),
        "cool_on_c": derived.cool_setpoint_c(settings, zone_id, night),
        "cool_off_c": derived.cool_off_c(settings, zone_id, night),
    }


def _house(settings: Settings) -> Iterator[str]:
    yield from _wrapped("site", f"{settings.site.name}, read every {number(settings.poll_s)} s")
    if any(len(bands(settings, zone_id)) > 1 for zone_id in settings.zones):
        night = f"from {settings.night.from_} to {settings.night.to}"
        yield from _wrapped("night", f"{night}, {settings.site.timezone}")
    if settings.site.outdoor_probe is not None:
        yield from _wrapped("outdoors", settings.site.outdoor_probe)
    if {"length_m", "width_m"} <= settings.house.model_fields_set:
        loss_w_k = envelope.loss_w_per_k(settings.house)
        yield from _wrapped("house", f"{loss_w_k:.1f} W/K: greenkeeper season --sheet says why")
    if settings.site.circuit_w is not None:
        most_w = number(settings.site.circuit_w)
        yield from _wrapped("circuit", f"never more than {most_w} W of heat at once")
    if settings.tariff is not None and settings.tariff.hours:
        yield from _wrapped("tariff", _prices(settings.tariff))
    if settings.enable is not None:
        line = f"GPIO{settings.enable.pin}, {number(settings.enable.hz)} Hz while all is well"
        yield from _wrapped("enable", line)
    if settings.alarms is not None:
        yield from _wrapped("alarms", _told(settings.alarms))


def _prices(tariff: Tariff) -> str:
    on = {"all": "", "weekdays": " Monday to Friday", "weekend": " Saturday and Sunday"}
    parts = [f"{number(hours.per_kwh)} {_when(hours)}{on[hours.days]}" for hours in tariff.hours]
    parts.append(f"{number(tariff.per_kwh)} at all other times")
    return f"{tariff.currency} for a kWh: {', '.join(parts)}"


def _when(hours: TariffHours) -> str:
    whole = hours.from_ == hours.to
    return "all day" if whole else f"from {hours.from_} to {hours.to}"


def _told(alarms: Alarms) -> str:
    """Whom, by the name of a file: the addresses in it are secrets."""
    parts = []
    if alarms.addresses_file is not None:
        least = {"notice": "all", "warning": "warnings and alarms", "alarm": "alarms"}
        parts.append(f"{least[alarms.tell_from]} to the addresses in {alarms.addresses_file}")
    if alarms.quiet is not None:
        parts.append(f"from {alarms.quiet.from_} to {alarms.quiet.to} alarms only")
    if alarms.heartbeat_file is not None:
        every = f"every {number(alarms.heartbeat_s)} s"
        parts.append(f"the address in {alarms.heartbeat_file} is called {every}")
    return "; ".join(parts)


def _zone(settings: Settings, zone_id: str, learned: Learned | None) -> Iterator[str]:
    zone = settings.zones[zone_id]
    yield f"zone {zone_id}"
    yield from _wrapped("probes", ", ".join(zone.probes))
    both = bands(settings, zone_id)
    if zone.heat is not None:
        yield from _mode("heat", both, zone.heat.output, settings)
        yield from _second(zone.heat, settings)
        yield from _metering(zone.heat)
        if zone.heat.ahead_in_cheap_hours:
            yield from _wrapped("", warmth_ahead.sentence(settings, zone_id, learned))
        if zone.heat.leave_dawn_to_sun:
            yield from _wrapped("", _DAWN)
        yield from _beside_heat(zone.heat, settings)
    if zone.cool is not None:
        yield from _mode("cool", both, zone.cool.output, settings)
    if zone.hygrometer is not None:
        yield from _wrapped("damp", zone.hygrometer)
    if zone.air is not None:
        yield from _airing(zone.air, zone_id, settings)
    until = "until you clear it" if zone.ceiling_clears == "by-hand" else "until 5 K below again"
    yield from _wrapped(
        "ceiling", f"above {shown_c(zone.ceiling_c)} every heater is locked out, {until}"
    )
    yield from _wrapped("plants", _plants(settings, zone_id))


def _mode(mode: str, both: list[Band], output: str, settings: Settings) -> Iterator[str]:
    told = [(band, _switching(mode, band)) for band in both]
    if len({text for _, text in told}) == 1:
        yield from _wrapped(mode, told[0][1])
    else:
        for band, text in told:
            yield from _wrapped(mode if band is both[0] else "", text + band.when)
    yield from _wrapped("", f"by {output}: {_means(output, settings)}")


def _second(heat: Heat, settings: Settings) -> Iterator[str]:
    """What the other heater is there for."""
    if heat.second_output is None:
        return
    if derived.bears_both(settings, heat):
        job = "joins when that alone is not enough"
    else:
        job = "takes its place when that gives no heat: the circuit does not bear both"
    turns = "; they take turns, by wear" if heat.take_turns else ""
    second = f"{heat.second_output} ({_output(settings.outputs[heat.second_output])})"
    yield from _wrapped("", f"{second} {job}{turns}")


def _metering(heat: Heat) -> Iterator[str]:
    if heat.strategy == "proportion":
        yield from _wrapped("", "in pulses, each just in time to stay above where heat goes on")
    elif heat.anticipate:
        yield from _wrapped("", "anticipating: reckoned with the warmth still on its way")


def _airing(air: Airing, zone_id: str, settings: Settings) -> Iterator[str]:
    least_c = derived.airing_least_c(settings, zone_id)
    outdoor_c = derived.airing_outdoor_least_c(settings, zone_id)
    yield from _wrapped(
        "air",
        f"from {shown_pct(air.above_pct)} to {shown_pct(air.above_pct - air.hysteresis_pct)}, "
        f"while it is {_shown(least_c)} inside and {_shown(outdoor_c)} outdoors, or warmer",
    )
    yield from _wrapped("", f"by {air.output}: {_means(air.output, settings)}")


def _beside_heat(heat: Heat, settings: Settings) -> Iterator[str]:
    for name, output in settings.outputs.items():
        behind = derived.isolated_by(settings, name) if output.role == "isolator" else ()
        if any(heater in behind for heater in derived.heats_with(heat)):
            yield from _wrapped("", f"behind {name}: {_output(output)}")
    if heat.with_ is not None:
        yield from _wrapped("", f"with {heat.with_}: {_output(settings.outputs[heat.with_])}")
    if heat.blind_duty > 0.0:
        text = f"without a probe, in frost: {heat.blind_duty:.0%} of the time, "
        yield from _wrapped("", f"{text}{number(heat.blind_longest_s / 3600)} h of heat at most")


def _switching(mode: str, band: Band) -> str:
    on_c, off_c = (
        (band.heat_on_c, band.heat_off_c) if mode == "heat" else (band.cool_on_c, band.cool_off_c)
    )
    return f"on at {_shown(on_c)}, off at {_shown(off_c)}"


def _shown(temp_c: float | None) -> str:
    return "nothing" if temp_c is None else shown_c(temp_c)


def _means(output: str, settings: Settings) -> str:
    """What moves when this output or this vent is switched, and what goes with it."""
    vent = settings.vents.get(output)
    if vent is not None:
        relays = " and ".join(
            f"{relay} ({_output(settings.outputs[relay])})" for relay in (vent.open, vent.close)
        )
        return f"{relays}, {number(vent.run_s)} s from end to end"
    return _output(settings.outputs[output])


def _output(output: Output) -> str:
    power = f", {number(output.power_w)} W" if output.power_w is not None else ""
    if isinstance(output, GpioOutput):
        return f"GPIO{output.pin}, {output.on_level} is on{power}"
    if isinstance(output, BrokerOutput):
        return f"the switch at {output.topic}, confirmed within {number(output.confirm_s)} s{power}"
    return f"a modelled {output.drives}{power}"


_TELLS = {
    "door-open": "door open",
    "mains-present": "mains present",
    "contactor-closed": "contactor closed",
    "heater-current": "current flows",
}


def _contact(contact: Input) -> str:
    of = f" ({contact.of})" if contact.of is not None else ""
    told = _TELLS[contact.tells] + of
    if not isinstance(contact, GpioInput):
        return f"{told}, as {contact.file} says"
    pull = "no pull" if contact.pull == "none" else f"pulled {contact.pull}"
    return f"GPIO{contact.pin}, {pull}; {contact.active} is {told}"


def _plants(settings: Settings, zone_id: str) -> str:
    plants = list(derived.plants_of(settings, zone_id))
    if not plants:
        return "none"
    limits = [
        _limit("at least", derived.plants_minimum_c(settings, zone_id), plants, "lowest_c"),
        _limit("at most", derived.plants_maximum_c(settings, zone_id), plants, "max_c"),
    ]
    return "; ".join([str(len(plants)), *(limit for limit in limits if limit)])


def _limit(words: str, limit_c: float | None, plants: list[Plant], key: str) -> str:
    if limit_c is None:
        return ""
    named = ", ".join(plant.name for plant in plants if getattr(plant, key) == limit_c)
    return f"{words} {shown_c(limit_c)} ({named})"


def _wrapped(label: str, text: str, column: int = _LABEL) -> list[str]:
    """Beside a label, from a column on; a text without a label stands under the last one."""
    first = f"  {label}".ljust(column)
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=" " * column)
