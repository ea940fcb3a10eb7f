"""Contacts: what each is about is there, and what a broken wire would make it say.

Lives here: rules for `inputs:`. Does not live here: their pins (wiring.py), and whether a
name exists at all (names.py).
"""

from collections.abc import Iterator

from greenkeeper.pins import Level
from greenkeeper.settings import derived
from greenkeeper.settings.checks.finding import Finding, is_written, written
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.switches import GpioInput

# Without `of` these could be held against nothing.
_NEED_A_HEATER = ("contactor-closed", "heater-current")

# What a contact must not say by itself when its wire breaks: the harmless. Current that
# flows and current that does not are both news, at different times.
_HARMLESS = {
    "door-open": (False, "the door is shut"),
    "mains-present": (True, "mains are there"),
    "contactor-closed": (False, "the contactor is open"),
}


def faults(settings: Settings) -> Iterator[Finding]:
    heaters = derived.heaters(settings)
    heat = tuple(
        ("zones", zone_id, "heat", "output")
        for zone_id, zone in settings.zones.items()
        if zone.heat is not None
    )
    for name, contact in settings.inputs.items():
        path = ("inputs", name, "of")
        leans_on = (("inputs", name, "tells"), *heat)
        if contact.of is None and contact.tells in _NEED_A_HEATER:
            yield Finding(
                path, f"nothing, for {contact.tells}", "an output that heats", "", leans_on
            )
        elif contact.tells != "door-open" and contact.of in set(settings.outputs) - {*heaters}:
            found = f"{contact.of}, which heats no zone"
            yield Finding(path, found, "an output that heats", "", leans_on)


def remarks(settings: Settings) -> Iterator[Finding]:
    for name, contact in settings.inputs.items():
        if contact.tells == "door-open" and is_written(contact, "settle_s"):
            found = f"{written(contact, 'settle_s')} counts for nothing with a door"
            yield Finding(("inputs", name, "settle_s"), found)
        if isinstance(contact, GpioInput):
            yield from _broken_wire(name, contact)
            yield from _no_resistor(settings, name, contact)


def _broken_wire(name: str, contact: GpioInput) -> Iterator[Finding]:
    if contact.pull == "none" or contact.tells not in _HARMLESS:
        return
    harmless, words = _HARMLESS[contact.tells]
    if ((contact.pull == "up") is (contact.active is Level.HIGH)) is harmless:
        found = f"{contact.active} with pull: {contact.pull}: a broken wire would say that {words}"
        hint = "Safer the other way about: hardware-notes/wiring.md, section 10."
        yield Finding(("inputs", name, "active"), found, hint=hint)


def _no_resistor(settings: Settings, name: str, contact: GpioInput) -> Iterator[Finding]:
    if contact.pull != "none" and settings.gpio.chip != "auto":
        found = f"{contact.pull}, but {settings.gpio.chip} may have no resistors of its own"
        hint = "The kernel does not tell. Fit one, of 10 kiloohms, and write pull: none."
        yield Finding(("inputs", name, "pull"), found, hint=hint)
