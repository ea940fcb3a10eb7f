"""How one value is written as a Homie 5 payload, and how a commanded one is read.

Lives here: the encodings of numbers, truth, time and text. Does not live here: which
value goes where (keeper.py). A value that is absent is None here and a deleted topic
on the broker: never a number, never an empty text.
Source: Homie convention 5.0.0, "Payloads".
"""

import math
import re
import unicodedata
from collections.abc import Collection
from datetime import UTC, datetime

from greenkeeper.model import Now

ABSENT = ""  # a zero-length payload deletes the retained topic
EMPTY_TEXT = "\0"  # how the convention writes a text without characters
LONGEST_TEXT = 1000  # characters; a reason or an alert is a sentence, not a book


def decimal(value: float | None, places: int = 2) -> str | None:
    """Fixed decimals: Python's own "1e+20" has a plus sign that the convention forbids."""
    if value is None or not math.isfinite(value):
        return None
    written = f"{value:.{places}f}"
    return written.removeprefix("-") if float(written) == 0.0 else written


def bound(value: float) -> str:
    """A number inside a format: no more decimals than it has, of two."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def integer(value: int) -> str:
    return str(value)


def boolean(value: bool) -> str:
    return "true" if value else "false"


def member(value: str, allowed: Collection[str]) -> str | None:
    """One of an enum's words, to the letter; None for any other."""
    return value if value in allowed else None


def instant(utc_s: float) -> str | None:
    """POSIX seconds as ISO 8601 with its offset; None beyond what a calendar holds."""
    try:
        return datetime.fromtimestamp(math.floor(utc_s), UTC).isoformat()
    except (ValueError, OverflowError, OSError):
        return None


def civil(now: Now, mono_s: float) -> str | None:
    """A moment of the monotonic clock as a date; None while the civil clock is unset,
    because a wrong date is worse than no date."""
    if not now.clock_trusted:
        return None
    return instant(now.utc_s - (now.mono_s - mono_s))


def duration(seconds: float) -> str:
    """ISO 8601 in hours, minutes and whole seconds: the convention has no days."""
    whole = max(0, math.floor(seconds))
    parts = ((whole // 3600, "H"), (whole // 60 % 60, "M"), (whole % 60, "S"))
    return "PT" + ("".join(f"{count}{letter}" for count, letter in parts if count) or "0S")


def text(value: str) -> str:
    """One line that every broker takes, cut at LONGEST_TEXT characters.

    Control characters, lone surrogates and non-characters may be refused (MQTT 5.0,
    1.5.4), and a refused message would come back at every connection.
    """
    clean = "".join(_acceptable(character) for character in value[:LONGEST_TEXT])
    return clean.lstrip("\N{ZERO WIDTH NO-BREAK SPACE}") or EMPTY_TEXT


_FLOAT = re.compile(r"-?([0-9]+\.?[0-9]*|\.[0-9]+)([eE]-?[0-9]+)?")


def number(payload: str) -> float:
    """A commanded float. Raises ValueError for what the convention does not call one."""
    value = float(payload) if _FLOAT.fullmatch(payload) else math.nan
    if not math.isfinite(value):
        raise ValueError(f"{shown(payload)} is no number")
    return value


def word(payload: str, allowed: Collection[str]) -> str:
    """A commanded enum, to the letter. Raises ValueError."""
    if payload not in allowed:
        raise ValueError(f"{shown(payload)} is none of {', '.join(allowed)}")
    return payload


def shown(payload: str) -> str:
    """What somebody sent, fit for a message to people."""
    return ascii(payload[:40])


def _acceptable(character: str) -> str:
    kind = unicodedata.category(character)
    if kind == "Cc":
        return " "
    code = ord(character)
    refused = kind == "Cs" or code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF
    return "\N{REPLACEMENT CHARACTER}" if refused else character
