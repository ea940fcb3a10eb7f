"""A small sound house of our own, to be changed line by line, and what is said about it."""

from greenkeeper.settings import load
from greenkeeper.settings.faults import SettingsError, SettingsFault

FILE = "house.yaml"

SOUND = """\
site:
  name: orchard
  timezone: Europe/Brussels
  outdoor_probe: outdoors
poll_s: 10
probes:
  left: {kind: onewire, rom: 28-000000000001}
  right: {kind: onewire, rom: 28-000000000002, stale_s: 45}
  outdoors: {kind: onewire, rom: 28-000000000003}
outputs:
  heater: {kind: gpio, pin: 17}
  fan: {kind: gpio, pin: 23}
night: {from: '20:00', to: '07:00'}
zones:
  bench:
    probes: [left, right]
    heat:
      output: heater
      setpoint_c: 5
    cool:
      output: fan
      setpoint_c: 26
    ceiling_c: 40
plants:
  - {name: plumbago, zone: bench, min_c: 4}
journal: {keep_days: 3650}
"""


def changed(*changes: tuple[str, str]) -> str:
    """SOUND with each old text, which must be there exactly once, replaced by the new."""
    text = SOUND
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} is not there exactly once"
        text = text.replace(old, new)
    return text


def faults(text: str) -> tuple[SettingsFault, ...]:
    """The faults of a text; none when it is sound."""
    try:
        load.parse(text, FILE)
    except SettingsError as error:
        return error.faults
    return ()


def said(text: str) -> list[str]:
    """Every fault as a grower reads it."""
    return [str(fault) for fault in faults(text)]


def remarks(text: str) -> list[str]:
    """Every remark on a sound text, without its place."""
    return [
        f"{remark.key}: {remark.sentence}{f' | {remark.hint}' if remark.hint else ''}"
        for remark in load.parse_placed(text, FILE).remarks()
    ]
