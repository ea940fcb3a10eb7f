"""What this keeper shows on the broker: settings -> device, Tick -> table of topics.

Lives here: which nodes and properties there are, how each is filled from a tick, and
which alerts are up. Does not live here: how a value is written (payloads.py), the
convention's shapes (homie.py), and when anything is said (session.py). Pure.

Node IDs carry their kind ("probe-ridge", "output-fan"), because a probe and a zone may
share a name. Temperatures are °C.
"""

import hashlib
from collections.abc import Mapping

from greenkeeper.broker import damp, payloads
from greenkeeper.broker.gear import contact_node, output_node, vent_node
from greenkeeper.broker.homie import CELSIUS, Device, Node, Property, identifier
from greenkeeper.broker.last_night import Nights, last_night_node
from greenkeeper.broker.orders import Reads
from greenkeeper.broker.outlook import Outlooks, outlook_node
from greenkeeper.broker.zones import zone_node
from greenkeeper.errors import CATALOGUE, Level
from greenkeeper.model import Alarm, Bad, Fault, Good, Latch, Tick
from greenkeeper.settings.schema import Settings

OK = "ok"
GUARDING, ALARMED, BLIND, LOCKED_OUT, STALLED = (
    "guarding",  # every zone is measured, nothing calls for a person
    "alarmed",  # it goes on, but somebody should look
    "blind",  # a zone has no trusted probe
    "locked-out",  # a latch holds the heaters off
    "stalled",  # this program lives, but its control loop gives no ticks
)
_STATES = (GUARDING, ALARMED, BLIND, LOCKED_OUT, STALLED)

_WORST = ("none", "notice", "warning", "alarm")  # as errors.Level counts

_Node = Node[Tick]
_Property = Property[Tick]


class KeeperDevice:
    """The whole keeper as one Homie device. Raises ValueError without broker settings."""

    def __init__(
        self,
        settings: Settings,
        *,
        program: str,
        started_s: float,
        nights: Nights = lambda _: None,
        outlooks: Outlooks = lambda: None,
    ) -> None:
        """program: this program's version. started_s: monotonic second of its start.
        nights: gives the last night at a monotonic second, for as long as there is none None.
        outlooks: gives the outlook that holds, likewise."""
        if settings.broker is None:
            raise ValueError("the settings name no broker")
        name = settings.broker.device or settings.site.name
        nodes = {"keeper": _keeper(settings, program, started_s)}
        nodes |= {f"probe-{each}": _probe(each) for each in settings.probes}
        nodes |= {f"hygrometer-{each}": damp.hygrometer(each) for each in settings.hygrometers}
        nodes |= {f"output-{name}": output_node(name, of) for name, of in settings.outputs.items()}
        nodes |= {f"vent-{name}": vent_node(name, vent) for name, vent in settings.vents.items()}
        nodes |= {f"contact-{name}": contact_node(name, of) for name, of in settings.inputs.items()}
        nodes |= {f"zone-{each}": zone_node(settings, each) for each in settings.zones}
        nodes["last-night"] = last_night_node(settings, nights)
        nodes["outlook"] = outlook_node(outlooks)
        self._device = Device(settings.broker.domain, name, nodes)

    @property
    def root(self) -> str:
        """Every topic of the device begins with this and a slash."""
        return self._device.root

    @property
    def description(self) -> str:
        return self._device.description

    @property
    def topics(self) -> frozenset[str]:
        """The value topic of every property the description names."""
        return self._device.topics

    @property
    def nodes(self) -> Mapping[str, _Node]:
        return self._device.nodes

    @property
    def commands(self) -> Mapping[str, Reads]:
        """Topic -> what a payload on it orders. Empty unless the settings allow any."""
        return self._device.commands

    def table(self, tick: Tick, *, stalled: bool = False) -> dict[str, str]:
        """Topic -> payload of all values and alerts; a zero-length payload means: no value.

        An alert that is not up is not in the table at all.
        """
        table = self._device.values(tick)
        if stalled:
            table[f"{self.root}/keeper/state"] = STALLED
        for alert_id, text in alerts(tick).items():
            table[self._device.alert_topic(alert_id)] = payloads.text(text)
        return table


def fingerprint(settings: Settings) -> str:
    """A short mark that changes whenever the settings do."""
    return hashlib.sha256(settings.model_dump_json().encode()).hexdigest()[:8]


# --- alerts --------------------------------------------------------------------------


def alerts(tick: Tick) -> dict[str, str]:
    """Alert ID -> text, for every active alarm and every latch."""
    found: dict[str, list[str]] = {}
    latched = {(latch.code, latch.subject) for latch in tick.memory.latches.values()}
    for key, entry in tick.memory.alarms.items():
        if entry.active and key not in latched:
            found.setdefault(_alert_id(entry.alarm), []).append(_alert_text(entry.alarm))
    for latch in tick.memory.latches.values():
        text = f"{_alert_text(latch)}; latched as {latch.name}"
        found.setdefault(_alert_id(latch), []).append(text)
    # Two subjects may look alike as IDs; then one alert speaks for both.
    return {alert_id: "; ".join(dict.fromkeys(texts)) for alert_id, texts in found.items()}


def _alert_id(cause: Alarm | Latch) -> str:
    return identifier(f"{cause.code} {cause.subject}")


def _alert_text(cause: Alarm | Latch) -> str:
    entry = CATALOGUE.get(cause.code)
    title = cause.code if entry is None else entry.title
    detail = f" ({cause.text})" if cause.text else ""
    return f"{cause.subject}: {title}{detail}"


# --- the keeper itself ---------------------------------------------------------------


def _keeper(settings: Settings, program: str, started_s: float) -> _Node:
    mark = fingerprint(settings)

    def uptime(tick: Tick) -> str:
        # Whole minutes, so that it is not news at every tick.
        return payloads.duration((tick.now.mono_s - started_s) // 60.0 * 60.0)

    return Node(
        "keeper",
        "keeper",
        {
            "state": Property("state of the watch", "enum", _state, format=",".join(_STATES)),
            "uptime": Property("running for", "duration", uptime),
            "started": Property(
                "started", "datetime", lambda tick: payloads.civil(tick.now, started_s)
            ),
            "program": Property("program version", "string", lambda _: payloads.text(program)),
            "settings": Property("mark of the settings in force", "string", lambda _: mark),
            "alarms": Property("alarms that stand", "integer", _count_alarms, unit="#"),
            "worst": Property("the worst of them", "enum", _worst, format=",".join(_WORST)),
        },
    )


def _state(tick: Tick) -> str:
    """The worst that is true of the house as a whole."""
    if tick.memory.latches:
        return LOCKED_OUT
    if any(zone.coldest_c is None for zone in tick.zones):
        return BLIND
    return ALARMED if _calls_for_a_person(tick) else GUARDING


def _count_alarms(tick: Tick) -> str:
    return payloads.integer(len(alerts(tick)))


def _worst(tick: Tick) -> str:
    codes = [code for (code, _), entry in tick.memory.alarms.items() if entry.active]
    codes += [latch.code for latch in tick.memory.latches.values()]
    levels = [CATALOGUE[code].level if code in CATALOGUE else Level.ALARM for code in codes]
    return _WORST[max(levels, default=0)]


def _calls_for_a_person(tick: Tick) -> bool:
    active = [code for (code, _), entry in tick.memory.alarms.items() if entry.active]
    return any(code not in CATALOGUE or CATALOGUE[code].level >= Level.ALARM for code in active)


# --- probes --------------------------------------------------------------------------


def _probe(name: str) -> _Node:
    """The value is deleted while the probe is not trusted: the convention has no word for
    "unknown", and a number left behind would be taken for a measurement."""

    def temperature(tick: Tick) -> str | None:
        verdict = tick.verdicts.get(name)
        return payloads.decimal(verdict.temp_c) if isinstance(verdict, Good) else None

    def status(tick: Tick) -> str:
        verdict = tick.verdicts.get(name, Bad(Fault.MISSING, ""))
        return OK if isinstance(verdict, Good) else verdict.fault.value

    def reason(tick: Tick) -> str:
        verdict = tick.verdicts.get(name, Bad(Fault.MISSING, "nothing was heard of it"))
        return payloads.text("" if isinstance(verdict, Good) else verdict.detail)

    def last_good(tick: Tick) -> str | None:
        memory = tick.memory.probes.get(name)
        if memory is None or memory.good_s is None:
            return None
        return payloads.civil(tick.now, memory.good_s)

    statuses = ",".join([OK, *(fault.value for fault in Fault)])
    return Node(
        name,
        "probe",
        {
            "temperature": Property("temperature", "float", temperature, unit=CELSIUS),
            "status": Property("what the probe is good for", "enum", status, format=statuses),
            "reason": Property("why", "string", reason),
            "last-good": Property("last trusted reading", "datetime", last_good),
        },
    )
