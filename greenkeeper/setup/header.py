"""A relay's pin as a person names it: understood, or refused with what is to be had. Pure.

Lives here: the two ways of counting pins, which are easily taken for one another. Which
pins suit a relay is settings/checks/wiring.py's to say.
"""

from collections.abc import Collection

from greenkeeper.settings.checks.wiring import QUIET_PINS, UNSAFE_PINS

HIGHEST_PIN = 27

# The 40-pin header of every board since 2014: its pin for each BCM number (Raspberry Pi
# documentation, GPIO and the 40-pin header).
PIN_OF_HEADER = {
    **{2: 3, 3: 5, 4: 7, 14: 8, 15: 10, 17: 11, 18: 12, 27: 13, 22: 15, 23: 16, 24: 18},
    **{10: 19, 9: 21, 25: 22, 11: 23, 8: 24, 7: 26, 0: 27, 1: 28, 5: 29, 6: 31, 12: 32},
    **{13: 33, 19: 35, 16: 36, 26: 37, 20: 38, 21: 40},
}


def relay_pin(text: str, taken: Collection[int]) -> int:
    """The BCM number in this text. Raises ValueError with words for the person."""
    if not text.isdecimal() or int(text) > HIGHEST_PIN:
        raise ValueError(f"the BCM number, {QUIET_PINS}; hardware-notes/wiring.md has the list")
    pin = int(text)
    if pin in taken:
        raise ValueError(f"GPIO{pin} is another relay's")
    if pin in UNSAFE_PINS:
        raise ValueError(f"GPIO{pin} {UNSAFE_PINS[pin]}. Take {QUIET_PINS}.{_perhaps(pin)}")
    return pin


def _perhaps(number: int) -> str:
    """What a number means to somebody who counted the header's pins."""
    meant = next((bcm for bcm, pin in PIN_OF_HEADER.items() if pin == number), None)
    return "" if meant is None else f" (Pin {number} of the header is GPIO{meant}.)"
