"""What watch looks after, boiled down from the settings once.

Lives here: heaters with the probes and zones they warm, contacts with what they are
about, and where the sun is asked about. Does not live here: thresholds (thresholds.py).
Probes are meant by their place in the order of the settings, as in a Minute.
"""

from typing import Literal, NamedTuple

from greenkeeper.control.watching.thresholds import (
    HeaterLimits,
    Limits,
    as_written,
    heater_limits,
    limits_of,
)
from greenkeeper.settings import derived
from greenkeeper.settings.schema import Settings

Tells = Literal["door-open", "mains-present", "contactor-closed", "heater-current"]


class HeaterPart(NamedTuple):
    name: str
    place: int  # in a Minute's on_s
    probes: tuple[int, ...]  # of the zones it warms
    zones: tuple[int, ...]  # in the order of the settings
    limits: HeaterLimits
    pulsed: bool = False  # some zone heats with it in pulses of a minute
    partner: int | None = None  # in a Minute's on_s, of the other heater of its zone
    partner_power: float = 1.0  # that one's, in shares of its own
    around: tuple[int, ...] = ()  # under a tent: the probes of the house about it


class ZonePart(NamedTuple):
    name: str
    probes: tuple[int, ...]
    heaters: tuple[str, ...]


class ContactPart(NamedTuple):
    name: str
    tells: Tells
    of: str | None
    heaters: tuple[str, ...]  # those it is about
    settle_s: float


class WatchPlan(NamedTuple):
    probes: tuple[str, ...]
    inside: tuple[int, ...]  # every probe but the outdoor one
    outdoor: int | None
    heaters: tuple[HeaterPart, ...]
    coolers: tuple[str, ...]  # fans; vents are known by their places
    zones: tuple[ZonePart, ...]
    contacts: tuple[ContactPart, ...]
    latitude: float | None
    longitude: float | None
    limits: Limits
    kept_s: float  # how far back the longest question goes
    contact_stale_s: float


def watch_plan(settings: Settings) -> WatchPlan:
    probes = tuple(settings.probes)
    place = {name: index for index, name in enumerate(probes)}
    outdoor = settings.site.outdoor_probe
    heaters = _heaters(settings, place)
    powers = {each.name: settings.outputs[each.name].power_w for each in heaters}
    limits = limits_of(settings, powers)
    longest_s = max(
        3.0 * 3600.0,
        limits.limit_after_s,
        limits.displaced_after_s,
        *(2.0 * each.limits.response_within_s for each in heaters),
    )
    return WatchPlan(
        probes=probes,
        inside=tuple(place[name] for name in probes if name != outdoor),
        outdoor=None if outdoor is None else place[outdoor],
        heaters=heaters,
        coolers=tuple(name for name in derived.ventilators(settings) if name in settings.outputs),
        zones=tuple(
            ZonePart(
                name,
                tuple(place[probe] for probe in zone.probes),
                () if zone.heat is None else derived.heats_with(zone.heat),
            )
            for name, zone in settings.zones.items()
        ),
        contacts=_contacts(settings, heaters),
        latitude=settings.site.latitude,
        longitude=settings.site.longitude,
        limits=limits,
        kept_s=longest_s + 300.0,
        contact_stale_s=max(45.0, settings.lease_s),
    )


def _heaters(settings: Settings, place: dict[str, int]) -> tuple[HeaterPart, ...]:
    zones = list(settings.zones.values())
    with_heat = {i: zone.heat for i, zone in enumerate(zones) if zone.heat is not None}
    names = list(
        dict.fromkeys(name for heat in with_heat.values() for name in derived.heats_with(heat))
    )
    parts = []
    for index, name in enumerate(names):
        mine = [i for i, heat in with_heat.items() if name in derived.heats_with(heat)]
        probes = dict.fromkeys(place[probe] for i in mine for probe in zones[i].probes)
        tented = all(derived.is_tented(settings, list(settings.zones)[i]) for i in mine)
        limits = heater_limits(settings, settings.outputs[name].power_w, tented=tented)
        heats = [with_heat[i] for i in mine]
        part = HeaterPart(
            name, index, tuple(probes), tuple(mine), as_written(limits, heats),
            pulsed=any(map(derived.looks_ahead, heats)),
            around=_about_the_tent(settings, place) if tented else (),
        )  # fmt: skip
        others = [each for heat in heats for each in derived.heats_with(heat) if each != name]
        parts.append(_beside(part, others[0], names, settings) if others else part)
    return tuple(parts)


def _about_the_tent(settings: Settings, place: dict[str, int]) -> tuple[int, ...]:
    outside = [
        zone for name, zone in settings.zones.items() if not derived.is_tented(settings, name)
    ]
    return tuple(dict.fromkeys(place[probe] for zone in outside for probe in zone.probes))


def _beside(part: HeaterPart, other: str, names: list[str], settings: Settings) -> HeaterPart:
    powers_w = [settings.outputs[each].power_w for each in (other, part.name)]
    stated_w = [each for each in powers_w if each is not None]
    power = stated_w[0] / stated_w[1] if len(stated_w) == len(powers_w) else 1.0
    return part._replace(partner=names.index(other), partner_power=power)


def _contacts(settings: Settings, heaters: tuple[HeaterPart, ...]) -> tuple[ContactPart, ...]:
    zones = list(settings.zones)
    parts = []
    for name, contact in settings.inputs.items():
        of = contact.of
        about = tuple(
            heater.name
            for heater in heaters
            if of is None or heater.name == of or of in (zones[i] for i in heater.zones)
        )
        parts.append(ContactPart(name, contact.tells, of, about, contact.settle_s))
    return tuple(parts)
