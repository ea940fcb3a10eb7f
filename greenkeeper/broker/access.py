"""What opens the broker's door: password and certificates, read from files.

Lives here: finding and reading them, anew for every connection, so that a corrected
file cures a refusal without a restart. Does not live here: using them (link.py).
A password never enters a message, a log line or an exception's arguments.
"""

import ssl
import stat
from pathlib import Path

from greenkeeper import credentials
from greenkeeper.errors import GreenkeeperError
from greenkeeper.settings.schema import Broker, Tls

LARGEST_PASSWORD = 65_535  # bytes: MQTT 5.0, 3.1.3.6


class AccessError(GreenkeeperError):
    """The owner's own files do not let this keeper sign in; says which file and why."""


def password(broker: Broker) -> str | None:
    """The password, without the line end an editor leaves. None: the settings name none.

    Raises AccessError.
    """
    if broker.password_file is None:
        return None
    if broker.username is None:
        raise AccessError("there is a password_file, but no username to go with it")
    path = _secret_path("password_file", broker.password_file)
    # Undecodable bytes become surrogates, which are not printable: the exception of a
    # strict decode() would carry the password.
    found = _read(path).decode("utf-8", errors="surrogateescape").rstrip("\r\n")
    if not found:
        raise AccessError(f"password file {path} is empty")
    if not found.isprintable() or len(found.encode()) > LARGEST_PASSWORD:
        raise AccessError(f"password file {path} holds something else than one line of text")
    return found


def tls_context(tls: Tls | None) -> ssl.SSLContext | None:
    """Certificate and name are checked, whatever happens. None: no encryption wanted.

    Raises AccessError.
    """
    if tls is None:
        return None
    try:
        context = ssl.create_default_context(cafile=tls.ca_file)
    except ssl.SSLError as error:
        raise AccessError(f"ca_file {tls.ca_file} holds no PEM certificate") from error
    except OSError as error:
        raise AccessError(f"ca_file {tls.ca_file}: {_reason(error)}") from error
    # Some distributions' Python would go lower (RFC 8996 retired what is below).
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    if tls.cert_file is not None and tls.key_file is not None:
        _present(context, tls.cert_file, _secret_path("key_file", tls.key_file))
    return context


def _present(context: ssl.SSLContext, cert_file: str, key: Path) -> None:
    """Show our own certificate to whoever asks for one."""
    for file in (Path(cert_file), key):
        try:
            file.open("rb").close()
        except OSError as error:
            raise AccessError(f"{file}: {_reason(error)}") from error
    try:
        # With no password at hand OpenSSL would ask the terminal for one, and wait.
        context.load_cert_chain(cert_file, key, password=lambda: b"none")
    except (ssl.SSLError, ValueError) as error:
        raise AccessError(
            f"cert_file {cert_file} and key_file {key} are no PEM certificate and its key "
            "without a password"
        ) from error


def _secret_path(key: str, name: str) -> Path:
    try:
        return credentials.locate(name)
    except credentials.CredentialError as error:
        raise AccessError(f"{key} {error}") from error


def _read(path: Path) -> bytes:
    try:
        # A pipe put there by mistake would hold the connection up for ever.
        if not stat.S_ISREG(path.stat().st_mode):
            raise AccessError(f"password file {path} is not a plain file")
        with path.open("rb") as file:
            return file.read(LARGEST_PASSWORD + 3)
    except OSError as error:
        raise AccessError(f"password file {path}: {_reason(error)}") from error


def _reason(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()
