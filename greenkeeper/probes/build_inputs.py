"""From the settings' inputs to the groups that read them.

Lives here: which kind of contact is read by what. Does not live here: the drivers.
"""

from collections.abc import Mapping
from pathlib import Path

from greenkeeper.clock import Clock
from greenkeeper.gpio import LineError
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.pins import Board
from greenkeeper.probes import ContactGroup
from greenkeeper.probes.contact import GpioContacts, UnreachableContacts
from greenkeeper.probes.scripted import ScriptedContacts
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.switches import GpioInput, ScriptedInput


def build_contacts(settings: Settings, runtime: Path, clock: Clock) -> list[ContactGroup]:
    """Every input of the settings, each in exactly one group.

    runtime: a folder lgpio may write to. Raises GreenkeeperError for a script that cannot be
    followed. A line that cannot be had is no error: that contact is unknown until it can.
    """
    inputs = settings.inputs
    scripts = {n: Path(each.file) for n, each in inputs.items() if isinstance(each, ScriptedInput)}
    groups: list[ContactGroup] = [ScriptedContacts(scripts, clock)] if scripts else []
    wired = {name: each for name, each in inputs.items() if isinstance(each, GpioInput)}
    if wired:  # last, so that nothing is claimed when a script is refused
        groups.append(_wired_contacts(wired, settings.gpio.board, runtime, clock))
    return groups


def _wired_contacts(
    inputs: Mapping[str, GpioInput], board: Board, runtime: Path, clock: Clock
) -> ContactGroup:
    try:
        lines = open_lines(board, runtime)
    except LineError as error:  # the house is kept without them
        return UnreachableContacts(inputs, error, clock)
    return GpioContacts(inputs, lines, clock)
