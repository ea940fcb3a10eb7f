"""The rest: probes against the poll, the night, the journal, the broker and alarms."""

from collections.abc import Iterator
from ipaddress import ip_address

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding, celsius, is_written, listed, written
from greenkeeper.settings.checks.thermostat import heat_leans
from greenkeeper.settings.faults import Path, number
from greenkeeper.settings.schema import Broker, Settings

_PLAIN_PORT = 1883
_TLS_PORT = 8883
_NEAR_SETPOINT_K = 10.0


def faults(settings: Settings) -> Iterator[Finding]:
    yield from _stale_before_the_next_poll(settings)
    yield from _ranges(settings)
    yield from _blind_in_frost(settings)
    yield from _night(settings)
    yield from _journal(settings)
    yield from _password(settings)
    yield from _alarms(settings)
    yield from _certificate(settings)
    yield from _forecast(settings)


def remarks(settings: Settings) -> Iterator[Finding]:
    yield from _nearly_blind_in_frost(settings)
    if settings.broker is not None:
        yield from _readable_link(settings.broker)


def _stale_before_the_next_poll(settings: Settings) -> Iterator[Finding]:
    """A reading must survive one missed poll, or every hiccup would be a fault."""
    least_s = 2 * settings.poll_s + 1
    short = {name: probe for name, probe in settings.probes.items() if probe.stale_s < least_s}
    for name, probe in short.items():
        if is_written(probe, "stale_s"):
            allowed = f"{number(least_s)} or more (seconds): two polls and one second"
            path = ("probes", name, "stale_s")
            yield Finding(path, number(probe.stale_s), allowed, leans_on=(("poll_s",),))
    others = [name for name, probe in short.items() if not is_written(probe, "stale_s")]
    if others:
        most_s = (short[others[0]].stale_s - 1) / 2
        hint = f"Or give a stale_s of {number(least_s)} or more to {listed(others)}."
        leans_on = tuple(("probes", name, "stale_s") for name in others)
        allowed = f"at most {number(most_s)} (seconds), by the default stale_s"
        yield Finding(("poll_s",), number(settings.poll_s), allowed, hint, leans_on)


def _forecast(settings: Settings) -> Iterator[Finding]:
    """A source at least, each with what it takes."""
    asked = settings.forecast
    if asked is None:
        return
    if asked.url is None and asked.topic is None:
        yield Finding(("forecast",), "neither url nor topic", "one of them, or both")
    if asked.url is not None and asked.identity is None:
        hint = "A name, and an address at which you can be reached: services refuse who hides."
        yield Finding(("forecast",), "url without identity", "both of them", hint)
    if asked.topic is not None and settings.broker is None:
        path = ("forecast", "topic")
        yield Finding(path, "a topic, and no broker", "with broker: in the settings")


def _ranges(settings: Settings) -> Iterator[Finding]:
    for name, probe in settings.probes.items():
        if probe.lowest_c >= probe.highest_c:
            allowed = f"below its highest_c of {celsius(probe.highest_c)}"
            path = ("probes", name, "lowest_c")
            leans_on = (("probes", name, "highest_c"),)
            yield Finding(path, celsius(probe.lowest_c), allowed, leans_on=leans_on)


def _blind_in_frost(settings: Settings) -> Iterator[Finding]:
    """Below lowest_c a probe is not believed, and heat needs one that is."""
    for zone_id, name, lowest_c, setpoint_c in _heated_probes(settings):
        if lowest_c >= setpoint_c:
            allowed = f"below {celsius(setpoint_c)}, where {zone_id} starts to heat"
            hint = "Below its lowest_c a probe is not believed: heat would stay off in frost."
            leans_on = heat_leans(zone_id)
            path = ("probes", name, "lowest_c")
            yield Finding(path, celsius(lowest_c), allowed, hint, leans_on)


def _nearly_blind_in_frost(settings: Settings) -> Iterator[Finding]:
    for zone_id, name, lowest_c, setpoint_c in _heated_probes(settings):
        if setpoint_c - _NEAR_SETPOINT_K < lowest_c < setpoint_c:
            found = f"{celsius(lowest_c)} is close below the heating setpoint of {zone_id}"
            hint = "Colder than that the probe is not believed, and heat stays off."
            yield Finding(("probes", name, "lowest_c"), found, hint=hint)


def _heated_probes(settings: Settings) -> Iterator[tuple[str, str, float, float]]:
    """Zone, probe, the probe's lowest_c and the zone's lowest heating setpoint."""
    for zone_id, zone in settings.zones.items():
        setpoints = (derived.heat_setpoint_c(settings, zone_id, night) for night in (False, True))
        known = [setpoint_c for setpoint_c in setpoints if setpoint_c is not None]
        for name in zone.probes:
            if known and name in settings.probes:
                yield zone_id, name, settings.probes[name].lowest_c, min(known)


def _night(settings: Settings) -> Iterator[Finding]:
    night = settings.night
    if night.from_ == night.to:
        key = "to" if is_written(night, "to") else "from"
        other = "from" if key == "to" else "to"
        allowed = "a night that begins and ends at different times"
        yield Finding(("night", key), f"'{night.to}' twice", allowed, "", (("night", other),))


def _journal(settings: Settings) -> Iterator[Finding]:
    journal = settings.journal
    if journal.minutes_days > journal.keep_days:
        key, other = "minutes_days", "keep_days"
        allowed = f"at most {written(journal, other)}, the keep_days"
        found = written(journal, key)
        yield Finding(("journal", key), found, allowed, leans_on=(("journal", other),))


def _password(settings: Settings) -> Iterator[Finding]:
    """MQTT 3.1.1, which is the fall-back, forbids a password alone [MQTT-3.1.2-22]."""
    broker = settings.broker
    if broker is not None and broker.password_file is not None and broker.username is None:
        path = ("broker", "password_file")
        leans_on = (("broker", "username"),)
        yield Finding(path, "a password for nobody", "one beside a username", leans_on=leans_on)


def _alarms(settings: Settings) -> Iterator[Finding]:
    alarms = settings.alarms
    if alarms is None:
        return
    if alarms.addresses_file is None and alarms.heartbeat_file is None:
        allowed = "an addresses_file, a heartbeat_file or both; or no alarms: at all"
        yield Finding(("alarms",), "nobody to tell", allowed)
    quiet = alarms.quiet
    if quiet is not None and quiet.from_ == quiet.to:
        key = "to" if is_written(quiet, "to") else "from"
        other = "from" if key == "to" else "to"
        allowed = "quiet hours that begin and end at different times"
        leans_on = (("alarms", "quiet", other),)
        yield Finding(("alarms", "quiet", key), f"'{quiet.to}' twice", allowed, "", leans_on)


def _certificate(settings: Settings) -> Iterator[Finding]:
    broker = settings.broker
    if broker is None or broker.tls is None:
        return
    tls: Path = ("broker", "tls")
    if broker.is_socket:
        hint = "What goes through a file of this machine nobody else can read."
        yield Finding(tls, "tls beside a socket", "a name or an address as host", hint)
    if broker.tls.key_file is not None and broker.tls.cert_file is None:
        leans_on = ((*tls, "cert_file"),)
        found = "a key without a certificate"
        yield Finding((*tls, "key_file"), found, "one beside cert_file", "", leans_on)
    if broker.tls.cert_file is not None and broker.tls.key_file is None:
        leans_on = ((*tls, "key_file"),)
        found = "a certificate without its key"
        yield Finding((*tls, "cert_file"), found, "one beside key_file", "", leans_on)


def _readable_link(broker: Broker) -> Iterator[Finding]:
    if broker.tls is not None and broker.port == _PLAIN_PORT:
        found = f"{_PLAIN_PORT} is the port without TLS; brokers take TLS on {_TLS_PORT}"
        yield Finding(("broker", "port"), found)
    if broker.tls is None and broker.port == _TLS_PORT:
        found = f"{_TLS_PORT} is the port for TLS, and there is no tls: here"
        yield Finding(("broker", "port"), found)
    if broker.tls is None and broker.password_file is not None and not _is_local(broker.host):
        hint = f"Add tls: {{}} and port: {_TLS_PORT} if the broker offers it."
        found = f"without tls the password travels readable to {broker.host}"
        yield Finding(("broker", "password_file"), found, hint=hint)


def _is_local(host: str) -> bool:
    if host.startswith("/"):
        return True
    if host.lower().rstrip(".") == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
