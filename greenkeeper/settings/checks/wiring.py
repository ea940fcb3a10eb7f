"""Wiring: pins and probe ids, and how hard a relay is worked.

Sources for the pins: Broadcom, BCM2835 ARM Peripherals, table 6-31 (pulls at reset: 0 to
8 up, 9 to 27 down); Raspberry Pi documentation, GPIO and the 40-pin header. Pins 12 and
13 have a second job (hardware PWM) that nothing here asks for: they are not refused.
"""

from collections.abc import Iterator
from typing import NamedTuple

from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding, written
from greenkeeper.settings.faults import Path, number
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.sensors import KernelProbe, OnewireProbe
from greenkeeper.settings.switches import GpioInput, GpioOutput, Output

QUIET_PINS = "12, 13, 16, 17 or 22 to 27"

_EEPROM = "belongs to the memory of add-on boards, and moves at boot"
_SPI = "is a line of the SPI bus"
_SPI_SELECT = "selects an SPI device: high at rest, and pulled up at reset"
_PULLED_UP = "is pulled up at reset: a relay may be on before the keeper runs"
_AUDIO = "is taken by audio boards and the second SPI bus"

UNSAFE_PINS = {
    0: _EEPROM,
    1: _EEPROM,
    2: "is an I2C line, pulled up hard on the board",
    3: "is an I2C line, pulled up hard; a low there wakes a halted board",
    4: "carries the 1-Wire probes unless told otherwise",
    5: _PULLED_UP,
    6: _PULLED_UP,
    7: _SPI_SELECT,
    8: _SPI_SELECT,
    9: _SPI,
    10: _SPI,
    11: _SPI,
    14: "is the serial console, and goes high during boot",
    15: "is the serial console",
    18: _AUDIO,
    19: _AUDIO,
    20: _AUDIO,
    21: _AUDIO,
}

# An input is not harmed by a pull at reset. All the other jobs forbid one as well: a contact
# to ground shorts what the board drives high.
FOR_OUTPUTS_ONLY = (5, 6)
QUIET_INPUT_PINS = "5, 6, 12, 13, 16, 17 or 22 to 27"

# On every board, 1.8 kiloohms to 3.3 V (Raspberry Pi documentation, GPIO).
_PULLED_UP_ON_BOARD = (2, 3)

# SRD-series relay data sheet: 100 000 operations at the rated load.
_RELAY_OPERATIONS = "100 000"
_KIND_TO_A_RELAY_S = 10.0


def faults(settings: Settings) -> Iterator[Finding]:
    yield from _pins_used_twice(settings)
    yield from _unsafe_pins(settings)
    yield from _pulls(settings)
    yield from _roms_used_twice(settings)


def remarks(settings: Settings) -> Iterator[Finding]:
    yield from _short_times(settings)
    yield from _pretended(settings)


def _pins_used_twice(settings: Settings) -> Iterator[Finding]:
    first: dict[int, _Line] = {}
    for line in _lines(settings):
        owner = first.setdefault(line.pin, line)
        if owner is not line:
            found = f"{line.pin}, which {owner.owner} has"
            leans_on = ((*owner.path, "pin"),)
            yield Finding((*line.path, "pin"), found, "a pin of its own", leans_on=leans_on)


def _unsafe_pins(settings: Settings) -> Iterator[Finding]:
    for line in _lines(settings):
        reason = UNSAFE_PINS.get(line.pin)
        if line.is_input and line.pin in FOR_OUTPUTS_ONLY:
            continue
        if reason is not None and not line.unsafe_pin:
            quiet = QUIET_INPUT_PINS if line.is_input else QUIET_PINS
            hint = f"Pin {line.pin} {reason}. To use it all the same: unsafe_pin: true."
            leans_on = ((*line.path, "unsafe_pin"),)
            path = (*line.path, "pin")
            yield Finding(path, str(line.pin), f"a quiet pin: {quiet}", hint, leans_on)


def _pulls(settings: Settings) -> Iterator[Finding]:
    for name, contact in _inputs(settings):
        if contact.pin in _PULLED_UP_ON_BOARD and contact.pull != "up":
            found = f"{written(contact, 'pull')} on pin {contact.pin}"
            hint = "That pin has a resistor of 1.8 kiloohms to 3.3 V on every board."
            leans_on = (("inputs", name, "pin"),)
            yield Finding(("inputs", name, "pull"), found, "up", hint, leans_on)


def _roms_used_twice(settings: Settings) -> Iterator[Finding]:
    first: dict[str, str] = {}
    for name, probe in settings.probes.items():
        if not isinstance(probe, OnewireProbe):
            continue
        owner = first.setdefault(probe.rom, name)
        if owner != name:
            found = f"{probe.rom}, which {owner} has"
            leans_on = (("probes", owner, "rom"),)
            yield Finding(("probes", name, "rom"), found, "each probe once", leans_on=leans_on)


def _short_times(settings: Settings) -> Iterator[Finding]:
    heaters = derived.heaters(settings)
    for name, output in settings.outputs.items():
        worn = name in heaters and isinstance(output, GpioOutput)
        for key in ("min_on_s", "min_off_s"):
            yield from _short_time(settings, name, output, key, worn)


def _short_time(
    settings: Settings, name: str, output: Output, key: str, worn: bool
) -> Iterator[Finding]:
    time_s: float = getattr(output, key)
    if worn and time_s < _KIND_TO_A_RELAY_S:
        hint = f"A relay lasts about {_RELAY_OPERATIONS} operations at full load; 60 spares it."
        yield Finding(
            ("outputs", name, key), f"{number(time_s)} s is short for a heater", hint=hint
        )
    elif 0 < time_s < settings.poll_s:
        found = f"{written(output, key)} s is shorter than poll_s"
        hint = f"Nothing switches faster than once in {number(settings.poll_s)} s anyway."
        yield Finding(("outputs", name, key), found, hint=hint)


def _pretended(settings: Settings) -> Iterator[Finding]:
    """Where a real thing meets a pretended one, and somebody may not have noticed."""
    if settings.gpio.backend == "mock" and any(_relays(settings)):
        yield Finding(("gpio", "backend"), "mock: no relay is really switched")
    if settings.gpio.backend == "mock" and any(_inputs(settings)):
        yield Finding(("gpio", "backend"), "mock: no contact is really read")
    wired = OnewireProbe | KernelProbe
    real = {name for name, probe in settings.probes.items() if isinstance(probe, wired)}
    for zone_id, zone in settings.zones.items():
        for mode, part in (("heat", zone.heat), ("cool", zone.cool)):
            output = settings.outputs.get(part.output) if part is not None else None
            if output is not None and output.kind == "modelled" and real & set(zone.probes):
                found = "a modelled output, though the zone has real probes"
                yield Finding(
                    ("zones", zone_id, mode, "output"), found, hint="Nothing is switched."
                )


class _Line(NamedTuple):
    """A line of the board that the settings give a job."""

    path: Path
    owner: str
    pin: int
    unsafe_pin: bool
    is_input: bool = False


def _lines(settings: Settings) -> Iterator[_Line]:
    for name, output in _relays(settings):
        yield _Line(("outputs", name), name, output.pin, output.unsafe_pin)
    if settings.enable is not None:
        yield _Line(("enable",), "enable", settings.enable.pin, settings.enable.unsafe_pin)
    for name, contact in _inputs(settings):
        yield _Line(("inputs", name), name, contact.pin, contact.unsafe_pin, is_input=True)


def _inputs(settings: Settings) -> list[tuple[str, GpioInput]]:
    return [
        (name, contact)
        for name, contact in settings.inputs.items()
        if isinstance(contact, GpioInput)
    ]


def _relays(settings: Settings) -> list[tuple[str, GpioOutput]]:
    return [
        (name, output)
        for name, output in settings.outputs.items()
        if isinstance(output, GpioOutput)
    ]
