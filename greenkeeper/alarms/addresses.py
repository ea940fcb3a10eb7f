"""Where a secret address lies, and reading it.

Lives here: the files that hold who is written to and what is called as a heartbeat.
Whoever has such an address can write in the house's name, so it stands in a file of its
own, and no message, log line or exception of this room ever holds one: an address is
called by its number and its kind. Does not live here: using them.
"""

import re
import stat
from pathlib import Path
from typing import NamedTuple

from greenkeeper import credentials
from greenkeeper.errors import GreenkeeperError

MOST_BYTES = 64 * 1024
MOST_ADDRESSES = 20

_KIND = re.compile(r"([A-Za-z][A-Za-z0-9+.-]{0,19})://\S")


class AddressError(GreenkeeperError):
    """The file does not give an address; says which file and why, never what is in it."""


class Address(NamedTuple):
    number: int  # from 1, as the file has them
    kind: str  # what stands before ://
    secret: str

    def __repr__(self) -> str:
        return f"Address({self.number}, {self.kind})"


def addresses(file: str) -> tuple[Address, ...]:
    """One a line; empty lines and those that begin with # are left out.

    Raises AddressError or CredentialError.
    """
    path = credentials.locate(file)
    lines = [line.strip() for line in _text(path).splitlines()]
    found = [line for line in lines if line and not line.startswith("#")]
    if not found:
        raise AddressError(f"{path} holds no address")
    if len(found) > MOST_ADDRESSES:
        raise AddressError(f"{path} holds {len(found)} addresses, {MOST_ADDRESSES} is the most")
    made = []
    for number, line in enumerate(found, 1):
        kind = _KIND.match(line)
        if kind is None:
            raise AddressError(
                f"address {number} in {path} does not begin like one: a kind, then ://"
            )
        made.append(Address(number, kind[1].lower(), line))
    return tuple(made)


def _text(path: Path) -> str:
    try:
        # A pipe put there by mistake would hold its reader up for ever.
        if not stat.S_ISREG(path.stat().st_mode):
            raise AddressError(f"{path} is not a plain file")
        with path.open("rb") as file:
            found = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise AddressError(f"{path}: {(error.strerror or type(error).__name__).lower()}") from error
    if len(found) > MOST_BYTES:
        raise AddressError(f"{path} is larger than {MOST_BYTES // 1024} KiB")
    # Undecodable bytes become surrogates: the exception of a strict decode() would carry them.
    return found.decode("utf-8", errors="surrogateescape")
