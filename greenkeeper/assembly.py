"""The parts of a keeper, made from its settings.

Lives here: which class serves which kind of probe, contact, output, journal and broker, and
what must be made anew when the settings change. Does not live here: the loop (daemon.py).
"""

from collections.abc import Collection, Iterable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from greenkeeper import __version__, control, folders, last_night, morning_file, outlook_file
from greenkeeper.broker.client import BrokerClient, same_device
from greenkeeper.broker.exchange import Exchange
from greenkeeper.clock import Clock
from greenkeeper.control import Plan
from greenkeeper.errors import GreenkeeperError
from greenkeeper.house.network import Parameters
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.house.wax import NO_WAX, Wax
from greenkeeper.house.weather import FrostyNight
from greenkeeper.inbox import Inbox
from greenkeeper.journal.writer import JournalWriter
from greenkeeper.keepsakes import Keepsakes
from greenkeeper.learned_file import FILE_NAME as LEARNED_FILE
from greenkeeper.learned_file import Notices
from greenkeeper.model import Condition, Now
from greenkeeper.outputs import OutputDriver, relays_file
from greenkeeper.outputs.build import build_drivers, build_enable, build_remote
from greenkeeper.outputs.modelled import ModelledDriver
from greenkeeper.outputs.rivals import rivals_of
from greenkeeper.outputs.switchboard import Switchboard
from greenkeeper.probes.build import build_groups, build_hygrometer_groups
from greenkeeper.probes.build_inputs import build_contacts
from greenkeeper.probes.collector import Collector, ContactCollector, HygrometerCollector
from greenkeeper.probes.modelled import ModelledGroup
from greenkeeper.settings.derived import heats_with, isolated_by, plants_minimum_c
from greenkeeper.settings.load import load
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.sensors import ModelledProbe
from greenkeeper.settings.switches import ModelledOutput
from greenkeeper.status import About, StatusFile
from greenkeeper.wear import FILE_NAME as WEAR_FILE
from greenkeeper.wear import Wear

if TYPE_CHECKING:
    from greenkeeper.alarms.desk import Desk
    from greenkeeper.alarms.heartbeat import Heartbeat

# A tick waits this share of poll_s for slow probes: eight read one by one take 6 s.
_PROBE_SHARE = 0.8

# Which sections of the settings each part depends on; a change makes that part anew.
# All hardware together: a line has one owner, and its pin may have got another job.
_HARDWARE = (
    "probes", "onewire", "chips", "outputs", "vents", "enable", "inputs", "gpio", "house", "poll_s"
)  # fmt: skip
_HYGROMETERS = ("hygrometers", "chips", "poll_s")
_ALARMS = ("site", "zones", "plants", "alarms")
_HEARTBEAT = ("alarms", "poll_s")
_FIXED = ("folders",)


class Parts(NamedTuple):
    settings_file: Path
    settings: Settings
    version: str
    plan: Plan
    collector: Collector
    contacts: ContactCollector
    switchboard: Switchboard
    journal: JournalWriter | None
    exchange: Exchange  # what probes and outputs read from the broker and send through it
    broker: BrokerClient | None
    keepsakes: Keepsakes
    wear: Wear
    learned: Notices
    outlook: outlook_file.Newest
    morning: morning_file.Newest
    inbox: Inbox
    status_file: StatusFile
    troubles: tuple[Condition, ...]  # met while assembling, none of them fatal
    started_s: float  # monotonic second of the first assembling
    hygrometers: HygrometerCollector | None = None  # None: the settings have none
    alarms: "Desk | None" = None  # None: nobody is written to
    heartbeat: "Heartbeat | None" = None

    @property
    def site(self) -> str:
        return self.settings.site.name

    @property
    def poll_s(self) -> float:
        return self.settings.poll_s

    def about(self, started: Now) -> About:
        settings = self.settings
        return About(
            version=self.version,
            site=settings.site.name,
            timezone=settings.site.timezone,
            started_utc_s=started.utc_s,
            poll_s=settings.poll_s,
            outdoor_probe=settings.site.outdoor_probe,
            zone_probes={name: zone.probes for name, zone in settings.zones.items()},
            zone_minimum_c={name: plants_minimum_c(settings, name) for name in settings.zones},
            modes=self.plan.jobs,
            rated_operations={name: life.rated for name, life in self.plan.gear.lives.items()},
            contacts={name: (each.tells, each.of) for name, each in settings.inputs.items()},
        )


def assemble(settings_file: Path, settings: Settings, clock: Clock) -> Parts:
    """Everything a keeper needs, every output claimed and off.

    Raises GreenkeeperError when an output cannot be claimed or the runtime folder cannot
    be made: without those there is nothing to keep. A journal or a broker that fails is a
    condition, not an error.
    """
    runtime, state = folders.runtime_folder(settings), folders.state_folder(settings)
    _make_runtime(runtime)
    # Before the first claim: from then on a relay may be left on.
    troubles = _write_down_relays(state, settings)
    exchange = Exchange()
    hardware = _hardware(settings, runtime, clock, exchange)
    try:
        journal = _journal(settings, clock)
        broker = _broker(settings, clock, clock.mono_s(), exchange)
        alarms, heartbeat = _alarms(settings, clock), _heartbeat(settings)
        return Parts(
            settings_file=settings_file,
            settings=settings,
            version=__version__,
            plan=control.make_plan(settings),
            collector=hardware.collector,
            contacts=hardware.contacts,
            switchboard=hardware.switchboard,
            journal=None if isinstance(journal, Condition) else journal,
            exchange=exchange,
            broker=None if isinstance(broker, Condition) else broker,
            keepsakes=Keepsakes(state / "keepsakes.json"),
            wear=Wear(state / WEAR_FILE),
            learned=Notices(state / LEARNED_FILE, clock),
            outlook=outlook_file.Newest(state / outlook_file.FILE_NAME, clock),
            morning=morning_file.Newest(state / morning_file.FILE_NAME, clock),
            inbox=Inbox(runtime),
            status_file=StatusFile(runtime),
            troubles=(*troubles, *_failures(journal, broker, alarms, heartbeat)),
            started_s=clock.mono_s(),
            hygrometers=_hygrometers(settings, clock, exchange),
            alarms=None if isinstance(alarms, Condition) else alarms,
            heartbeat=None if isinstance(heartbeat, Condition) else heartbeat,
        )
    except BaseException:
        hardware.switchboard.close()
        raise


def reassemble(old: Parts, clock: Clock) -> Parts:
    """Parts for the settings file as it is now; what did not change is kept as it is.

    Raises GreenkeeperError, the old parts still in service, when the new settings have
    faults or their outputs cannot be claimed.
    """
    settings, plan = _understood(old.settings_file)
    changed = _changes(old.settings, settings)
    if changed & set(_FIXED):
        raise GreenkeeperError("the folders cannot change while the keeper runs: restart it")
    parts = old._replace(settings=settings, plan=plan)
    if changed & set(_HYGROMETERS):
        parts = parts._replace(hygrometers=_hygrometers(settings, clock, old.exchange))
    try:
        parts = _with_hardware_of(parts, old, changed, clock)
    except BaseException:
        if parts.hygrometers is not None and parts.hygrometers is not old.hygrometers:
            parts.hygrometers.close()
        raise
    if old.hygrometers is not None and parts.hygrometers is not old.hygrometers:
        old.hygrometers.close()
    if old.journal is not None and folders.journal_file(settings) == folders.journal_file(
        old.settings
    ):
        # Closing and opening anew could hold the loop up for as long as a slow card likes.
        old.journal.use(settings)
    else:
        parts = _with_new_journal(parts, clock)
    if changed & set(_ALARMS):
        parts = _with_new_alarms(parts, clock)
    if changed & set(_HEARTBEAT):
        parts = _with_new_heartbeat(parts)
    # Whatever changed, the mark of the settings did, and the broker is told it.
    return _with_new_broker(parts, old.settings, clock) if changed else parts


def _with_hardware_of(parts: Parts, old: Parts, changed: set[str], clock: Clock) -> Parts:
    """Probes and outputs as the new settings want them; untouched where nothing changed."""
    settings = parts.settings
    if changed & set(_HARDWARE):
        hardware, stuck = _replace_hardware(old, settings, clock)
        # Only now: had the new outputs been refused, the old relays would still be in use.
        # Until it is written, `safe` reads the new ones from the settings file.
        troubles = (*stuck, *_write_down_relays(folders.state_folder(settings), settings))
        parts = parts._replace(**hardware._asdict(), troubles=troubles)
    parts.switchboard.keep_apart(rivals_of(settings))
    return parts


def _understood(file: Path) -> tuple[Settings, Plan]:
    """The settings in the file, and what follows from them. Raises GreenkeeperError: even a
    fault of this program is a refusal here, for nothing has been touched yet."""
    try:
        settings = load(file)
        return settings, control.make_plan(settings)
    except GreenkeeperError:
        raise
    except Exception as error:
        raise GreenkeeperError(f"{file} meets a fault in this program: {error!r}") from error


def _with_new_journal(parts: Parts, clock: Clock) -> Parts:
    if parts.journal is not None:
        parts.journal.close(clock.now(), clean=True)
    made = _journal(parts.settings, clock)
    troubles = (*_but(parts.troubles, "journal"), *_failures(made))
    return parts._replace(journal=None if isinstance(made, Condition) else made, troubles=troubles)


def _with_new_broker(parts: Parts, before: Settings, clock: Clock) -> Parts:
    """A device of another name, or on another broker, leaves nothing of the old one behind."""
    if parts.broker is not None:
        parts.broker.close(remove=not same_device(before, parts.settings))
    made = _broker(parts.settings, clock, parts.started_s, parts.exchange)
    troubles = (*_but(parts.troubles, "broker"), *_failures(made))
    return parts._replace(broker=None if isinstance(made, Condition) else made, troubles=troubles)


def _with_new_alarms(parts: Parts, clock: Clock) -> Parts:
    """A desk that stands goes on: closing it would wait for a message under way."""
    if parts.alarms is not None and _tells_somebody(parts.settings):
        parts.alarms.use(parts.settings)
        return parts
    if parts.alarms is not None:
        parts.alarms.close(clock.now(), patience_s=0.0)
    made = _alarms(parts.settings, clock)
    troubles = (*_but(parts.troubles, "alarms"), *_failures(made))
    return parts._replace(alarms=None if isinstance(made, Condition) else made, troubles=troubles)


def _with_new_heartbeat(parts: Parts) -> Parts:
    if parts.heartbeat is not None:
        parts.heartbeat.close()
    made = _heartbeat(parts.settings)
    troubles = (*_but(parts.troubles, "heartbeat"), *_failures(made))
    return parts._replace(
        heartbeat=None if isinstance(made, Condition) else made, troubles=troubles
    )


def _failures(*made: object) -> list[Condition]:
    return [each for each in made if isinstance(each, Condition)]


def _but(troubles: Iterable[Condition], subject: str) -> list[Condition]:
    return [each for each in troubles if each.subject != subject]


def _changes(before: Settings, after: Settings) -> set[str]:
    return {name for name in Settings.model_fields if getattr(before, name) != getattr(after, name)}


def _make_runtime(runtime: Path) -> None:
    try:
        runtime.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise GreenkeeperError(
            f"the runtime folder {runtime} cannot be made: {error.strerror}. "
            "Name another under folders: runtime: in the settings."
        ) from error


def _write_down_relays(state: Path, settings: Settings) -> tuple[Condition, ...]:
    """Write down the relays for `greenkeeper safe`. A full card must not stop control."""
    try:
        state.mkdir(parents=True, exist_ok=True)
        relays_file.remember(state / relays_file.FILE_NAME, settings)
    except OSError as error:
        text = f"the relays cannot be written down in {state}: {error.strerror}"
        return (Condition("keepsakes-failing", "relays", text),)
    return ()


class Hardware(NamedTuple):
    """The parts that hold lines, buses and threads; fields of Parts."""

    collector: Collector
    contacts: ContactCollector
    switchboard: Switchboard


def _hardware(settings: Settings, runtime: Path, clock: Clock, exchange: Exchange) -> Hardware:
    house = _simulated_house(settings, clock)
    with ExitStack() as undo:  # all of it, each step whatever the others do
        remote = build_remote(settings, exchange, clock)
        for driver in remote.values():
            undo.callback(driver.close)
        brought = {**_modelled_drivers(settings, house, clock), **remote}
        drivers = build_drivers(settings, runtime, brought)
        for driver in drivers.values():
            undo.callback(driver.close)
        groups = build_groups(settings, clock, _modelled_group(settings, house, clock), exchange)
        patience_s = _PROBE_SHARE * settings.poll_s
        collector = Collector(groups, clock, patience_s)
        undo.callback(collector.close)
        contacts = ContactCollector(build_contacts(settings, runtime, clock), clock, patience_s)
        undo.callback(contacts.close)
        enable = build_enable(settings, runtime, clock)
        if enable is not None:
            undo.callback(enable.close)
        made = Switchboard(drivers, clock, rivals=rivals_of(settings), enable=enable)
        undo.pop_all()
    return Hardware(collector, contacts, made)


def _hygrometers(
    settings: Settings, clock: Clock, exchange: Exchange
) -> HygrometerCollector | None:
    """Raises GreenkeeperError for a script that cannot be followed."""
    groups = build_hygrometer_groups(settings, clock, exchange)
    if not groups:
        return None
    return HygrometerCollector(groups, clock, _PROBE_SHARE * settings.poll_s)


def _replace_hardware(
    old: Parts, settings: Settings, clock: Clock
) -> tuple[Hardware, list[Condition]]:
    """New hardware in place of the old, or the old made again; and the old outputs that
    would not go off and that nobody holds any more.

    A line has one owner, so the old outputs must be let go (off) before the new are
    claimed. If even the old ones cannot be claimed again, the error ends the keeper.
    """
    runtime = folders.runtime_folder(settings)
    failed = old.switchboard.close()
    old.collector.close()
    old.contacts.close()
    try:
        hardware = _hardware(settings, runtime, clock, old.exchange)
    except Exception as error:
        again = _hardware(old.settings, runtime, clock, old.exchange)
        text = str(error) if isinstance(error, GreenkeeperError) else repr(error)
        raise HardwareRefusedError(text, again) from error
    gone = {name for name in old.settings.outputs if not _same_output(old.settings, settings, name)}
    return hardware, [each for each in failed if each.subject in gone]


def _same_output(before: Settings, after: Settings, name: str) -> bool:
    """It was claimed anew, and with that driven off."""
    return before.gpio == after.gpio and before.outputs[name] == after.outputs.get(name)


class HardwareRefusedError(GreenkeeperError):
    """New outputs could not be claimed; the old ones were made again and are here."""

    def __init__(self, message: str, hardware: Hardware) -> None:
        super().__init__(message)
        self.hardware = hardware


def _simulated_house(settings: Settings, clock: Clock) -> SimulatedHouse | None:
    wants = any(isinstance(probe, ModelledProbe) for probe in settings.probes.values())
    wants |= any(isinstance(output, ModelledOutput) for output in settings.outputs.values())
    if not wants:
        return None
    wax = settings.house.wax_vent
    return SimulatedHouse(
        Parameters.from_settings(settings.house),
        FrostyNight(),
        clock.now(),
        wax=NO_WAX if wax is None else Wax(wax.from_c, wax.open_c),
    )


def _modelled_group(
    settings: Settings, house: SimulatedHouse | None, clock: Clock
) -> ModelledGroup | None:
    places = {
        name: probe.place
        for name, probe in settings.probes.items()
        if isinstance(probe, ModelledProbe)
    }
    return ModelledGroup(house, places, clock) if house is not None and places else None


def _modelled_drivers(
    settings: Settings, house: SimulatedHouse | None, clock: Clock
) -> Mapping[str, OutputDriver]:
    if house is None:
        return {}
    return {
        name: ModelledDriver(
            name,
            house,
            output.drives,
            output.power_w,
            clock,
            moves=_moves(settings, name),
            in_tent=_in_tent(settings, name),
        )
        for name, output in settings.outputs.items()
        if isinstance(output, ModelledOutput)
    }


def _in_tent(settings: Settings, output: str) -> bool:
    tent = settings.house.tent
    heat = settings.zones[tent.zone].heat if tent is not None else None
    return heat is not None and output in heats_with(heat)


def _moves(settings: Settings, output: str) -> Collection[str]:
    """What an isolator or a vent's relay moves in the modelled house."""
    if settings.outputs[output].role == "isolator":
        return isolated_by(settings, output)
    return [name for name, vent in settings.vents.items() if output in (vent.open, vent.close)]


def _journal(settings: Settings, clock: Clock) -> JournalWriter | Condition:
    """Or why there is none: no memory for its thread, say. The house is kept all the same."""
    try:
        return JournalWriter(folders.journal_file(settings), settings, clock.now(), __version__)
    except Exception as error:  # noqa: BLE001 - no record is worth a house that is not kept
        return Condition("journal-failing", "journal", f"cannot be begun: {error}")


def _tells_somebody(settings: Settings) -> bool:
    return settings.alarms is not None and settings.alarms.addresses_file is not None


def _alarms(settings: Settings, clock: Clock) -> "Desk | Condition | None":
    """Or why there is none. Nothing of this may cost the house its keeper."""
    if not _tells_somebody(settings):
        return None
    try:
        from greenkeeper.alarms.desk import Desk  # memory that most houses need not spend

        return Desk(settings, folders.state_folder(settings), clock.now())
    except Exception as error:  # noqa: BLE001 - see above
        return Condition("alarms-failing", "alarms", f"cannot be begun: {error}")


def _heartbeat(settings: Settings) -> "Heartbeat | Condition | None":
    if settings.alarms is None or settings.alarms.heartbeat_file is None:
        return None
    try:
        from greenkeeper.alarms.heartbeat import Heartbeat  # as above

        return Heartbeat(settings)
    except Exception as error:  # noqa: BLE001 - see above
        return Condition("heartbeat-failing", "heartbeat", f"cannot be begun: {error}")


def _broker(
    settings: Settings, clock: Clock, started_s: float, exchange: Exchange
) -> BrokerClient | Condition | None:
    """Or why there is none: no file handles for its bell, say."""
    if settings.broker is None:
        return None
    try:
        state = folders.state_folder(settings)
        nights = last_night.newest(state / last_night.FILE_NAME)
        client = BrokerClient(
            settings,
            clock,
            __version__,
            started_s=started_s,
            exchange=exchange,
            nights=nights.at,
            outlooks=outlook_file.Newest(state / outlook_file.FILE_NAME, clock).said,
        )
    except Exception as error:  # noqa: BLE001 - control never depends on the broker
        return Condition("broker-lost", "broker", f"its client cannot be made: {error}")
    client.start()
    return client
