"""From the settings' probes to the groups that read them.

Lives here: which kind of probe is read by what. Does not live here: the drivers.
"""

from pathlib import Path

from greenkeeper.clock import Clock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.probes import HygrometerGroup, ProbeGroup
from greenkeeper.probes.broker import (
    TO_CELSIUS,
    TO_PERCENT,
    BrokerHygrometers,
    BrokerProbes,
    Mail,
    Source,
)
from greenkeeper.probes.chips import Folders, Wanted
from greenkeeper.probes.kernel import kernel_groups, kernel_humidity_groups
from greenkeeper.probes.onewire import onewire_groups
from greenkeeper.probes.scripted import ScriptedGroup, ScriptedHygrometers
from greenkeeper.settings.damp import BrokerHygrometer, KernelHygrometer, ScriptedHygrometer
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.sensors import (
    BrokerProbe,
    Chips,
    KernelProbe,
    ModelledProbe,
    OnewireProbe,
    ScriptedProbe,
)


def build_groups(
    settings: Settings,
    clock: Clock,
    modelled: ProbeGroup | None = None,
    mail: Mail | None = None,
) -> list[ProbeGroup]:
    """Every probe of the settings, each in exactly one group.

    modelled: the group of the modelled house, with its probes' names; mail: what brings
    reports from the broker; each needed only when the settings have such probes. Raises
    GreenkeeperError for a script that cannot be followed. Probes that are absent from their
    bus are no error: they may come.
    """
    probes = settings.probes
    roms = {name: probe.rom for name, probe in probes.items() if isinstance(probe, OnewireProbe)}
    scripts = {
        name: Path(probe.file) for name, probe in probes.items() if isinstance(probe, ScriptedProbe)
    }
    chips = {
        name: Wanted(probe.chip, probe.at, probe.channel)
        for name, probe in probes.items()
        if isinstance(probe, KernelProbe)
    }
    folder = Path(settings.onewire.folder)
    groups: list[ProbeGroup] = [
        *onewire_groups(roms, folder, settings.onewire.bulk, clock),
        *kernel_groups(chips, folders_of(settings.chips), clock),
    ]
    if scripts:
        groups.append(ScriptedGroup(scripts, clock))
    if modelled is not None:
        groups.append(modelled)
    _check_modelled(settings, modelled)
    sources = {
        name: Source(probe.topic, probe.field or "", TO_CELSIUS[probe.unit])
        for name, probe in probes.items()
        if isinstance(probe, BrokerProbe)
    }
    if sources and mail is not None:  # last: from here on somebody calls
        groups.append(BrokerProbes(sources, mail, clock))
    return groups


def build_hygrometer_groups(
    settings: Settings, clock: Clock, mail: Mail | None = None
) -> list[HygrometerGroup]:
    """Every hygrometer of the settings, each in exactly one group. Raises as build_groups."""
    hygrometers = settings.hygrometers
    chips = {
        name: Wanted(each.chip, each.at, each.channel)
        for name, each in hygrometers.items()
        if isinstance(each, KernelHygrometer)
    }
    scripts = {
        name: Path(each.file)
        for name, each in hygrometers.items()
        if isinstance(each, ScriptedHygrometer)
    }
    groups: list[HygrometerGroup] = [
        *kernel_humidity_groups(chips, folders_of(settings.chips), clock)
    ]
    if scripts:
        groups.append(ScriptedHygrometers(scripts, clock))
    sources = {
        name: Source(each.topic, each.field or "", TO_PERCENT[each.unit])
        for name, each in hygrometers.items()
        if isinstance(each, BrokerHygrometer)
    }
    if sources and mail is not None:
        groups.append(BrokerHygrometers(sources, mail, clock))
    return groups


def folders_of(chips: Chips) -> Folders:
    return Folders(Path(chips.iio_folder), Path(chips.hwmon_folder))


def _check_modelled(settings: Settings, modelled: ProbeGroup | None) -> None:
    wanted = {name for name, probe in settings.probes.items() if isinstance(probe, ModelledProbe)}
    served = set(modelled.names) if modelled is not None else set()
    if wanted != served:
        odd = ", ".join(sorted(wanted ^ served))
        raise GreenkeeperError(
            f"probes of kind 'modelled' need the modelled house, and it needs them: {odd}"
        )
