"""Answers into a settings file with its reasons beside it. Pure.

Lives here: the text alone. Whoever calls this has it checked (settings/load.py) before it
is put anywhere.
"""

import json
from collections.abc import Iterator

from greenkeeper.settings.faults import number
from greenkeeper.settings.schema import SETTINGS_VERSION
from greenkeeper.settings.yamlnodes import bare
from greenkeeper.setup.answers import Answers, Relay, Zone

HEAD = """\
# The settings of {name}, written by `greenkeeper setup`.
#
# Yours from here on: change what you like, then
#     greenkeeper check THIS-FILE        names every fault, with its line
#     sudo systemctl reload greenkeeper  takes it into use; a faulty one is refused
# Every key there is, with unit, range, default and reason: config/greenkeeper.yaml.
# Vents, an isolator, humidity, the broker and messages are not asked for by setup.
"""


def settings_text(answers: Answers, onewire_folder: str | None = None) -> str:
    """The whole file, in YAML. onewire_folder: where the probes were found, if elsewhere."""
    sections = [
        HEAD.format(name=answers.site.name),
        f"settings_version: {SETTINGS_VERSION}",
        "",
        *_site(answers),
        *_probes(answers),
        *([] if onewire_folder is None else [f"onewire: {{folder: {_text(onewire_folder)}}}", ""]),
        *_outputs(answers),
        *_zones(answers),
        *_plants(answers),
        *_tariff(answers),
    ]
    return "\n".join(sections) + "\n"


def _site(answers: Answers) -> Iterator[str]:
    site = answers.site
    yield "site:"
    yield f"  name: {_id(site.name)}"
    if site.latitude is not None and site.longitude is not None:
        yield "  # Where the sun stands, for the outlook and for planning."
        yield f"  latitude: {number(site.latitude)}"
        yield f"  longitude: {number(site.longitude)}"
    yield "  # Civil time, for day and night and for the record of a night."
    yield f"  timezone: {_text(site.timezone)}"
    if site.outdoor_probe is not None:
        yield f"  outdoor_probe: {_id(site.outdoor_probe)}"
    if site.outdoor_hygrometer is not None:
        yield f"  outdoor_hygrometer: {_id(site.outdoor_hygrometer)}"
    if site.monthly_mean_c is not None:
        yield f"  monthly_mean_c: [{', '.join(map(number, site.monthly_mean_c))}]"
    if site.clock == "trusted":
        yield "  clock: trusted"
    yield ""


def _probes(answers: Answers) -> Iterator[str]:
    yield "# What measures. Check each once in melting ice (`greenkeeper probes --ice`) and write"
    yield "# its offset_k beside it."
    yield "probes:"
    for name, rom in answers.probes.items():
        yield f"  {_id(name)}: {{kind: onewire, rom: {rom}}}"
    yield ""


def _outputs(answers: Answers) -> Iterator[str]:
    if not answers.outputs:
        return
    yield "# What switches. Pins are BCM numbers. Minimum times spare the relay's contacts:"
    yield "# shorter ones wear it out within a winter (hardware-notes/relays.md)."
    yield "outputs:"
    for name, relay in answers.outputs.items():
        yield f"  {_id(name)}: {{{_relay(relay)}}}"
    yield ""


def _relay(relay: Relay) -> str:
    power = "" if relay.power_w is None else f", power_w: {number(relay.power_w)}"
    return f"kind: gpio, pin: {relay.pin}, on_level: {relay.on_level.value}{power}"


def _zones(answers: Answers) -> Iterator[str]:
    yield "# Who is kept where. Heat believes the coldest probe of a zone, cooling the warmest."
    yield "zones:"
    for name, zone in answers.zones.items():
        yield f"  {_id(name)}:"
        yield f"    probes: [{', '.join(map(_id, zone.probes))}]"
        if zone.heater is not None:
            yield from _heat(name, zone, _id(zone.heater), answers)
        if zone.fan is not None:
            yield f"    cool: {{output: {_id(zone.fan)}, setpoint_c: {number(zone.cool_c)}}}"
    yield ""


def _heat(name: str, zone: Zone, heater: str, answers: Answers) -> Iterator[str]:
    tender = any(p.zone == name and p.lowest_c is not None for p in answers.plants)
    if tender:
        yield "    # The tenderest plant's minimum decides, and half a degree above it."
        yield f"    heat: {{output: {heater}, setpoint: from-plants}}"
    else:
        yield f"    heat: {{output: {heater}, setpoint_c: {number(zone.heat_c)}}}"
    yield "    # Once an independent limit thermostat is in series with the heater, say so among"
    yield "    # these: independent_limit: true. It protects people (hardware-notes/safety.md)."


def _plants(answers: Answers) -> Iterator[str]:
    if not answers.plants:
        return
    yield "plants:"
    for plant in answers.plants:
        parts = [f"name: {_text(plant.name)}", f"zone: {_id(plant.zone)}"]
        if plant.min_c is not None:
            parts.append(f"min_c: {number(plant.min_c)}")
        if plant.max_c is not None:
            parts.append(f"max_c: {number(plant.max_c)}")
        if plant.rating is not None:
            parts.append(f"rating: {plant.rating.value}")
        yield f"  - {{{', '.join(parts)}}}"
    yield ""


def _tariff(answers: Answers) -> Iterator[str]:
    if answers.tariff is not None:
        price = number(answers.tariff.per_kwh)
        yield "# What a kilowatt-hour costs."
        yield f"tariff: {{currency: {_text(answers.tariff.currency)}, per_kwh: {price}}}"


def _id(name: str) -> str:
    """A name, quoted where the bare word would mean a number or a yes."""
    return name if isinstance(bare(name), str) else _text(name)


def _text(value: str) -> str:
    """Always quoted, as no bare word then means something else; JSON is YAML."""
    return json.dumps(value, ensure_ascii=False)
