"""Where a secret lies: at an absolute path, or among systemd's credentials by its name.

Lives here: the one rule for passwords, keys and secret addresses, which stand in files of
their own. Does not live here: reading them; whoever does knows what they may hold, and
that no message may show it.
"""

import os
from pathlib import Path

from greenkeeper.errors import GreenkeeperError

VARIABLE = "CREDENTIALS_DIRECTORY"  # systemd.exec(5), LoadCredential=
# Where systemd itself looks for what LoadCredential= names: systemd.exec(5). A command run
# by hand has no credentials, but root may read these.
STORES = (Path("/etc/credstore"), Path("/run/credstore"), Path("/usr/lib/credstore"))


class CredentialError(GreenkeeperError):
    """There is no file of that name for this process."""


def locate(name: str) -> Path:
    """The file that a setting means; whether it is there shows when it is read.

    Raises CredentialError for a credential's name in a process that has none.
    """
    path = Path(name)
    if path.is_absolute():
        return path
    folder = os.environ.get(VARIABLE)
    if folder is not None:
        return Path(folder) / path
    for store in STORES:
        if os.access(store / path, os.R_OK):
            return store / path
    raise CredentialError(
        f"{name!r} names a systemd credential, but this process has none: give the unit "
        f"LoadCredential={name}, put the file into {STORES[0]}, or write an absolute path"
    )
